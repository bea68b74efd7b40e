"""Heat work: which cone a curve brings down, fitted to published end points.

A cone bends at the end of a dose: N = integral of A exp(-E / R T) dt, down at N = 1. E and A are fitted to each
cone's end points at 15, 60 and 150 K/h; no published kinetic model was found, so this is a fit and no more. Holds are
checked weakly. Cones answer to their maker's own series; another series is loaded as a table.

References
----------
`cone-chart`, `cone-page`, `memory`: end points, `shared/cones.csv`, by row.
`astm-c24`: cones as indicators of heat work.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import exp, log
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.heat.curve import Piece, pieces
from kilnpack.shared_tables import table
from kilnpack.units import SECONDS_PER_HOUR, degc_from_k, k_from_degc

if TYPE_CHECKING:
    from collections.abc import Iterable

    from kilnpack.model.programmes import Programme

GAS_J_MOL_K = 8.314462618
SERIES = "self-supporting"
FITTED_RATES_K_H = (15.0, 60.0, 150.0)
ANSWER_RATE_K_H = 60.0
HOTTEST_ANSWERED = "13"
HOLD_K = 1e-9
NEWTON_ROUNDS = 16
SPREAD_CONES = 6
"""How many cones to either side lend their kinetics to the spread of an answer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EndPoint:
    """Where a cone is down when heated at a steady rate."""

    rate_k_h: float
    degc: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cone:
    """One cone of a series with its fitted kinetics.

    `activation_kj_mol` is E, `log_rate` the logarithm of A in 1/s. `misfit_k` is computed less published end point at
    each rate; `left_out_k` the same for a rate that was left out of the fit.
    """

    name: str
    series: str
    points: tuple[EndPoint, ...]
    activation_kj_mol: float
    log_rate: float
    misfit_k: tuple[float, ...]
    left_out_k: tuple[float, ...]

    @property
    def readable(self) -> bool:
        """Whether no end point of this cone rests on memory."""
        return all(point.source != "memory" for point in self.points)


@dataclass(frozen=True, slots=True, kw_only=True)
class ConeAnswer:
    """What a curve does to the cones of a series.

    `cone` is None above the hottest cone answered for, or below the coolest. A steady 60 K/h up to `low_degc` ...
    `high_degc` does the same work: the spread is that of the kinetics of the nearest cones.
    """

    series: str
    cone: str | None
    low_degc: float
    high_degc: float
    text: str


def _log_integral(x: float) -> float:
    """Return log p(x) of the temperature integral: integral of exp(-E/RT) dT from 0 to T = (E/R) p(E/RT).

    References
    ----------
    Senum and Yang's rational form of fourth degree (from memory; the tests integrate numerically beside it).
    """
    top = x**3 + 18.0 * x**2 + 86.0 * x + 96.0
    bottom = x**4 + 20.0 * x**3 + 120.0 * x**2 + 240.0 * x + 120.0
    return log(top / bottom / x) - x


def dose(parts: Iterable[Piece], activation_kj_mol: float, log_rate: float, *, offset_k: float = 0.0) -> float:
    """Return the dose N of a curve; 1 brings the cone down.

    Parameters
    ----------
    parts
        Straight pieces of the curve.
    activation_kj_mol, log_rate
        Kinetics of the cone.
    offset_k
        How much hotter the place is than the programme.
    """
    over_r_k = activation_kj_mol * 1000.0 / GAS_J_MOL_K
    total = 0.0
    for part in parts:
        low_k, high_k = k_from_degc(part.from_degc + offset_k), k_from_degc(part.to_degc + offset_k)
        seconds = part.hours_h * SECONDS_PER_HOUR
        if abs(high_k - low_k) < HOLD_K:
            total += seconds * exp(log_rate - over_r_k / high_k)
        else:
            hot, cold = (exp(log_rate + _log_integral(over_r_k / at_k)) for at_k in (high_k, low_k))
            total += over_r_k * seconds / (high_k - low_k) * (hot - cold)
    return total


def end_point_degc(activation_kj_mol: float, log_rate: float, rate_k_h: float, *, amount: float = 1.0) -> float:
    """Return the temperature at which a steady rate has given the dose `amount`."""
    over_r_k = activation_kj_mol * 1000.0 / GAS_J_MOL_K
    wanted = log(amount) + log(rate_k_h / SECONDS_PER_HOUR) - log_rate - log(over_r_k)
    x = 60.0
    for _ in range(NEWTON_ROUNDS):
        # log p falls by about 1 + 2/x for each unit of x.
        x = max(1.0, x + (_log_integral(x) - wanted) / (1.0 + 2.0 / x))
    return degc_from_k(over_r_k / x)


