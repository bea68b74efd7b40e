"""The curve of lateness against energy: a chart and a table."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from kilnpack.sheets.charts import INK, canvas, saved
from kilnpack.sheets.files import write_bytes
from kilnpack.sheets.tables import csv_bytes

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.model.questions import TradeOff

HEADINGS = (
    "weight_days_per_mwh", "energy_kwh", "weighted_late_days", "open_lines", "firings", "mean_finish_h", "best",
    "policy",
)  # fmt: skip


def trade_off_chart(found: TradeOff, *, form: Literal["svg", "png"] = "svg") -> bytes:
    """Return the plans as marks over energy and late days; full marks on a line are those that no other beats."""
    figure, axes = canvas(8.0, 4.8)
    best = [row for row in found.points if row.best]
    others = [row for row in found.points if not row.best]
    axes.step(
        [row.energy_kwh / 1000.0 for row in best], [row.weighted_late_days for row in best], where="post", color=INK,
        linewidth=1.2,
    )  # fmt: skip
    for rows, face, name in ((best, INK, "no other is better in both"), (others, "white", "another is better")):
        axes.scatter(
            [row.energy_kwh / 1000.0 for row in rows], [row.weighted_late_days for row in rows], s=48, facecolor=face,
            edgecolor=INK, zorder=3, label=name,
        )  # fmt: skip
    for row in found.points:
        axes.annotate(
            f"{row.firings} firings", (row.energy_kwh / 1000.0, row.weighted_late_days), xytext=(6, 6),
            textcoords="offset points", fontsize=8,
        )  # fmt: skip
    axes.set_xlabel("energy of the plan, MWh")
    axes.set_ylabel("weighted late days")
    axes.set_ylim(bottom=min(0.0, *axes.get_ylim()))
    axes.margins(x=0.12, y=0.15)
    axes.set_title(f"{found.works}: lateness against energy", loc="left", fontsize=12, fontweight="bold")
    axes.legend(frameon=False, fontsize=8)
    return saved(figure, form)


def write_trade_off(found: TradeOff, out_dir: Path) -> tuple[Path, Path, Path]:
    """Write the chart as SVG and PNG and the table as CSV.

    Raises
    ------
    SheetNotWritten
        A file cannot be written.
    """
    table = [[getattr(row, heading) for heading in HEADINGS] for row in found.points]
    return (
        write_bytes(out_dir / "trade-off.svg", trade_off_chart(found)),
        write_bytes(out_dir / "trade-off.png", trade_off_chart(found, form="png")),
        write_bytes(out_dir / "trade-off.csv", csv_bytes(HEADINGS, table)),
    )
