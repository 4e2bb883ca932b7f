"""Runs migrations on the connection that the program hands over."""

from alembic import context

from graph.store.table import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,
    transactional_ddl=False,
)
context.run_migrations()
