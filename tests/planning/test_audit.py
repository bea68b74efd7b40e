"""The check of plans catches every kind of fault, and never falls over an edited plan."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

import pytest

from kilnpack.errors import Finding
from kilnpack.model.orders import Lot, Mould, Supply
from kilnpack.model.pieces import Stage
from kilnpack.model.plans import HandWorkKind, Plan
from kilnpack.model.settings import WorksSettings
from kilnpack.planning.plan_audit import audit_plan, works_of
from kilnpack.planning.planner import plan_firings
from kilnpack.search.budget import Budget
from tests.planning.small import Counting, EvenShare, furniture, kiln, line, product, programme, works

if TYPE_CHECKING:
    from collections.abc import Callable

    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works

B, G, D = Stage.BISCUIT, Stage.GLOST, Stage.DECORATION
HOUR = timedelta(hours=1)


def shop() -> Works:
    """A biscuit kiln and a glost kiln with a car, hands that take time, moulds, drying places and glazers."""
    return works(
        settings=replace(WorksSettings(), tier_allowance_mm=2.0),
        kilns=(kiln("KB", "B"), kiln("KG", "G", cars=1, draw_degc=250.0)),
        programmes=(programme("B", B, hours=16.0), programme("G", G, hours=23.0, cool_h=10.0, outside_h=6.0)),
        products=(product("MUG", "B", "G", stages=(B, G), rest_h=24.0, dry_h=24.0, scrap_share=0.05),),
        supply=Supply(
            moulds=(Mould(shape="CUP", moulds_pieces=20, casts_per_day=1.0),), drying_places_pieces=30,
            glazing_pieces_per_hour=20.0,
        ),
        furniture=furniture(12),
        lines=(line("O1", "MUG", 20, 12), line("O2", "MUG", 24, 25), line("O3", "MUG", 3, 20)),
        lots=(Lot(code="L1", product="MUG", step=1, pieces=22, order_line="O1", glazed=False),
              Lot(code="L2", product="MUG", step=2, pieces=3)),
    )  # fmt: skip


def sound_plan() -> Plan:
    """A plan of the shop that nothing is found on."""
    return plan_firings(
        shop(), budget=Budget(effort=1), seed=1, packer=Counting(room_pieces=24), estimate=EvenShare(24)
    )


PLAN = sound_plan()


def with_firing(number: int, **parts: object) -> Plan:
    """The plan with a firing changed."""
    firings = list(PLAN.firings)
    firings[number] = replace(firings[number], **parts)  # type: ignore[arg-type]
    return replace(PLAN, firings=tuple(firings))


def with_part(number: int, **parts: object) -> Plan:
    """The plan with the first part of a firing changed."""
    part = replace(PLAN.firings[number].parts[0], **parts)  # type: ignore[arg-type]
    return with_firing(number, parts=(part, *PLAN.firings[number].parts[1:]))


def with_load(number: int, change: Callable[[Load], Load]) -> Plan:
    """The plan with the load of a firing changed."""
    return with_firing(number, load=change(PLAN.firings[number].load))


def with_outcome(number: int, **parts: object) -> Plan:
    """The plan with an outcome changed."""
    rows = list(PLAN.outcomes)
    rows[number] = replace(rows[number], **parts)  # type: ignore[arg-type]
    return replace(PLAN, outcomes=tuple(rows))


def with_work(kind: HandWorkKind, **parts: object) -> Plan:
    """The plan with the first hand work of a kind changed."""
    rows = list(PLAN.hand_work)
    number = next(k for k, row in enumerate(rows) if row.kind is kind)
    rows[number] = replace(rows[number], **parts)  # type: ignore[arg-type]
    return replace(PLAN, hand_work=tuple(rows))


def of(kiln_code: str) -> int:
    """Number of the first firing of a kiln."""
    return next(k for k, firing in enumerate(PLAN.firings) if firing.kiln == kiln_code)


GLOST, BISCUIT = of("KG"), of("KB")
G1, B1 = PLAN.firings[GLOST], PLAN.firings[BISCUIT]
SECOND = next(k for k, firing in enumerate(PLAN.firings) if firing.kiln == "KG" and k != GLOST)
EARLY = PLAN.made - 2 * HOUR
CAST, GLAZE = HandWorkKind.CAST, HandWorkKind.GLAZE

BREAKS: dict[str, tuple[Plan, str]] = {
    "another works": (replace(PLAN, works="Other"), "works"),
    "code twice": (with_firing(GLOST, code=PLAN.firings[1 - GLOST].code), "code"),
    "unknown kiln": (with_firing(GLOST, kiln="KX"), "kiln"),
    "programme of another kiln": (with_firing(GLOST, programme="B"), "programme"),
    "unknown car": (with_firing(GLOST, car="KG-9"), "car"),
    "load of another kiln": (with_load(GLOST, lambda load: replace(load, kiln="KB")), "load"),
    "unknown product": (with_part(GLOST, product="POT"), "POT"),
    "no such firing of the route": (with_part(GLOST, step=7), "MUG"),
    "fill from an unknown lot": (with_firing(GLOST, lots=()), "fill"),
    "unknown setting": (with_load(GLOST, lambda load: replace(load, settings=())), "setting"),
    "unknown form": (with_load(GLOST, lambda load: replace(load, forms=())), "form"),
    "unknown product cast": (with_work(CAST, product="POT"), "cast"),
    "outcome missing": (replace(PLAN, outcomes=PLAN.outcomes[1:]), "line O1"),
    "outcome twice": (replace(PLAN, outcomes=(*PLAN.outcomes, PLAN.outcomes[0])), "outcomes"),
    "before the plan": (with_firing(GLOST, load_start=EARLY), "load_start"),
    "lit before loaded": (with_firing(GLOST, fire_start=G1.load_end - 3 * HOUR), "fire_start"),
    "fire too short": (with_firing(GLOST, fire_end=G1.fire_end - HOUR), "fire"),
    "drawn too soon": (with_firing(GLOST, cool_end=G1.cool_end - HOUR), "cooling in the kiln"),
    "unloaded too soon": (with_firing(GLOST, cool_outside_end=G1.cool_outside_end - HOUR), "cooling outside"),
    "loading too quick": (with_firing(GLOST, load_end=G1.load_start), "loading"),
    "not cleaned": (with_firing(GLOST, furniture_back=G1.cleaning_start), "cleaning"),
    "kiln twice": (with_firing(SECOND, fire_start=G1.fire_start, load_start=G1.load_start), "kiln KG"),
    "car twice": (with_firing(SECOND, load_start=G1.load_start), "car KG-1"),
    "no car": (with_firing(GLOST, car=None, load=replace(G1.load, car=None)), "car"),
    "more moved than loaded": (with_part(GLOST, pieces=99, scrap_pieces=99 - G1.parts[0].good_pieces), "L1"),
    "nothing lost": (with_part(GLOST, good_pieces=G1.parts[0].pieces, scrap_pieces=0, second_pieces=0), "L1"),
    "does not add up": (with_part(GLOST, scrap_pieces=G1.parts[0].scrap_pieces + 1), "L1"),
    "wrong step": (with_part(GLOST, step=0), "L1"),
    "not rested": (with_part(BISCUIT, ready_at=B1.unload_end), "rest"),
    "not ready": (with_part(GLOST, was_ready_at=G1.load_start + HOUR), "ready"),
    "cast in the past": (with_work(CAST, start=EARLY), "cast"),
    "cast of nothing": (with_work(CAST, pieces=0), "cast"),
    "moulds overrun": (with_work(CAST, pieces=29), "casts of CUP"),
    "drying places overrun": (with_work(CAST, pieces=200), "cast"),
    "glazed too fast": (with_work(GLAZE, pieces=900), "glazing"),
    "glazed before it was there": (with_work(GLAZE, pieces=23), "glazing"),
    "not glazed": (replace(PLAN, hand_work=tuple(w for w in PLAN.hand_work if w.kind is CAST)), "L1"),
    "never cast": (replace(PLAN, hand_work=tuple(w for w in PLAN.hand_work if w.kind is GLAZE)), "O2@1"),
    "promised too soon": (with_outcome(1, finish=PLAN.made, late_days=0), "finish"),
    "never finished yet nothing open": (with_outcome(1, finish=None), "finish"),
    "wrong days late": (with_outcome(0, late_days=5), "late_days"),
    "wrong due day": (with_outcome(0, due=date(2027, 1, 1)), "due"),
    "delivered more than ordered": (with_outcome(0, deliveries=PLAN.outcomes[0].deliveries * 9), "deliveries"),
    "delivered after the finish": (
        with_outcome(0, deliveries=tuple(replace(row, at=row.at + HOUR) for row in PLAN.outcomes[0].deliveries)),
        "deliveries",
    ),
    "free stock promised twice": (with_outcome(1, finish=PLAN.made), "stock of MUG"),
    "another mass": (with_firing(GLOST, ware_kg=G1.ware_kg + 5.0), "ware_kg"),
    "a firing that is not there": (with_outcome(0, firings=("F99",)), "firings"),
    "load on another car": (with_load(GLOST, lambda load: replace(load, car=None)), "load"),
    "an offset lost": (with_firing(GLOST, load_start=None), "order"),
}


def test_the_plan_itself_has_no_finding() -> None:
    """What every break starts from is sound, and has what the breaks need."""
    assert audit_plan(shop(), PLAN) == ()
    assert {work.kind for work in PLAN.hand_work} == {CAST, GLAZE}


@pytest.mark.parametrize("name", BREAKS)
def test_every_break_is_found(name: str) -> None:
    """One change of the plan at a time; the finding names the place that was changed."""
    if name == "free stock promised twice":
        firings = tuple(f for f in PLAN.firings if all(part.order_line != "O2" for part in f.parts))
        outcomes = tuple(replace(row, firings=()) for row in BREAKS[name][0].outcomes)
        broken = replace(BREAKS[name][0], firings=firings, outcomes=outcomes)
    else:
        broken = BREAKS[name][0]
    found = audit_plan(shop(), broken)
    assert any(BREAKS[name][1] in finding.field for finding in found), [str(finding) for finding in found]
    assert all(isinstance(finding, Finding) for finding in found)


def test_out_of_hours_is_found() -> None:
    """A night shift moved into the plan of a works with day shifts: loading, drawing and the fire itself."""
    from kilnpack.model.orders import WorkCalendar
    from tests.planning.small import WEEKDAYS

    days = replace(shop(), calendar=WorkCalendar(shifts=WEEKDAYS, unattended_firing=False))
    fields = {finding.field.partition(" ")[2] for finding in audit_plan(days, PLAN)}
    assert {"load_start", "draw", "fire"} <= fields


def test_the_crew_cannot_be_in_two_places() -> None:
    """Two firings loaded in the same hours ask for more hands than there are."""
    slow = replace(shop(), settings=replace(shop().settings, shelf_handling_s=40000.0))
    assert any("person h" in finding.wanted for finding in audit_plan(slow, PLAN))
    moved = with_firing(BISCUIT, load_start=G1.load_start, load_end=G1.load_end)
    short = replace(shop(), lots=shop().lots)
    assert any("of work for hands" in finding.found for finding in audit_plan(short, moved))


def test_furniture_in_use_elsewhere_is_found() -> None:
    """With one shelf and three posts in the works, the tiers of the plan cannot all be there."""
    few = replace(shop(), furniture=furniture(1))
    assert any("shelf S" in finding.field for finding in audit_plan(few, PLAN))


def test_loads_are_checked_with_what_was_there() -> None:
    """The checker sees the lots that were ready and the furniture not elsewhere; its findings are passed on."""
    seen: list[Works] = []

    def checks(given: Works, load: Load) -> tuple[Finding, ...]:
        seen.append(given)
        return (Finding(file=load.kiln, row=None, field="F6", found="crooked", wanted="straight"),)

    found = audit_plan(shop(), PLAN, checker=checks)
    assert len(found) == len(PLAN.firings)
    assert seen[0].lots == PLAN.firings[0].lots
    assert works_of(shop(), PLAN, PLAN.firings[0]).furniture == seen[0].furniture

    def falls_over(given: Works, load: Load) -> tuple[Finding, ...]:
        raise KeyError(load.kiln)

    assert all("reckoned" in finding.found for finding in audit_plan(shop(), PLAN, checker=falls_over))
