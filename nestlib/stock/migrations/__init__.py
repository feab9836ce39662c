"""Steps from an empty database to the tables of `nestlib.stock.tables`, run by Alembic."""
