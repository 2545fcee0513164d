"""Run by the migration library: the steps run on the connection that the book already holds, in its one transaction."""

from alembic import context

context.configure(connection=context.config.attributes["connection"], target_metadata=None, transactional_ddl=True)
context.run_migrations()
