"""Let a plan say which page it is, and a feature what was traced."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "4"
down_revision = "3"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the change."""
    op.add_column("plans", sa.Column("page", sa.Integer(), nullable=True))
    op.add_column("plans", sa.Column("page_ppi", sa.Float(53), nullable=True))
    op.add_column("plans", sa.Column("width_px", sa.Integer(), nullable=True))
    op.add_column("plans", sa.Column("height_px", sa.Integer(), nullable=True))
    op.add_column("plans", sa.Column("mirrored", sa.Boolean(), nullable=True))
    op.add_column("features", sa.Column("drawn", sa.String(), nullable=True))
    op.add_column("features", sa.Column("traced", sa.JSON(), nullable=True))
