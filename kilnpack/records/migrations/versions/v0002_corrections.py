"""Inspections that were corrected, and the form that another kind of piece stands in after a swap."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

MOMENT = sa.String(40)


def upgrade() -> None:
    """Add the columns; rows from before were never corrected."""
    op.add_column("inspections", sa.Column("replaced_at", MOMENT, nullable=True))
    op.add_column("inspections", sa.Column("replaced_by", sa.String(), nullable=True))
    op.add_column("firings", sa.Column("corrected_at", MOMENT, nullable=True))
    op.add_column("ticks", sa.Column("form_instead", sa.String(), nullable=True))
