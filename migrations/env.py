"""Runs migrations on the connection that server.persistence hands over. It opens no database of its own."""

from alembic import context

from server.persistence.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    compare_type=True,
    compare_server_default=True,
    render_as_batch=False,
)
with context.begin_transaction():
    context.run_migrations()
