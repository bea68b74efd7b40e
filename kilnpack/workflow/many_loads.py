"""From a works folder to the fewest loads for all that is ready, each checked, their furniture checked together."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty, SolverFault
from kilnpack.planning.pack_loads import audit_together, pack_loads
from kilnpack.planning.ready import ready_lots
from kilnpack.rules.checker import audit
from kilnpack.workflow.codes import kiln_and_programme
from kilnpack.workflow.loading import LoadedKiln, limited, written
from kilnpack.works_folder import read_works
from kilnpack.works_folder.landing import state_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works
    from kilnpack.search.budget import Budget


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedKilns:
    """Loads turn by turn, written each in a folder of its own, and the pieces that went into none."""

    turns: tuple[tuple[LoadedKiln, ...], ...]
    left_pieces: int
    ready_pieces: int


def load_kilns(
    folder: Path,
    kiln_codes: Sequence[str],
    programme_code: str,
    out_dir: Path,
    *,
    budget: Budget,
    seed: int = 0,
    settings_most: int | None = None,
) -> LoadedKilns:
    """Pack all that is ready for a programme into as few loads as are found, and write every one of them.

    Parameters
    ----------
    kiln_codes
        Kilns that may burn at the same time and share the furniture.
    budget
        For every single load.

    Raises
    ------
    InputFaulty
        The folder has findings, or a code is not known.
    SheetNotWritten
        A file cannot be written.
    SolverFault
        A load breaks a rule, or loads of one turn take more furniture than there is.
    """
    works = limited(read_works(folder), settings_most)
    twice = {code for code in kiln_codes if kiln_codes.count(code) > 1}
    if twice:
        rows = (Finding(file="command", row=None, field="--kiln", found=c, wanted="every kiln once") for c in twice)
        raise InputFaulty(rows)
    pairs = [kiln_and_programme(works, code, programme_code) for code in kiln_codes]
    kilns, programme = [kiln for kiln, _ in pairs], pairs[0][1]
    known = {lot.code: lot for kiln in kilns for lot in ready_lots(works, kiln, programme, works.now)}
    lots = tuple(known.values())
    seen = {place: state_of(place) for place in out_dir.glob("load-*")}
    found = pack_loads(works, kilns, programme, lots, budget=budget, seed=seed)
    _insist(works, found.turns)
    turns = []
    for number, turn in enumerate(found.turns, start=1):
        rows_of_turn = []
        for load in turn:
            place = out_dir / f"load-{number}-{load.kiln}"
            there = replace(works, lots=lots)
            rows_of_turn.append(written(works, load, lots, place, seen.get(place, ()), folder=folder, there=there))
        turns.append(tuple(rows_of_turn))
    ready = sum(lot.pieces for lot in lots)
    return LoadedKilns(turns=tuple(turns), left_pieces=found.left_pieces, ready_pieces=ready)


def _insist(works: Works, turns: Sequence[Sequence[Load]]) -> None:
    """Check every load and the furniture of every turn before anything is written."""
    faults = [row for turn in turns for load in turn for row in audit(works, load, at=works.now).findings]
    faults += [row for turn in turns for row in audit_together(works, turn)]
    if faults:
        raise SolverFault("\n".join(["the packed loads break a rule:", *(str(one) for one in faults)]))