def fit(points: tuple[EndPoint, ...]) -> tuple[float, float]:
    """Fit activation energy (kJ/mol) and logarithm of the rate (1/s) to two or more end points.

    Gauss-Newton on the end temperatures, from the slope of the coolest and the hottest point.
    """
    rates = np.array([point.rate_k_h for point in points])
    degc = np.array([point.degc for point in points])
    slope = np.polyfit(1.0 / (degc + 273.15), np.log(rates), 1)[0]
    guess = np.array([max(50.0, -slope * GAS_J_MOL_K / 1000.0), 0.0])
    at_k = k_from_degc(float(degc.mean()))
    x = guess[0] * 1000.0 / GAS_J_MOL_K / at_k
    guess[1] = float(np.log(rates).mean()) - log(SECONDS_PER_HOUR) - log(at_k / x) + x
    for _ in range(60):
        now = _end_points(guess, rates)
        steps = np.array([0.01, 1e-4])
        slopes = np.column_stack(
            [(_end_points(guess + np.eye(2)[i] * steps[i], rates) - now) / steps[i] for i in (0, 1)]
        )
        move = np.linalg.lstsq(slopes, degc - now, rcond=None)[0]
        guess = guess + move
        if np.abs(move).max() < 1e-7:
            break
    return float(guess[0]), float(guess[1])


def _end_points(kinetics: np.ndarray, rates: np.ndarray) -> np.ndarray:
    return np.array([end_point_degc(float(kinetics[0]), float(kinetics[1]), float(rate)) for rate in rates])


def fitted(name: str, series: str, points: tuple[EndPoint, ...]) -> Cone:
    """Return a cone with its kinetics fitted, and how far the fit misses, in sample and leaving a rate out."""
    energy, rate = fit(points)
    misfit = tuple(end_point_degc(energy, rate, point.rate_k_h) - point.degc for point in points)
    left_out = []
    for number, point in enumerate(points):
        others = points[:number] + points[number + 1 :]
        if len(others) >= 2:
            e, a = fit(others)
            left_out.append(end_point_degc(e, a, point.rate_k_h) - point.degc)
    return Cone(
        name=name,
        series=series,
        points=points,
        activation_kj_mol=energy,
        log_rate=rate,
        misfit_k=misfit,
        left_out_k=tuple(left_out),
    )


def cone_series(rows: Iterable[dict[str, str]], series: str) -> tuple[Cone, ...]:
    """Fit all cones of a series that have at least three end points, coolest first.

    Parameters
    ----------
    rows
        Rows with `cone`, `series`, `rate_k_h`, `end_point_degc`, `source`.
    series
        Which series of the rows.
    """
    by_name: dict[str, list[EndPoint]] = {}
    for row in rows:
        if row["series"] == series:
            point = EndPoint(rate_k_h=float(row["rate_k_h"]), degc=float(row["end_point_degc"]), source=row["source"])
            by_name.setdefault(row["cone"], []).append(point)
    cones = [fitted(name, series, tuple(points)) for name, points in by_name.items() if len(points) >= 3]
    return tuple(sorted(cones, key=lambda cone: end_point_degc(cone.activation_kj_mol, cone.log_rate, ANSWER_RATE_K_H)))


@cache
def published_series() -> tuple[Cone, ...]:
    """Return the self-supporting cones of the published table up to the hottest one answered for."""
    cones = cone_series(table("cones"), SERIES)
    last = next(number for number, cone in enumerate(cones) if cone.name == HOTTEST_ANSWERED)
    return cones[: last + 1]


def cone_at(programme: Programme, offset_k: float = 0.0, *, series: tuple[Cone, ...] | None = None) -> ConeAnswer:
    """Return about which cone goes down where a place is hotter or colder than the programme.

    Parameters
    ----------
    programme
        The curve.
    offset_k
        From the kiln's offset map; the answer is as sure as that map.
    series
        Fitted cones, coolest first; None is the published series.
    """
    cones = published_series() if series is None else series
    parts = pieces(programme)
    doses = [dose(parts, cone.activation_kj_mol, cone.log_rate, offset_k=offset_k) for cone in cones]
    last = max((number for number, amount in enumerate(doses) if amount >= 1.0), default=-1)
    near = range(max(0, last - SPREAD_CONES + 1), min(len(cones), max(last, 0) + SPREAD_CONES))
    ends = [
        end_point_degc(cones[i].activation_kj_mol, cones[i].log_rate, ANSWER_RATE_K_H, amount=doses[i]) for i in near
    ]
    name, text = _named(cones, last, min(ends))
    said = f"{text}; the same work as 60 K/h up to {min(ends):.0f} to {max(ends):.0f} degC"
    return ConeAnswer(series=cones[0].series, cone=name, low_degc=min(ends), high_degc=max(ends), text=said)


def _named(cones: tuple[Cone, ...], last: int, low_degc: float) -> tuple[str | None, str]:
    """Return the cone answered for and the words; none beyond either end of the series."""
    series = f"of series {cones[0].series}"
    if last < 0:
        return None, f"below cone {cones[0].name} {series}"
    ends = [end_point_degc(cone.activation_kj_mol, cone.log_rate, ANSWER_RATE_K_H) for cone in cones]
    if last == len(cones) - 1:
        one_step_on = 2.0 * ends[-1] - ends[-2] if len(ends) > 1 else ends[-1]
        if low_degc > one_step_on:
            return None, f"above cone {cones[-1].name} {series}"
    elif abs(ends[last + 1] - low_degc) < abs(ends[last] - low_degc):
        last += 1
    return cones[last].name, f"about cone {cones[last].name} {series}, +-1 cone"
