"""Charts by the chart library: the plan as lanes over time, and the owner's waterfall. Equal rows give equal bytes."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Any, Literal

from kilnpack.sheets.plan_rows import Doing
from kilnpack.sheets.ranges import shared_range, told

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from kilnpack.sheets.owner_values import CostStep
    from kilnpack.sheets.plan_rows import Bar, DueMark

INK = "#1a1a1a"
LEAST_LABEL_SHARE = 0.022
"""Bars narrower than this share of the chart carry no words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Paint:
    """Colour and hatch of one kind of bar: never the colour alone."""

    colour: str
    hatch: str
    tall: float


PAINTS = {
    Doing.LOAD: _Paint(colour="#BBE1F6", hatch="////", tall=0.5),
    Doing.FIRE: _Paint(colour="#EEBF99", hatch="", tall=0.8),
    Doing.COOL: _Paint(colour="#E8E8E8", hatch="---", tall=0.5),
    Doing.COOL_OUTSIDE: _Paint(colour="#FFFFFF", hatch="..", tall=0.5),
    Doing.UNLOAD: _Paint(colour="#99D8C7", hatch="\\\\\\\\", tall=0.5),
}


def gantt(
    bars: Sequence[Bar],
    marks: Sequence[DueMark] = (),
    *,
    title: str,
    form: Literal["svg", "png", "pdf"] = "svg",
) -> bytes:
    """Return the lanes of a plan as a chart, lanes from the top in the order they first come.

    Parameters
    ----------
    marks
        Due dates, drawn as a triangle on their lane; filled where the line is late.
    """
    lanes = list(dict.fromkeys([bar.lane for bar in bars] + [mark.lane for mark in marks]))
    figure, axes = canvas(11.0, 1.6 + 0.42 * max(len(lanes), 1))
    if bars:
        _time_axis(axes, bars, marks)
    rows = {lane: row for row, lane in enumerate(lanes)}
    for doing in Doing:
        _draw_bars(axes, [bar for bar in bars if bar.doing is doing], PAINTS[doing], rows)
    for mark in marks:
        face = INK if mark.late else "white"
        axes.plot([_number(mark.due)], [rows[mark.lane]], marker="v", color=INK, markerfacecolor=face, markersize=7)
    axes.set_yticks(range(len(lanes)), lanes)
    axes.set_ylim(max(len(lanes), 1) - 0.4, -0.6)
    axes.set_title(title, loc="left", fontsize=12, fontweight="bold")
    _legend(axes, bars, marks)
    return saved(figure, form)


def canvas(wide_inch: float, tall_inch: float) -> tuple[Figure, Axes]:
    """Return an empty chart of a size, without the frame's upper and right line."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(wide_inch, tall_inch), layout="constrained")
    axes = figure.add_subplot()
    axes.spines[["top", "right"]].set_visible(False)
    return figure, axes


def _number(moment: Any) -> float:
    """Days as the chart library counts them, on the clock of the moment's own time zone."""
    from matplotlib.dates import date2num

    return float(date2num(moment.replace(tzinfo=None)))  # type: ignore[no-untyped-call]


def _time_axis(axes: Axes, bars: Sequence[Bar], marks: Sequence[DueMark]) -> None:
    from matplotlib.dates import AutoDateLocator, ConciseDateFormatter

    moments = [_number(bar.start) for bar in bars] + [_number(bar.end) for bar in bars]
    moments += [_number(mark.due) for mark in marks]
    margin = 0.01 * (max(moments) - min(moments)) + timedelta(hours=1) / timedelta(days=1)
    axes.set_xlim(min(moments) - margin, max(moments) + margin)
    locator = AutoDateLocator(minticks=4, maxticks=14)  # type: ignore[no-untyped-call]
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(ConciseDateFormatter(locator))  # type: ignore[no-untyped-call]
    axes.grid(visible=True, axis="x", color="#cccccc", linewidth=0.6)
    axes.set_axisbelow(True)


