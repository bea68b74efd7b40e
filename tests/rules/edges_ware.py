"""Edges of the rules of ware: gaps, feet and rims, stacks, supports, glazes, heat and what shares a load."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from hypothesis import strategies as st

from kilnpack.model.kilns import OffsetMap, OffsetReading
from kilnpack.model.orders import LotKind
from kilnpack.model.pieces import FootState, Stacking, StackWay
from tests.rules.edges import BIS, DEC, GLO, STAGES, TURNS, Case, Edge, away, bare_works, bench
from tests.rules.small_audit import (
    rewrite,
    small_load,
    small_works,
    with_fills,
    with_settings,
    with_step,
    with_stock,
)

if TYPE_CHECKING:
    from kilnpack.model.loads import Load
    from kilnpack.model.pieces import Stage
    from tests.rules.edges import Build

PAIRS = {("CUP", "CUP"): 80.0, ("SAUCER", "BOWL"): 86.25, ("CUP", "PLATE"): 93.125, ("SAUCER", "SAUCER"): 100.0}
"""Greatest sum of two radii over the heights both have, mm, by hand.

Cups 30 mm at the foot and 40 at 80 mm of height; saucers 30 to 50 over 15 mm; bowls 25 to 70 over 60 mm; plates 35 to
5 mm and 60 at 25 mm. Saucer and bowl at 15 mm: 50 + 25 + 45 / 4. Cup and plate at 25 mm: 30 + 10 x 25 / 80 + 60.
"""


def c1(data: st.DataObject, x: float) -> Case:
    """Two bodies at any angle: 0, 6 or 6 mm by stage, 3 for the hand (C12), 2 where ware grows (C11); W3 by height."""
    stage, (first, second) = data.draw(STAGES), data.draw(st.sampled_from(sorted(PAIRS)))
    placing = data.draw(st.floats(0.0, 6.0), label="placing")
    works = with_settings(bare_works(), placing_mm=placing, overhang_most_mm=40.0)
    grows = stage is DEC
    if data.draw(st.booleans(), label="refire"):
        step = {BIS: 0, GLO: 1, DEC: 2}[stage]
        works = replace(works, lots=rewrite(works.lots, f"{first}{step}", kind=LotKind.REFIRE))
        grows = True
    gap = {BIS: 0.0, GLO: 6.0, DEC: 6.0}[stage] + placing + (2.0 if grows else 0.0)
    turn = data.draw(TURNS)
    half = (PAIRS[first, second] + gap - x) / 2.0
    return works, bench([(first, *away(200, 175, turn, half)), (second, *away(200, 175, turn, -half))], stage)


def c1_soft(data: st.DataObject, x: float) -> Case:
    """In decoration within 50 K of the softest glaze the gap is 12 mm, not 6: peak 800, softening drawn to 850."""
    works = bare_works()
    works = replace(works, glazes=rewrite(works.glazes, "CLEAR", softening_degc=data.draw(st.floats(810.0, 850.0))))
    half = (80.0 + 12.0 + 3.0 + 2.0 - x) / 2.0
    return works, bench([("CUP", 200.0 - half, 175.0), ("CUP", 200.0 + half, 175.0)], DEC)


def c12(data: st.DataObject, x: float) -> Case:
    """Two cups 20 mm apart; the hand that places them needs all that the stage leaves."""
    works = with_settings(bare_works(), placing_mm=14.0 + x)
    turn = data.draw(TURNS)
    return works, bench([("CUP", *away(200, 175, turn, 50.0)), ("CUP", *away(200, 175, turn, -50.0))])


def c11(data: st.DataObject, x: float) -> Case:
    """The same in decoration, where ware grows: 20 mm less 6 and 3."""
    works = with_settings(bare_works(), hot_growth_mm=11.0 + x)
    turn = data.draw(TURNS)
    return works, bench([("CUP", *away(200, 175, turn, 50.0)), ("CUP", *away(200, 175, turn, -50.0))], DEC)


def w1(data: st.DataObject, x: float) -> Case:
    """A form of the size of another stage."""
    stage = data.draw(STAGES)
    load = bench([("CUP", 200.0, 175.0)], stage)
    other = data.draw(st.sampled_from([one for one in (BIS, GLO, DEC) if one is not stage]))
    return bare_works(), with_form_alone(load, stage=other if x > 0 else stage)


def with_form_alone(load: Load, **changes: object) -> Load:
    """Return a load with its cups' form changed, fills as they are."""
    return replace(load, forms=rewrite(load.forms, "CUP", **changes))


