"""Seal the journal's rows in a chain, and let a restriction give a public title.

How rows are sealed is written out here, as `wherestood.daybook.seal` may change.
"""

from __future__ import annotations

import hashlib
import json
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "5"
down_revision = "4"
branch_labels = None
depends_on = None

_SEALED = (
    "uid", "act", "time", "person", "action", "table_name", "item_id", "plate_id",
    "before", "after", "why", "undoes",
)  # fmt: skip
_AT_ONCE = 1000


def upgrade() -> None:
    """Make the change."""
    op.add_column("restrictions", sa.Column("published_title", sa.String()))
    op.add_column("journal", sa.Column("seal", sa.String(64), nullable=True))
    op.add_column("journal", sa.Column("sealed_elsewhere", sa.JSON(), nullable=True))
    _seal_all(op.get_bind())


def _seal_all(connection: sa.Connection) -> None:
    journal = sa.table(
        "journal",
        sa.column("number", sa.Integer),
        sa.column("seal", sa.String),
        *(
            sa.column(name, sa.JSON if name in ("before", "after") else sa.String)
            for name in _SEALED
        ),
    )
    change = (
        sa.update(journal)
        .where(journal.c.number == sa.bindparam("of"))
        .values(seal=sa.bindparam("anew"))
    )
    seal, last = "", 0
    while True:
        chosen = sa.select(journal).where(journal.c.number > last)
        rows = connection.execute(
            chosen.order_by(journal.c.number).limit(_AT_ONCE)
        ).mappings()
        anew: list[dict[str, Any]] = []
        for row in rows:
            said = json.dumps([row[name] for name in _SEALED], ensure_ascii=False)
            text = f"{seal}\n{said}".encode("utf-8", "surrogatepass")
            seal, last = hashlib.sha256(text).hexdigest(), row["number"]
            anew.append({"of": last, "anew": seal})
        if not anew:
            return
        connection.execute(change, anew)
