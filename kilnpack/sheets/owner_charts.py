"""Charts of the owner's page beside the waterfall; equal rows give equal bytes. Never the colour alone."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from kilnpack.sheets import svg
from kilnpack.sheets.charts import INK, canvas, saved

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.heat.fill_curve import FillCurve
    from kilnpack.sheets.owner_values import FiringCost, KilnSplit, PlaceLoss

Form = Literal["svg", "png", "pdf"]

PART_PAINTS = (
    ("#F6D899", ""), ("#EEBF99", "////"), ("#BBE1F6", "\\\\\\\\"), ("#D6D6D6", ""), ("#99D8C7", "...."),
    ("#FFFFFF", "xxxx"), ("#E8C4DC", "----"), ("#FFFFFF", "||||"),
)  # fmt: skip
LEAST_WORD_SHARE = 0.06
MARKS = ("o", "s", "^", "D", "v", "P", "X", "*")
DASHES = ("-", "--", "-.", ":", (0, (5, 1, 1, 1)), (0, (8, 2)), (0, (1, 1)), (0, (3, 3)))
MOST_NAMED = 40


def split_chart(splits: Sequence[KilnSplit], *, form: Form = "svg") -> bytes:
    """Return where the energy of each kiln went, as shares of its own energy with the kWh beside."""
    figure, axes = canvas(9.0, 1.5 + 0.55 * len(splits))
    names = [name for name, _ in splits[0].parts] if splits else []
    for row, split in enumerate(splits):
        total = sum(kwh for _, kwh in split.parts) or 1.0
        left = 0.0
        for (name, kwh), (colour, hatch) in zip(split.parts, PART_PAINTS, strict=False):
            share = 100.0 * kwh / total
            axes.barh(row, share, left=left, height=0.62, color=colour, hatch=hatch, edgecolor=INK, linewidth=0.6,
                      label=name if row == 0 else None)  # fmt: skip
            if share >= 100.0 * LEAST_WORD_SHARE:
                axes.text(left + share / 2.0, row, f"{share:.0f} %", ha="center", va="center", fontsize=8,
                          bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0, "alpha": 0.85})  # fmt: skip
            left += share
    axes.set_yticks(range(len(splits)), [split.kiln for split in splits])
    axes.set_ylim(len(splits) - 0.4, -0.6)
    axes.set_xlim(0.0, 100.0)
    axes.set_xlabel("share of the kiln's energy, %")
    axes.set_title("Where the energy goes", loc="left", fontsize=12, fontweight="bold")
    if names:
        figure.legend(loc="outside lower center", ncols=min(len(names), 8), frameon=False, fontsize=8)
    return saved(figure, form)


def fill_chart(
    firings: Sequence[FiringCost],
    range_share: float | Sequence[float],
    *,
    title: str = "How full the kilns were, and what a kilogram took",
    order: str = "firing, in the order of the plan",
    form: Form = "svg",
) -> bytes:
    """Return fill and energy per kilogram of ware of every firing.

    Parameters
    ----------
    range_share
        How far the energy may be off, of all or one by one: 0 where it was metered.
    order
        Says in which order they stand.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9.0, 4.6), layout="constrained")
    upper, lower = figure.subplots(2, 1, sharex=True)
    ranges = [range_share] * len(firings) if isinstance(range_share, float) else list(range_share)
    kinds = list(dict.fromkeys((row.kiln, row.programme) for row in firings))
    for number, kind in enumerate(kinds):
        at = [k for k, row in enumerate(firings) if (row.kiln, row.programme) == kind]
        colour, hatch = PART_PAINTS[number % len(PART_PAINTS)]
        upper.bar(at, [100.0 * firings[k].fill_share for k in at], color=colour, hatch=hatch, edgecolor=INK,
                  linewidth=0.6, label=" ".join(kind))  # fmt: skip
        told = [k for k in at if firings[k].ware_kg > 0.0]
        per_kg = [firings[k].energy_kwh / firings[k].ware_kg for k in told]
        off = [ranges[k] * one for k, one in zip(told, per_kg, strict=True)]
        lower.errorbar(told, per_kg, yerr=off, fmt=MARKS[number % len(MARKS)],
                       color=INK, markerfacecolor=colour, markersize=5, linewidth=0.7, capsize=2)  # fmt: skip
    upper.axhline(100.0, color=INK, linewidth=0.8, linestyle="--")
    upper.set_ylabel("ware, % of usual")
    lower.set_ylabel("kWh a kg of ware")
    lower.set_yscale("log")
    lower.yaxis.set_major_formatter("{x:g}")
    low, high = lower.get_ylim()
    lower.yaxis.set_minor_formatter("{x:g}" if high < 10.0 * low else "")
    lower.set_xlabel(order)
    if len(firings) <= MOST_NAMED:
        lower.set_xticks(range(len(firings)), [row.firing for row in firings], rotation=90, fontsize=7)
    for axes in (upper, lower):
        axes.spines[["top", "right"]].set_visible(False)
        axes.grid(visible=True, axis="y", color="#cccccc", linewidth=0.5)
        axes.set_axisbelow(True)
    upper.set_title(title, loc="left", fontsize=12, fontweight="bold")
    figure.legend(loc="outside lower center", ncols=min(len(kinds), 5) or 1, frameon=False, fontsize=8)
    return saved(figure, form)


