"""Alembic's entry: runs on the connection it is handed; reads no file and sets up no logging."""

from __future__ import annotations

from alembic import context

from shared.store.tables import METADATA

context.configure(connection=context.config.attributes["connection"], target_metadata=METADATA)
with context.begin_transaction():
    context.run_migrations()
