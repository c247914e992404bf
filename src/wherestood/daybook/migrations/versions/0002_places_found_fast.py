"""Index where fixes lie, and let a plate name its panorama."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "2"
down_revision = "1"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the change."""
    op.add_column("plates", sa.Column("panorama", sa.String(), nullable=True))
    # Rows of fixes are long; what a map asks for is read from the index alone.
    op.create_index(
        op.f("ix_fixes_place"),
        "fixes",
        ["plate_id", "removed", "made", "lat_deg", "lon_deg"],
    )
    op.create_index(op.f("ix_words_table_name"), "words", ["table_name"])