def w2(data: st.DataObject, x: float) -> Case:
    """A cup's foot 5 mm inside one of the four edges of the shelf, or a bowl's rim 10 mm over it."""
    code, off = data.draw(st.sampled_from((("CUP", 35.0), ("BOWL", 60.0))))
    along = data.draw(st.floats(0.3, 0.7))
    off -= x
    at = data.draw(
        st.sampled_from(((off, 350 * along), (400 - off, 350 * along), (400 * along, off), (400 * along, 350 - off)))
    )
    return with_settings(bare_works(), ware_wall_electric_mm=0.0), bench([(code, *at)])


def stacked(works_of: str, way: StackWay, pieces: int, stacking: Stacking, spacer: str | None = None) -> Case:
    """Return a biscuit shelf with one stack of a shape, and the works with its way of stacking."""
    works = bare_works()
    works = replace(works, shapes=rewrite(works.shapes, works_of, stackings=(stacking,)))
    load = bench([(works_of, 200.0, 175.0)], BIS)
    load = replace(load, forms=rewrite(load.forms, works_of, way=way, pieces=pieces, spacer=spacer))
    return works, with_fills(load, lambda fill: replace(fill, pieces=pieces))


def w4(data: st.DataObject, x: float) -> Case:
    """Bowls nested n high: so many at most, n - 1 times a bowl's weight on the lowest, 4 mm of play; plates bare."""
    pieces = data.draw(st.integers(3, 6), label="pieces")
    which = data.draw(st.sampled_from(("count", "weight", "play", "bare")))
    most, factor, play, bare = pieces, float(pieces - 1), 4.0, pieces
    if which == "count":
        most -= math.ceil(x / 20)
    elif which == "weight":
        factor -= x / 20
    elif which == "play":
        play -= x / 20
    else:
        bare -= math.ceil(x / 20)
    piled = which == "bare"
    way, code = (StackWay.PILED, "PLATE") if piled else (StackWay.NESTED, "BOWL")
    stacking = Stacking(
        way=way, step_mm=20.0, most_pieces=most, load_limit_factor=factor, loose_mm=play, bare_most_pieces=bare
    )
    return stacked(code, way, pieces, stacking)


def w5(data: st.DataObject, x: float) -> Case:
    """Pieces at one place without a way of stacking, stacks in glost, raw ware in glost, ware not glazed yet."""
    works, load = bare_works(), bench([("BOWL", 200.0, 175.0)])
    if x <= 0:
        return works, load
    which = data.draw(st.sampled_from(("two", "stack", "raw", "unglazed")))
    if which == "raw":
        return works, with_fills(load, lambda fill: replace(fill, lot="BOWL0"))
    if which == "unglazed":
        return replace(works, lots=rewrite(works.lots, "BOWL1", glazed=False)), load
    pieces = data.draw(st.integers(2, 4))
    way = StackWay.NESTED if which == "stack" else None
    load = replace(load, forms=rewrite(load.forms, "BOWL", way=way, pieces=pieces))
    return works, with_fills(load, lambda fill: replace(fill, pieces=pieces))


def w6(data: st.DataObject, x: float) -> Case:
    """A glazed foot on the shelf: peak 1390 or 800 degC, 10 K hotter where it stands, a glaze that softens there."""
    stage = data.draw(st.sampled_from((GLO, DEC)))
    hottest = {GLO: 1400.0, DEC: 810.0}[stage]
    works = with_step(bare_works(), "CUP", 1 if stage is GLO else 2, foot=FootState.GLAZED)
    works = replace(works, glazes=rewrite(works.glazes, "CLEAR", softening_degc=hottest - x))
    return works, bench([("CUP", 200.0, 175.0)], stage)


def on(code: str, support: str, stage: Stage = GLO, pieces: int = 1) -> Load:
    """Return a shelf with one body on a support."""
    load = bench([(code, 200.0, 175.0)], stage)
    load = replace(load, forms=rewrite(load.forms, code, support=support, pieces=pieces))
    return with_fills(load, lambda fill: replace(fill, pieces=pieces))


