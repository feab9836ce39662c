"""What Alembic runs: the steps, on the connection that `nestlib.stock.migrating` gives."""

from alembic import context

from nestlib.stock.tables import metadata

context.configure(connection=context.config.attributes["connection"], target_metadata=metadata)
with context.begin_transaction():
    context.run_migrations()
