"""Run by alembic: migrates over the connection that `schema_state.bring_up` has opened."""

from __future__ import annotations

from alembic import context

from kilnpack.records.tables import METADATA

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=METADATA, render_as_batch=True, transactional_ddl=True)
with context.begin_transaction():
    context.run_migrations()
