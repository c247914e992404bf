"""Let a restriction say in what words a place may be published."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "3"
down_revision = "2"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the change."""
    op.add_column(
        "restrictions", sa.Column("published_words", sa.String(), nullable=True)
    )