def curve_chart(curves: Sequence[FillCurve], currency: str, *, form: Form = "svg") -> bytes:
    """Return what a kilogram of ware costs in energy against how full the kiln is."""
    figure, axes = canvas(9.0, 3.8)
    for number, curve in enumerate(curves):
        fills = [100.0 * point.fill_share for point in curve.points]
        money = [point.money_per_kg for point in curve.points]
        name = f"{curve.kiln} {curve.programme}"
        axes.plot(fills, money, color=INK, linestyle=DASHES[number % len(DASHES)], marker=MARKS[number % len(MARKS)],
                  markersize=4, markerfacecolor="white", linewidth=1.2, label=name)  # fmt: skip
    axes.axvline(100.0, color="#767676", linewidth=0.8)
    axes.set_xlabel("ware in the kiln, % of usual")
    axes.set_ylabel(f"{currency} a kg of ware")
    axes.set_ylim(bottom=0.0)
    axes.grid(visible=True, axis="y", color="#cccccc", linewidth=0.5)
    axes.set_title("What energy costs against how full the kiln is", loc="left", fontsize=12, fontweight="bold")
    axes.legend(frameon=False, fontsize=9)
    return saved(figure, form)


CELL_W_MM, CELL_H_MM, LABEL_MM = 26.0, 8.0, 14.0
MOST_STROKES = 8
"""Strokes of the hatch where most was lost."""
LEAST_TOLD_PIECES = 20
"""Under so many pieces fired at a place its share is noise and stands in brackets (own proposal)."""


def loss_map(losses: Sequence[PlaceLoss], kiln: str) -> svg.Drawing:
    """Return the losses of a kiln by stack and tier: the darker and closer hatched, the more; the figures say it."""
    rows = [row for row in losses if row.kiln == kiln]
    stacks = sorted({row.stack for row in rows})
    tiers = sorted({row.tier for row in rows}, reverse=True)
    worst = max((_share(row) for row in rows), default=0.0) or 1.0
    drawn = []
    for column, stack in enumerate(stacks):
        x = LABEL_MM + (column + 0.5) * CELL_W_MM
        drawn.append(svg.words(x, 4.0, f"stack {stack}", em=3.2, text_anchor="middle", font_weight="bold"))
    for line, tier in enumerate(tiers):
        y = 6.0 + line * CELL_H_MM
        drawn.append(svg.words(LABEL_MM - 1.5, y + 5.2, f"tier {tier}", em=3.0, text_anchor="end"))
        for column, stack in enumerate(stacks):
            found = next((row for row in rows if (row.stack, row.tier) == (stack, tier)), None)
            drawn.append(_cell(LABEL_MM + column * CELL_W_MM, y, found, worst))
    return svg.Drawing(
        width_mm=LABEL_MM + CELL_W_MM * len(stacks) + 1.0,
        height_mm=8.0 + CELL_H_MM * len(tiers),
        title=f"{kiln}: lost pieces by place, per cent of those fired there, of how many",
        body="".join(drawn),
    )


def _share(row: PlaceLoss) -> float:
    return row.lost_pieces / row.fired_pieces if row.fired_pieces else 0.0


def _cell(x: float, y: float, row: PlaceLoss | None, worst: float) -> str:
    if row is None or not row.fired_pieces:
        return svg.rectangle(x, y, CELL_W_MM, CELL_H_MM, fill="#fff", stroke="#bbb", stroke_width=0.3)
    share = _share(row)
    light = round(255 - 110 * share / worst)
    text = f"{share:.0%} of {row.fired_pieces}"
    told = text if row.fired_pieces >= LEAST_TOLD_PIECES else f"({text})"
    ground = svg.rectangle(
        x, y, CELL_W_MM, CELL_H_MM, fill=f"#{light:02x}{light:02x}{light:02x}", stroke=svg.INK, stroke_width=0.3
    )
    strokes = round(MOST_STROKES * share / worst)
    step = (CELL_W_MM - CELL_H_MM) / max(strokes - 1, 1)
    hatch = "".join(
        svg.line(x + k * step, y + CELL_H_MM, x + k * step + CELL_H_MM, y, stroke_width=0.25) for k in range(strokes)
    )
    return ground + hatch + svg.haloed(x + CELL_W_MM / 2.0, y + CELL_H_MM / 2.0, told, em=3.2)
