"""Records as the first kilnpack made them: those of today without what later migrations added."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import text

if TYPE_CHECKING:
    from sqlalchemy import Engine

ADDED = {
    "inspections": ("replaced_at", "replaced_by"),
    "firings": ("corrected_at",),
    "ticks": ("form_instead", "packed_over"),
    "order_lines": ("taken_version",),
    "lots": ("taken_version",),
    "shelf_lots": ("taken_version",),
}


def bring_back(engine: Engine) -> None:
    """Bring records to the form of migration 0001, with every row that fits it."""
    with engine.begin() as connection:
        for table, columns in ADDED.items():
            for column in columns:
                connection.execute(text(f"ALTER TABLE {table} DROP COLUMN {column}"))
        connection.execute(text("UPDATE alembic_version SET version_num = '0001'"))
