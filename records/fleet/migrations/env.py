"""What alembic runs around the scripts: the connection, and its transaction, are the caller's."""

from __future__ import annotations

from alembic import context

from records.fleet.migrations import VERSION_TABLE

context.configure(connection=context.config.attributes["connection"], version_table=VERSION_TABLE)
context.run_migrations()
