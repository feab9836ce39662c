"""Items may be moved: entries of a new kind say where an item lies from then on.

Steps are never changed once they were published: databases out there have run them.
"""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

_KINDS = (
    "kind in ('received', 'held', 'released', 'used', 'remnant made', 'scrapped', 'counted', "
    "'moved')"
)


def upgrade() -> None:
    """Add the place to entries, and the kind to those that are allowed."""
    place = sa.Column("place", sa.String, comment="of moved: where it lies from then on")
    if op.get_bind().dialect.name == "sqlite":
        # SQLite cannot change a constraint: the table is written anew, its numbers kept.
        words = {"sqlite_autoincrement": True}
        with op.batch_alter_table("entries", recreate="always", table_kwargs=words) as table:
            table.drop_constraint(op.f("ck_entries_kind"), type_="check")
            table.add_column(place)
            table.create_check_constraint(op.f("ck_entries_kind"), _KINDS)
        return
    op.add_column("entries", place)
    op.drop_constraint(op.f("ck_entries_kind"), "entries", type_="check")
    op.create_check_constraint(op.f("ck_entries_kind"), "entries", _KINDS)