def w7(data: st.DataObject, x: float) -> Case:
    """A saucer (foot 30, rim 50 mm) on a stilt: points inside the foot, overhang, not above a heat in glost, three."""
    which = data.draw(st.sampled_from(("foot", "overhang", "hard", "points")))
    works, load = bare_works(), on("SAUCER", "STILT", DEC)
    if which == "foot":
        return with_stock(works, "stilts", "STILT", contact_r_mm=30.0 + x), load
    if which == "overhang":
        return with_settings(works, stilt_overhang_mm=30.0 - x), load
    if which == "hard":
        return with_settings(works, hard_porcelain_degc=1390.0 - x), on("SAUCER", "STILT", GLO)
    return with_stock(works, "stilts", "STILT", points=2 if x > 0 else data.draw(st.integers(3, 5))), load


def w8(data: st.DataObject, x: float) -> Case:
    """Saucers 100 mm wide and 15 high in setters: width, pitch, most on each other, and the one that is asked for."""
    which = data.draw(st.sampled_from(("width", "pitch", "count", "named")))
    pieces = data.draw(st.integers(2, 3))
    works, load = bare_works(), on("SAUCER", "SET", GLO, pieces)
    if which == "width":
        return with_stock(works, "setters", "SET", inner_mm=100.0 - x), load
    if which == "pitch":
        return with_stock(works, "setters", "SET", pitch_mm=15.0 - x / 2), load
    if which == "count":
        return with_stock(works, "setters", "SET", most_pieces=pieces - math.ceil(x / 20)), load
    return with_step(works, "SAUCER", 1, supports=("DISC" if x > 0 else "SET",)), load


def w9(data: st.DataObject, x: float) -> Case:
    """A lid alone: never in biscuit and glost, well in decoration."""
    stage = data.draw(st.sampled_from((BIS, GLO))) if x > 0 else DEC
    return bare_works(), bench([("LID", 200.0, 175.0)], stage)


def w10(data: st.DataObject, x: float) -> Case:
    """A runny glaze on a disc as wide as the saucer's foot of 60 mm, or on none."""
    works = bare_works()
    works = replace(works, glazes=rewrite(works.glazes, "CLEAR", runny=True))
    if x > 0 and data.draw(st.booleans()):
        return works, bench([("SAUCER", 200.0, 175.0)])
    return with_stock(works, "catch_discs", "DISC", outer_mm=60.0 - x), on("SAUCER", "DISC")


def w13(data: st.DataObject, x: float) -> Case:
    """A saucer (rim 50 mm) lowered past the rim of a bowl (70 mm) that stands already; before it, it may go under."""
    turn = data.draw(TURNS)
    saucer = ("SAUCER", *away(200, 175, turn, 60.0 - x / 2))
    bowl = ("BOWL", *away(200, 175, turn, -60.0 + x / 2))
    first = data.draw(st.booleans()) and x <= 0
    return with_settings(bare_works(), overhang_most_mm=40.0), bench([saucer, bowl] if first else [bowl, saucer])


def w13_under(data: st.DataObject, x: float) -> Case:
    """The same as far under the rim as the gap allows: 86.25 and 9 mm; the saucer goes in first, or the bowl does."""
    turn, half = data.draw(TURNS), data.draw(st.floats(95.25, 119.9)) / 2.0
    saucer, bowl = ("SAUCER", *away(200, 175, turn, half)), ("BOWL", *away(200, 175, turn, -half))
    return with_settings(bare_works(), overhang_most_mm=40.0), bench([bowl, saucer] if x > 0 else [saucer, bowl])


def z2(data: st.DataObject, x: float) -> Case:
    """A window whose end lies where the place does: by a reading of the kiln (Z1), or 10 K about the peak."""
    works, offset, spread = bare_works(), 0.0, 10.0
    if data.draw(st.booleans(), label="read"):
        offset, spread = data.draw(st.floats(-30.0, 30.0)), 0.0
        reading = OffsetReading(x_mm=data.draw(st.floats(0.0, 1000.0)), y_mm=300.0, z_mm=50.0, offset_k=offset)
        works = replace(works, kilns=(replace(works.kilns[0], offsets=(OffsetMap(stage=GLO, readings=(reading,)),)),))
    ends = ({"low_degc": 1390.0 + offset - spread + x}, {"high_degc": 1390.0 + offset + spread - x})
    end = data.draw(st.sampled_from(ends))
    load = bench([("CUP", data.draw(st.floats(120.0, 280.0)), 175.0)])
    if data.draw(st.booleans(), label="glaze"):
        return replace(works, glazes=rewrite(works.glazes, "CLEAR", **end)), load
    return with_step(works, "CUP", 1, **end), load


