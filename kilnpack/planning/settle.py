"""Which firings of an earlier plan can stay: those started or locked must, of the others all that still hold.

A firing holds where its ware is there when it is loaded, its kiln is not down, and hours, hands, cars and furniture
still allow it. One that lacks a few pieces stays without them.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty
from kilnpack.model.orders import in_zone
from kilnpack.model.plans import FiringState, Plan, PlanGoals
from kilnpack.planning.clock import Clock
from kilnpack.planning.fewer import with_fewer
from kilnpack.planning.given import Given
from kilnpack.planning.packs import taken_of
from kilnpack.planning.plan_audit import TIME_CHECKS, unknown_in_firing
from kilnpack.planning.shop import Shop

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from kilnpack.heat.calibration import Calibration
    from kilnpack.model.plans import Down, Firing
    from kilnpack.model.works import Works
    from kilnpack.planning.kept import Short
    from kilnpack.planning.packs import Checker

KEPT_SHARE = 0.5
"""A firing that would lose more of its pieces is planned anew."""
KEEP_DAYS = (10_000, 7, 2)
"""How far ahead firings of the plan before are kept to move little; each is tried, and none kept too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a planner asks for beside the works folder, and the factors of the kilns' energy that it keeps."""

    before: Plan | None = None
    locked: tuple[str, ...] = ()
    downs: tuple[Down, ...] = ()
    urgent: tuple[str, ...] = ()
    calibrations: Mapping[str, Calibration] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """What must stay (`given`), ways to keep more of the plan before, and what is to be said of it."""

    given: Given
    ways: tuple[Given, ...] = ()
    remarks: tuple[str, ...] = ()


ANEW = Settled(given=Given())
"""Nothing stays and nothing is given."""


def settle(works: Works, asked: Asked, *, checker: Checker | None = None) -> Settled:
    """Work out what stays of an earlier plan.

    Raises
    ------
    InputFaulty
        A firing that is started or locked cannot stay as it is, with every reason.
    """
    given = Given(downs=asked.downs, urgent=asked.urgent, before=asked.before, calibrations=asked.calibrations)
    if asked.before is None:
        return Settled(given=given)
    settling = _Settling(works, given, checker)
    stay = settling.states(asked.before, asked.locked)
    must = [row for row in stay if row.state is not FiringState.PLANNED]
    given, faults = settling.holding(must)
    if faults:
        raise InputFaulty(faults)
    ways = []
    for days in KEEP_DAYS:
        until = in_zone(works.now, works.calendar.time_zone) + timedelta(days=days)
        kept, lacking = settling.holding([row for row in stay if row in must or row.load_start < until])
        if not lacking and kept not in ways and kept != given:
            ways.append(kept)
    more = sorted({row.code for row in given.must_stay if row.state is FiringState.LOCKED} - set(asked.locked))
    said = [f"locked too, as they feed a locked firing: {', '.join(more)}"] if more else []
    return Settled(given=given, ways=tuple(ways), remarks=tuple(said))


