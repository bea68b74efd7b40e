"""What came before what, told by the records' own order and no longer by clocks, which may be set back."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"

FROM_FOLDER = ("order_lines", "lots", "shelf_lots")


def upgrade() -> None:
    """Add the columns; for rows from before, the clock of the records is all there is to tell by."""
    op.add_column("ticks", sa.Column("packed_over", sa.Boolean(), nullable=False, server_default=sa.false()))
    _pack_over()
    for name in FROM_FOLDER:
        op.add_column(name, sa.Column("taken_version", sa.Integer(), nullable=True))
        rows = sa.table(name, sa.column("taken_version"), sa.column("version"), sa.column("changed_at"))
        imported_at = sa.select(sa.table("works", sa.column("imported_at")).c.imported_at).scalar_subquery()
        op.execute(rows.update().where(rows.c.changed_at <= imported_at).values(taken_version=rows.c.version))


def _pack_over() -> None:
    """Mark the notes on tiers that were packed anew after the records heard of them."""
    loads = sa.table(
        "loads", sa.column("firing"), sa.column("kind"), sa.column("changed_at"), sa.column("value", sa.JSON())
    )
    ticks = sa.table(
        "ticks", sa.column("firing"), sa.column("stack"), sa.column("tier"), sa.column("heard_at"),
        sa.column("packed_over"),
    )  # fmt: skip
    connection = op.get_bind()
    chosen = sa.select(loads.c.firing, loads.c.changed_at, loads.c.value).where(loads.c.kind == "planned")
    for firing, changed_at, value in connection.execute(chosen).all():
        for stack, tier in value.get("changed", ()):
            told = (ticks.c.firing == firing, ticks.c.stack == stack, ticks.c.tier == tier)
            connection.execute(
                ticks.update().where(*told, ticks.c.heard_at <= changed_at).values(packed_over=sa.true())
            )