def z4(data: st.DataObject, x: float) -> Case:
    """One lot of a load waits for a glost of another atmosphere."""
    code = data.draw(st.sampled_from(("CUP", "MUG", "SAUCER", "BOWL", "PLATE")))
    return (with_step(small_works(), code, 1, programme="RED") if x > 0 else small_works()), small_load()


def z5(data: st.DataObject, x: float) -> Case:
    """Two lots of a load give off what the works keeps apart, in either order, in any stage."""
    stage = data.draw(STAGES)
    step = {BIS: 0, GLO: 1, DEC: 2}[stage]
    one, other = data.draw(st.permutations(("CUP", "MUG", "SAUCER", "BOWL", "PLATE")))[:2]
    a, b = data.draw(st.sampled_from(small_works().settings.excluded_vapours))
    works = with_settings(small_works(), excluded_vapours=((a, b),) if x > 0 else ((a, "another class"),))
    works = with_step(works, one, step, vapours=(a,))
    return with_step(works, other, step, vapours=(b,) if b != "plain" else ()), small_load(stage)


def t9(data: st.DataObject, x: float) -> Case:
    """One lot of a load is a refire where a works fires refires apart; all of them are, or none."""
    codes = ("CUP1", "MUG1", "SAUCER1", "BOWL1", "PLATE1")
    again = data.draw(st.lists(st.sampled_from(codes), min_size=1, max_size=4, unique=True))
    again = again if x > 0 else data.draw(st.sampled_from(([], list(codes))))
    works = with_settings(small_works(), refires_apart=True, hot_growth_mm=0.0)
    rows = tuple(replace(lot, kind=LotKind.REFIRE) if lot.code in again else lot for lot in works.lots)
    return replace(works, lots=rows), small_load()


def stock(kind: str, code: str, stage: Stage) -> Build:
    """Return an edge: a support under one saucer, held so often and no more."""

    def build(_data: st.DataObject, x: float) -> Case:
        return with_stock(bare_works(), kind, code, count_pieces=1 - math.ceil(x / 20)), on("SAUCER", code, stage)

    return build


WARE: dict[str, Edge] = {
    "C1 and W3": Edge(rule="C1", build=c1, most=12.0),
    "C1 near softening": Edge(rule="C1", build=c1_soft, most=12.0),
    "C11": Edge(rule="C1", build=c11, room=11.0),
    "C12": Edge(rule="C1", build=c12, room=14.0),
    "W1": Edge(rule="W1", build=w1),
    "W2": Edge(rule="W2", build=w2),
    "W4": Edge(rule="W4", build=w4, slack=0.01),
    "W5": Edge(rule="W5", build=w5),
    "W6": Edge(rule="W6", build=w6, slack=0.0),
    "W7": Edge(rule="W7", build=w7, room=9.0),
    "W8": Edge(rule="W8", build=w8, slack=0.1),
    "W9": Edge(rule="W9", build=w9),
    "W10": Edge(rule="W10", build=w10, slack=0.1),
    "W7 stock": Edge(rule="W7", build=stock("stilts", "STILT", DEC)),
    "W8 stock": Edge(rule="W8", build=stock("setters", "SET", GLO)),
    "W10 stock": Edge(rule="W10", build=stock("catch_discs", "DISC", GLO)),
    "W13": Edge(rule="W13", build=w13, slack=0.1),
    "W13 under a rim": Edge(rule="W13", build=w13_under),
    "Z1 and Z2": Edge(rule="Z2", build=z2, slack=1e-5),
    "Z4": Edge(rule="Z4", build=z4),
    "Z5": Edge(rule="Z5", build=z5),
    "T9": Edge(rule="T9", build=t9),
}
