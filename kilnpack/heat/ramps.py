"""How fast a programme may go for the slowest body of its ware (rule T4).

In a slab whose faces rise steadily the middle lags behind by r l^2 / (2 a): rate r, half thickness l, diffusivity a
(the long-time answer of the closed form). Allowed differences are works settings; through the inversions of quartz and
cristobalite they are small, because the ware changes size there. A single wall is seldom what limits; a pile is.

References
----------
`carslaw-jaeger`: slab with linearly rising faces.
`memory`: diffusivity of porcelain, raw 3e-7 and fired 7e-7 m2/s; the lower middle is taken.
`common-practice`: inversions at 573 and 226 degC, slow drying up to 120 degC; differences are own proposals.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from kilnpack.heat.curve import pieces
from kilnpack.heat.materials import COLD_DEGC
from kilnpack.model.kilns import CoolingWay
from kilnpack.model.loads import BodyForm
from kilnpack.model.pieces import StackWay, Stage
from kilnpack.units import SECONDS_PER_HOUR, m_from_mm

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from kilnpack.model.kilns import Kiln
    from kilnpack.model.loads import Load
    from kilnpack.model.pieces import Shape
    from kilnpack.model.programmes import Programme
    from kilnpack.model.settings import WorksSettings
    from kilnpack.model.works import Works

DIFFUSIVITY_M2_S = 5e-7
QUARTZ_DEGC, CRISTOBALITE_DEGC = 573.0, 226.0
AROUND_K = 30.0
"""How far from an inversion a body may still be inside while its face is there (own proposal)."""
DRY_DEGC = 120.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SlowBody:
    """The body that takes heat slowest: its half thickness, and in words what it is."""

    half_mm: float
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RampLimit:
    """One stretch of temperature with the fastest rate for the slowest body.

    `programme_k_h` is the fastest rate of the programme (heating) or that the kiln's cooling bands allow (cooling);
    None where nothing is said of it.
    """

    said: str
    low_degc: float
    high_degc: float
    cooling: bool
    limit_k_h: float
    programme_k_h: float | None

    @property
    def kept(self) -> bool | None:
        """Whether the limit is kept; None where nothing is said of the rate."""
        return None if self.programme_k_h is None else self.programme_k_h <= self.limit_k_h * 1.0001


def rate_limit_k_h(half_mm: float, difference_k: float) -> float:
    """Return the rate at which the middle of a slab lags behind its faces by a difference.

    Parameters
    ----------
    half_mm
        Half the thickness of a slab heated from both faces.
    difference_k
        Allowed between middle and face.
    """
    return 2.0 * DIFFUSIVITY_M2_S * difference_k / m_from_mm(half_mm) ** 2 * SECONDS_PER_HOUR


def half_thickness_mm(shape: Shape, form: BodyForm) -> float:
    """Return what stands for half the thickness of a body: of its wall, of nested walls, of a pile.

    Boxed ware is heated from outside alone, so that its whole wall counts. Of a pile half its height counts, or the
    half width of its foot where that is less.
    """
    if form.way is None or form.pieces < 2:
        return shape.wall_mm / 2.0
    if form.way is StackWay.BOXED:
        return shape.wall_mm
    if form.way is StackWay.NESTED:
        return form.pieces * shape.wall_mm / 2.0
    step_mm = max((one.step_mm for one in shape.stackings if one.way is form.way), default=shape.wall_mm)
    return form.pieces * max(step_mm, shape.wall_mm) / 2.0


def slowest_of_load(works: Works, load: Load) -> SlowBody | None:
    """Return the slowest body of a load, None where it is empty."""
    standing = {one.form for setting in load.settings for one in setting.standings}
    return _slowest(works, (form for form in load.forms if form.code in standing))


def slowest_of_programme(works: Works, programme: Programme) -> SlowBody | None:
    """Return the slowest body any product of a programme may make: in biscuit stacked as high as its shape allows."""
    shapes = {
        product.shape for product in works.products if any(step.programme == programme.code for step in product.route)
    }
    return _slowest(works, (form for code in sorted(shapes) for form in _forms(works.shape(code), programme.stage)))


def _forms(shape: Shape, stage: Stage) -> Iterator[BodyForm]:
    yield BodyForm(code=shape.code, shape=shape.code, stage=stage)
    if stage is Stage.BISCUIT:
        for one in shape.stackings:
            yield BodyForm(code=shape.code, shape=shape.code, stage=stage, way=one.way, pieces=one.most_pieces)


def _slowest(works: Works, forms: Iterable[BodyForm]) -> SlowBody | None:
    found = [(half_thickness_mm(works.shape(form.shape), form), form) for form in forms]
    if not found:
        return None
    half_mm, form = max(found, key=lambda row: row[0])
    shape = works.shape(form.shape)
    way = f", {form.way.value} {form.pieces} high" if form.way is not None and form.pieces > 1 else ""
    return SlowBody(half_mm=half_mm, said=f"{shape.name}{way}: wall {shape.wall_mm:g} mm")


def ramp_limits(settings: WorksSettings, kiln: Kiln, programme: Programme, body: SlowBody) -> tuple[RampLimit, ...]:
    """Return every stretch of a programme, heating then cooling, with its limit for the slowest body."""
    slow = rate_limit_k_h(body.half_mm, settings.inversion_difference_k)
    free = rate_limit_k_h(body.half_mm, settings.ramp_difference_k)
    peak = programme.peak_degc
    heating = [
        ("through cristobalite, 226 °C", CRISTOBALITE_DEGC - AROUND_K, CRISTOBALITE_DEGC + AROUND_K, slow),
        ("through quartz, 573 °C", QUARTZ_DEGC - AROUND_K, QUARTZ_DEGC + AROUND_K, slow),
        ("elsewhere", COLD_DEGC, peak, free),
    ]
    if programme.stage is Stage.BISCUIT:
        drying = min(free, settings.drying_ramp_k_h)
        heating.insert(0, (f"drying, up to {DRY_DEGC:.0f} °C", COLD_DEGC, DRY_DEGC, drying))
        heating.pop(1)  # raw ware holds no cristobalite
    cooling = [
        ("through quartz, 573 °C", QUARTZ_DEGC - AROUND_K, QUARTZ_DEGC + AROUND_K, slow),
        ("through cristobalite, 226 °C", CRISTOBALITE_DEGC - AROUND_K, CRISTOBALITE_DEGC + AROUND_K, slow),
    ]
    special = [(low, high) for _, low, high, _ in heating[:-1]]
    return (
        *(
            RampLimit(
                said=said,
                low_degc=low,
                high_degc=high,
                cooling=False,
                limit_k_h=limit,
                programme_k_h=_fastest(programme, low, high, special if said == "elsewhere" else []),
            )
            for said, low, high, limit in heating
            if low < peak
        ),
        *(
            RampLimit(
                said=said,
                low_degc=low,
                high_degc=high,
                cooling=True,
                limit_k_h=limit,
                programme_k_h=fastest_fall_k_h(kiln, low, high),
            )
            for said, low, high, limit in cooling
            if low < peak
        ),
    )


def _fastest(programme: Programme, low: float, high: float, without: list[tuple[float, float]]) -> float | None:
    """Return the fastest rise of a programme within a stretch, parts that lie wholly in other stretches left out."""
    found = []
    for part in pieces(programme):
        bottom, top = max(low, part.from_degc), min(high, part.to_degc)
        inside = any(a <= bottom and top <= b for a, b in without)
        if part.to_degc > part.from_degc and bottom < top and not inside:
            found.append((part.to_degc - part.from_degc) / part.hours_h)
    return max(found, default=None)


def fastest_fall_k_h(kiln: Kiln, low_degc: float, high_degc: float) -> float | None:
    """Return the fastest fall that the kiln's cooling bands allow within a stretch; None where one says nothing."""
    if kiln.cooling.way is CoolingWay.SEALED:
        return None
    bands = sorted(kiln.cooling.bands, key=lambda band: -band.above_degc)
    tops = [float("inf"), *(band.above_degc for band in bands)]
    rates = [
        band.greatest_k_h
        for band, (top, bottom) in zip(bands, pairwise(tops), strict=True)
        if bottom < high_degc and top > low_degc
    ]
    known = [rate for rate in rates if rate is not None]
    return max(known) if known and len(known) == len(rates) else None
