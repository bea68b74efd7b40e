"""Rows of equal bodies: what a loader sets by one ruler line and one step instead of piece by piece."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.sheets.words import clock_hour

if TYPE_CHECKING:
    from collections.abc import Mapping

    from kilnpack.model.loads import Setting
    from kilnpack.sheets.figures import Figure
    from kilnpack.sheets.frames import ShelfView

FAR_WIDTHS = 2.2
"""Two bodies further apart than so many of their widths are no row."""

SAME_MM = 1.0
"""How far off a line or a step a body may stand and still be read with the row."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A body as it stands in a view: axis at (x, y), ruler distances across and deep, clock hour of its handle."""

    place: int
    form: str
    x_mm: float
    y_mm: float
    turn_deg: float
    across_mm: float
    deep_mm: float
    hour: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """Equal bodies on one line, the first one nearest to the side edge; `every_mm` from middle to middle."""

    name: str
    spots: tuple[Spot, ...]
    every_mm: float

    @property
    def places(self) -> tuple[int, ...]:
        """Place numbers from the side edge on."""
        return tuple(spot.place for spot in self.spots)


def spots_of(setting: Setting, view: ShelfView, figures: Mapping[str, Figure]) -> tuple[Spot, ...]:
    """Return every body of a setting as it is seen in a view, in placing order."""
    spots = []
    for standing in setting.standings:
        x, y = view.point(standing.x_mm, standing.y_mm)
        turn_deg = standing.turn_deg + view.square_deg
        spots.append(
            Spot(
                place=standing.place,
                form=standing.form,
                x_mm=x,
                y_mm=y,
                turn_deg=turn_deg,
                across_mm=view.across_mm(x),
                deep_mm=view.deep_mm(y),
                hour=_hour(figures[standing.form], turn_deg),
            )
        )
    return tuple(spots)


def _hour(figure: Figure, turn_deg: float) -> str:
    if figure.points_deg is None:
        return ""
    if figure.two_ended:
        return clock_hour(min(figure.points_deg + turn_deg, figure.points_deg + turn_deg + 180.0, key=_from_noon))
    return clock_hour(figure.points_deg + turn_deg)


def _from_noon(direction_deg: float) -> float:
    """Sort key that prefers the end of a long side between 12 and 6 o'clock, clockwise."""
    return (90.0 - direction_deg) % 360.0


def rows_of(spots: tuple[Spot, ...], figures: Mapping[str, Figure]) -> tuple[tuple[Row, ...], tuple[Spot, ...]]:
    """Return the rows, back to front, and the spots that stand in none, in placing order."""
    rows: list[tuple[Spot, ...]] = []
    for line in _lines(spots):
        rows += [run for run in _equal_steps(line) if _is_row(run, figures)]
    rows.sort(key=lambda run: (-run[0].y_mm, run[0].across_mm))
    in_rows = {spot.place for run in rows for spot in run}
    named = tuple(Row(name=_name(k), spots=run, every_mm=_step(run)) for k, run in enumerate(rows))
    return named, tuple(spot for spot in spots if spot.place not in in_rows)


def _lines(spots: tuple[Spot, ...]) -> list[list[Spot]]:
    """Spots on the same depth, each line from the side edge on."""
    lines: list[list[Spot]] = []
    for spot in sorted(spots, key=lambda each: (each.deep_mm, each.across_mm)):
        if lines and abs(lines[-1][0].deep_mm - spot.deep_mm) <= SAME_MM:
            lines[-1].append(spot)
        else:
            lines.append([spot])
    return [sorted(line, key=lambda each: each.across_mm) for line in lines]


def _equal_steps(line: list[Spot]) -> list[tuple[Spot, ...]]:
    """Split a line wherever the form, the turn or the step changes."""
    runs: list[list[Spot]] = []
    for spot in line:
        run = runs[-1] if runs else []
        if run and _goes_on(run, spot):
            run.append(spot)
        else:
            runs.append([spot])
    return [tuple(run) for run in runs]


def _goes_on(run: list[Spot], spot: Spot) -> bool:
    last = run[-1]
    if (last.form, last.hour) != (spot.form, spot.hour):
        return False
    if len(run) == 1:
        return True
    step = run[1].across_mm - run[0].across_mm
    return abs(spot.across_mm - run[0].across_mm - step * len(run)) <= SAME_MM


def _is_row(run: tuple[Spot, ...], figures: Mapping[str, Figure]) -> bool:
    """Three equal steps are a row; two bodies only where they are seen to belong together."""
    if len(run) != 2:
        return len(run) > 2
    left, front, right, back = figures[run[0].form].rim.bounds
    return _step(run) <= FAR_WIDTHS * max(right - left, back - front)


def _step(run: tuple[Spot, ...]) -> float:
    return (run[-1].across_mm - run[0].across_mm) / (len(run) - 1)


def _name(k: int) -> str:
    """Letters A, B ... Z, AA, AB ..."""
    first, second = divmod(k, 26)
    return (chr(ord("A") + first - 1) if first else "") + chr(ord("A") + second)


def half_foot(figure: Figure) -> str:
    """How much nearer the edge of a foot stands than its middle, in whole mm rounded up.

    A foot that is not round has two figures, along and across its own frame.
    """
    left, front, right, back = figure.foot.bounds
    along, across = math.ceil(max(-left, right)), math.ceil(max(-front, back))
    return str(along) if along == across else f"{along} × {across}"
