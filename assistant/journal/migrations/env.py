"""How Alembic reaches the database: through the connection that the shop's store has opened, in its transaction."""

from alembic import context

context.configure(connection=context.config.attributes["connection"])
context.run_migrations()