class _Settling:
    """One works, and what is given beside the firings."""

    def __init__(self, works: Works, given: Given, checker: Checker | None) -> None:
        self.works, self.given, self.checker = works, given, checker
        self.clock = Clock(works.calendar, works.now)
        self.checked: dict[str, tuple[Firing, bool]] = {}

    def states(self, before: Plan, locked: Sequence[str]) -> list[Firing]:
        """Return the firings not yet unloaded, each started, locked or only planned."""
        codes = set(locked) | {row.code for row in before.firings if row.state is FiringState.LOCKED}
        codes = _with_feeders(before, codes)
        found = []
        for firing in before.firings:
            if self.clock.hour(firing.unload_end) <= 0.0:
                continue
            state = FiringState.LOCKED if firing.code in codes else FiringState.PLANNED
            state = FiringState.STARTED if self.clock.hour(firing.load_start) < 0.0 else state
            found.append(replace(firing, state=state))
        return found

    def holding(self, firings: Sequence[Firing]) -> tuple[Given, list[Finding]]:
        """Return what holds of some firings; findings for those that must hold and do not."""
        kept = {row.code: row for row in firings}
        faults = self._drop(kept, self._faulty(kept.values()))
        while kept and not faults:
            short = Shop(self.works, self.given.keeping(kept.values())).short
            if not short:
                break
            faults = self._fewer(kept, short[0])
        return self.given.keeping(kept.values()), faults

    def _fewer(self, kept: dict[str, Firing], short: Short) -> list[Finding]:
        """Take out of a firing what is not there, or the firing where that is most of it."""
        firing = kept[short.firing]
        if firing.state is not FiringState.PLANNED:
            found = f"{short.pieces} pieces of {short.lot} missing"
            return [_fault(firing, found, "ware that is there when it is loaded; unlock it or mend lots.csv")]
        fewer = with_fewer(self.works, firing, short.lot, short.pieces)
        before = next(row for row in self.given.before.firings if row.code == firing.code)  # type: ignore[union-attr]
        enough = KEPT_SHARE * sum(taken_of(before.load).values())
        if fewer is None or sum(taken_of(fewer.load).values()) < enough or not self._load_holds(fewer):
            del kept[firing.code]
        else:
            kept[firing.code] = fewer
        return []

    def _drop(self, kept: dict[str, Firing], faulty: dict[str, Finding]) -> list[Finding]:
        """Drop firings with faults; return those of firings that must stay."""
        faults = []
        for code, finding in faulty.items():
            if kept[code].state is not FiringState.PLANNED:
                faults.append(_fault(kept[code], finding.found, finding.wanted))
            del kept[code]
        return faults

    def _faulty(self, firings: Iterable[Firing]) -> dict[str, Finding]:
        """Return a finding for every firing that breaks a rule of time, or whose load does not hold any more."""
        found: dict[str, Finding] = {}
        rows = []
        lines = {line.code for line in self.works.lines}
        for firing in firings:
            unknown = [*unknown_in_firing(self.works, firing)]
            gone = {part.order_line for part in firing.parts} - lines - {None}
            if unknown or (gone and firing.state is FiringState.PLANNED):
                found[firing.code] = unknown[0] if unknown else _fault(firing, f"line {gone}", "a line of the works")
            else:
                rows.append(firing)
        while True:
            plan = _bare_plan(self.works, rows, self.given.downs)
            findings = [one for check in TIME_CHECKS for one in check(self.works, plan, self.clock)]
            new = {one.field.partition(" ")[0]: one for one in reversed(findings)}
            movable = [row.code for row in rows if row.code in new and row.state is FiringState.PLANNED]
            out = set(movable) or set(new)
            found |= {code: new[code] for code in out}
            rows = [row for row in rows if row.code not in out]
            if not out:
                break
        bad = [row for row in rows if not self._load_holds(row)]
        return found | {row.code: _fault(row, "a load that breaks a rule now", "a load that holds") for row in bad}

    def _load_holds(self, firing: Firing) -> bool:
        """Whether the checker has nothing against the load, with all furniture there is."""
        if self.checker is None:
            return True
        known = self.checked.get(firing.code)
        if known is None or known[0].load != firing.load:
            works = replace(self.works, lots=firing.lots)
            known = (firing, not self.checker(works, firing.load))
            self.checked[firing.code] = known
        return known[1]


def _with_feeders(before: Plan, codes: set[str]) -> set[str]:
    """Return the codes with those of the firings that their ware comes from."""
    found, new = set(codes), set(codes)
    while new:
        lots = [(part.lot, row.load_start) for row in before.firings if row.code in new for part in row.parts]
        new = {
            row.code
            for row in before.firings
            for part in row.parts
            if any(part.becomes == lot and part.ready_at <= start for lot, start in lots)
        } - found
        found |= new
    return found


def _bare_plan(works: Works, firings: Sequence[Firing], downs: tuple[Down, ...]) -> Plan:
    """Return a plan of some firings alone, for the checks of time."""
    return Plan(
        works=works.name,
        made=in_zone(works.now, works.calendar.time_zone),
        policy="",
        seed=0,
        firings=tuple(firings),
        hand_work=(),
        outcomes=(),
        goals=PlanGoals(open_lines=0, weighted_late_days=0.0, firings=len(firings), mean_finish_h=0.0),
        downs=downs,
    )


def _fault(firing: Firing, found: str, wanted: str) -> Finding:
    """Return a finding on a firing that must stay."""
    return Finding(file="plan", row=None, field=f"{firing.code} ({firing.state.value})", found=found, wanted=wanted)
