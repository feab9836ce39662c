"""Items, bookings, entries and terms.

Steps are never changed once they were published: databases out there have run them.
"""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the first tables."""
    op.create_table(
        "items",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("remnant", sa.Boolean, nullable=False),
        sa.Column("metal", sa.String, nullable=False),
        sa.Column("thickness", sa.Float, nullable=False, comment="mm"),
        sa.Column("width", sa.Float, nullable=False, comment="of the bounding box, mm"),
        sa.Column("height", sa.Float, nullable=False, comment="of the bounding box, mm"),
        sa.Column("area", sa.Float, nullable=False, comment="mm2"),
        sa.Column("usable", sa.Float, nullable=False, comment="area away from the edges, mm2"),
        sa.Column("grain", sa.Float, nullable=False, comment="degrees, 0 along x"),
        sa.Column("place", sa.String, nullable=False),
        sa.Column("price", sa.Float, comment="of one piece"),
        sa.Column("currency", sa.String, nullable=False),
        sa.Column("lot", sa.String, nullable=False, comment="of the supplier"),
        sa.Column("heat", sa.String, nullable=False),
        sa.Column("document", sa.String, nullable=False, comment="type by EN 10204, or empty"),
        sa.Column("since", sa.String, nullable=False, comment="day on which it came, ISO 8601"),
        sa.Column("parent", sa.Integer, comment="what a remnant was cut from"),
        sa.Column("outline", sa.Text, nullable=False, comment="JSON: points and bulges"),
        sa.Column("holes", sa.Text, nullable=False, comment="JSON: list of contours"),
        sa.PrimaryKeyConstraint("id", name="pk_items"),
        sa.ForeignKeyConstraint(["parent"], ["items.id"], name="fk_items_parent"),
        sa.CheckConstraint(
            "document in ('', '2.1', '2.2', '3.1', '3.2')", name=op.f("ck_items_document")
        ),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_items_metal", "items", ["metal", "thickness"])
    op.create_table(
        "bookings",
        sa.Column("key", sa.String, nullable=False),
        sa.Column("at", sa.String, nullable=False, comment="UTC, ISO 8601"),
        sa.Column("note", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_bookings"),
    )
    op.create_table(
        "entries",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("booking", sa.String, nullable=False),
        sa.Column("item", sa.Integer, nullable=False),
        sa.Column("kind", sa.String, nullable=False),
        sa.Column("there", sa.Integer, nullable=False, comment="how many more there are, or less"),
        sa.Column(
            "held", sa.Integer, nullable=False, comment="how many more of them are held, or less"
        ),
        sa.Column("hold", sa.String, nullable=False, comment="for what they are held, or empty"),
        sa.PrimaryKeyConstraint("id", name="pk_entries"),
        sa.ForeignKeyConstraint(["booking"], ["bookings.key"], name="fk_entries_booking"),
        sa.ForeignKeyConstraint(["item"], ["items.id"], name="fk_entries_item"),
        sa.CheckConstraint(
            "kind in ('received', 'held', 'released', 'used', 'remnant made', 'scrapped', "
            "'counted')",
            name=op.f("ck_entries_kind"),
        ),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_entries_item", "entries", ["item", "hold", "there", "held"])
    op.create_index("ix_entries_hold", "entries", ["hold", "item", "held"])
    op.create_index("ix_entries_booking", "entries", ["booking"])
    op.create_table(
        "terms",
        sa.Column("name", sa.String, nullable=False),
        sa.Column("value", sa.Float, nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_terms"),
    )


def downgrade() -> None:
    """Nobody goes back: the entries would be lost."""
    raise NotImplementedError("a rack is not made older; restore a backup")
