"""Runs the migrations on the connection the store hands over; see `formcheck.storage.schema_upgrade`."""

from alembic import context

context.configure(connection=context.config.attributes["connection"], render_as_batch=True)
context.run_migrations()