def _draw_bars(axes: Axes, bars: Sequence[Bar], paint: _Paint, rows: Mapping[str, int]) -> None:
    starts, ends = [_number(bar.start) for bar in bars], [_number(bar.end) for bar in bars]
    axes.barh(
        [rows[bar.lane] for bar in bars],
        [end - start for start, end in zip(starts, ends, strict=True)],
        left=starts,
        height=paint.tall,
        color=paint.colour,
        hatch=paint.hatch,
        edgecolor=INK,
        linewidth=0.7,
    )
    low, high = axes.get_xlim()
    for bar, start, end in zip(bars, starts, ends, strict=True):
        if bar.doing is Doing.FIRE and (end - start) / (high - low) >= LEAST_LABEL_SHARE:
            middle = (start + end) / 2
            axes.text(
                middle,
                rows[bar.lane],
                bar.firing,
                ha="center",
                va="center",
                fontsize=8,
                fontweight="bold",
                clip_on=True,
            )


def _legend(axes: Axes, bars: Sequence[Bar], marks: Sequence[DueMark]) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    used = {bar.doing for bar in bars}
    handles: list[Any] = [
        Patch(facecolor=paint.colour, edgecolor=INK, hatch=paint.hatch, label=doing.value)
        for doing, paint in PAINTS.items()
        if doing in used
    ]
    for late, words in ((False, "due"), (True, "due, late")):
        if any(mark.late is late for mark in marks):
            face = INK if late else "white"
            handles.append(Line2D([], [], marker="v", color=INK, markerfacecolor=face, linestyle="", label=words))
    if handles:
        axes.legend(
            handles=handles,
            loc="upper left",
            bbox_to_anchor=(0, -0.12 if len(axes.get_yticks()) > 3 else -0.3),
            ncols=len(handles),
            frameon=False,
            fontsize=9,
        )


def waterfall(
    steps: Sequence[CostStep], *, title: str, currency: str, form: Literal["svg", "png", "pdf"] = "svg"
) -> bytes:
    """Return the steps of a cost as a waterfall that ends in the total."""
    figure, axes = canvas(9.0, 1.2 + 0.45 * (len(steps) + 1))
    total = 0.0
    for k, step in enumerate(steps):
        gives_back = step.money < 0
        axes.barh(
            k,
            step.money,
            left=total,
            height=0.6,
            color="#99D8C7" if gives_back else "#F6D899",
            hatch="\\\\\\\\" if gives_back else "////",
            edgecolor=INK,
            linewidth=0.7,
        )
        _money(axes, k, max(total, total + step.money), told(step.money, step.range_share))
        total += step.money
    axes.barh(len(steps), total, height=0.6, color="#D6D6D6", edgecolor=INK, linewidth=1.2)
    _money(axes, len(steps), max(total, 0.0), told(total, shared_range(steps)))
    axes.set_yticks(range(len(steps) + 1), [*(step.name for step in steps), "in all"])
    axes.set_ylim(len(steps) + 0.6, -0.6)
    axes.margins(x=0.15)
    axes.set_xlabel(currency)
    axes.set_title(title, loc="left", fontsize=12, fontweight="bold")
    return saved(figure, form)


def _money(axes: Axes, row: int, x: float, money: str) -> None:
    axes.annotate(money, (x, row), xytext=(4, 0), textcoords="offset points", va="center", fontsize=9)


def saved(figure: Figure, form: Literal["svg", "png", "pdf"]) -> bytes:
    """Write a chart without date or name of the program, so that equal rows give equal bytes."""
    import matplotlib as mpl

    nothing: dict[str, dict[str, None]] = {
        "svg": {"Date": None, "Creator": None, "Format": None, "Type": None},
        "png": {"Software": None},
        "pdf": {"CreationDate": None, "Creator": None, "Producer": None},
    }
    out = io.BytesIO()
    with mpl.rc_context(
        {"svg.hashsalt": "chart", "svg.fonttype": "none", "font.family": "DejaVu Sans", "text.parse_math": False}
    ):
        figure.savefig(out, format=form, metadata=nothing[form], dpi=150)
    return out.getvalue()


def inline(chart: bytes, prefix: str) -> str:
    """Return a chart's SVG to stand inside a page: no prologue, and names of its own for its parts."""
    text = chart.decode()
    bare = text[text.index("<svg") :]
    return re.sub(r'(\bid="|href="#|url\(#)', rf"\g<1>{prefix}", bare)
