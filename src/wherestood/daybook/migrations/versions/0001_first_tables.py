"""Make the first tables.

What stood in them is written out in a file beside this one, which must stay as it
is: the classes of `wherestood.daybook.tables` go on to change.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "1"
down_revision = None
branch_labels = None
depends_on = None

#: A table's name, then a column a line: its name, its kind, what holds for it.
TABLES = Path(__file__).with_suffix(".txt")

KINDS: dict[str, Callable[[], sa.types.TypeEngine[Any]]] = {
    "json": lambda: sa.JSON(),
    "number": lambda: sa.Float(53),
    "text": lambda: sa.String(),
    "text 16": lambda: sa.String(16),
    "text 32": lambda: sa.String(32),
    "whole": lambda: sa.Integer(),
    "yes/no": lambda: sa.Boolean(),
}


def upgrade() -> None:
    """Make the tables."""
    parts: list[str] = []
    for line in [*TABLES.read_text("utf-8").splitlines(), "end"]:
        if line.startswith("  "):
            parts.append(line)
        elif line:
            if len(parts) > 1:
                _make(parts[0], parts[1:])
            parts = [line]


def _make(table: str, lines: list[str]) -> None:
    things: list[sa.schema.SchemaItem] = []
    indexed: list[str] = []
    for line in lines:
        name, kind, *facts = line.split("  ")[1:]
        if name == "unique":
            columns = kind.split()
            made = op.f(f"uq_{table}_{'_'.join(columns)}")
            things.append(sa.UniqueConstraint(*columns, name=made))
            continue
        things.append(sa.Column(name, KINDS[kind](), nullable=_may_lack(facts)))
        things += _constraints(table, name, facts)
        if "indexed" in facts:
            indexed.append(name)
    op.create_table(table, *things)
    for name in indexed:
        op.create_index(op.f(f"ix_{table}_{name}"), table, [name])


def _may_lack(facts: list[str]) -> bool:
    return not {"required", "primary"} & set(facts)


def _constraints(table: str, name: str, facts: list[str]) -> list[sa.schema.Constraint]:
    made: list[sa.schema.Constraint] = []
    for fact in facts:
        if fact == "primary":
            made.append(sa.PrimaryKeyConstraint(name, name=op.f(f"pk_{table}")))
        elif fact == "unique":
            made.append(sa.UniqueConstraint(name, name=op.f(f"uq_{table}_{name}")))
        elif fact.startswith("-> "):
            there = f"{fact.removeprefix('-> ')}.id"
            named = op.f(f"fk_{table}_{name}")
            made.append(sa.ForeignKeyConstraint([name], [there], name=named))
    return made
