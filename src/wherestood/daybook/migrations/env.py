"""Run migrations on the connection that is handed over."""

from __future__ import annotations

from alembic import context

from wherestood.daybook.tables import Base

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=Base.metadata,
    render_as_batch=connection.dialect.name == "sqlite",
    transaction_per_migration=False,
)
with context.begin_transaction():
    context.run_migrations()
