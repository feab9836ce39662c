"""The tables of the rack.

An item is a pile of alike sheets in one place. Its row never changes: how many there are and
where they lie now follows from the entries alone, which are only ever added. A booking is
what one command did, all of its entries or none; its key makes sure that it is done once.
"""

from __future__ import annotations

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
)

#: Names of constraints, so that later steps can name them on every database.
metadata = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "ix": "ix_%(table_name)s_%(column_0_name)s",
    }
)

items = Table(
    "items",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("remnant", Boolean, nullable=False),
    Column("metal", String, nullable=False),
    Column("thickness", Float, nullable=False, comment="mm"),
    Column("width", Float, nullable=False, comment="of the bounding box, mm"),
    Column("height", Float, nullable=False, comment="of the bounding box, mm"),
    Column("area", Float, nullable=False, comment="mm2"),
    Column("usable", Float, nullable=False, comment="area away from the edges, mm2"),
    Column("grain", Float, nullable=False, comment="degrees, 0 along x"),
    Column("place", String, nullable=False),
    Column("price", Float, comment="of one piece"),
    Column("currency", String, nullable=False),
    Column("lot", String, nullable=False, comment="of the supplier"),
    Column("heat", String, nullable=False),
    Column("document", String, nullable=False, comment="type by EN 10204, or empty"),
    Column("since", String, nullable=False, comment="day on which it came, ISO 8601"),
    Column("parent", Integer, ForeignKey("items.id"), comment="what a remnant was cut from"),
    Column("outline", Text, nullable=False, comment="JSON: points and bulges"),
    Column("holes", Text, nullable=False, comment="JSON: list of contours"),
    CheckConstraint("document in ('', '2.1', '2.2', '3.1', '3.2')", name="document"),
    Index(None, "metal", "thickness"),
    sqlite_autoincrement=True,  # a number on a label is never given twice
)

bookings = Table(
    "bookings",
    metadata,
    Column("key", String, primary_key=True),
    Column("at", String, nullable=False, comment="UTC, ISO 8601"),
    Column("note", Text, nullable=False),
)

entries = Table(
    "entries",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("booking", String, ForeignKey("bookings.key"), nullable=False),
    Column("item", Integer, ForeignKey("items.id"), nullable=False),
    Column("kind", String, nullable=False),
    Column("there", Integer, nullable=False, comment="how many more there are, or less"),
    Column("held", Integer, nullable=False, comment="how many more of them are held, or less"),
    Column("hold", String, nullable=False, comment="for what they are held, or empty"),
    Column("place", String, comment="of moved: where it lies from then on"),
    CheckConstraint(
        "kind in ('received', 'held', 'released', 'used', 'remnant made', 'scrapped', 'counted', "
        "'moved')",
        name="kind",
    ),
    Index(None, "item", "hold", "there", "held"),
    Index(None, "hold", "item", "held"),
    Index(None, "booking"),
    sqlite_autoincrement=True,
)

terms = Table(
    "terms",
    metadata,
    Column("name", String, primary_key=True),
    Column("value", Float, nullable=False),
)
