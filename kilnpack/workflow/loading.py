"""From a works folder to one checked load with its sheets, and the check of any saved load."""

from __future__ import annotations

from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty, SolverFault
from kilnpack.model.loads import Load
from kilnpack.packing.late import late_step
from kilnpack.packing.pack_load import pack_load
from kilnpack.packing.substitutes import substitutes
from kilnpack.planning.ready import ready_lots, ready_works
from kilnpack.rules.checker import Audit, Tight, audit
from kilnpack.sheets.facts import Tightest
from kilnpack.sheets.loading import LoadingSheetPaths, write_loading_sheet
from kilnpack.workflow.codes import kiln_and_programme
from kilnpack.workflow.energy import calibrations_in
from kilnpack.workflow.programmes import heat_words, write_load_programme
from kilnpack.works_folder import load_value, read_works, save_value
from kilnpack.works_folder.landing import State, landing, state_of

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from kilnpack.model.orders import Lot
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
    from kilnpack.search.budget import Budget
    from kilnpack.search.listener import Listener
    from kilnpack.sheets.programme import ProgrammeSheetPaths


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedKiln:
    """A load that the checker accepts, what the checker measured, and where everything was written."""

    load: Load
    checked: Audit
    sheets: LoadingSheetPaths
    saved: Path
    ready_pieces: int
    programme: ProgrammeSheetPaths
    words: tuple[str, ...] = ()
    """What the energy of the programme sheet is fitted to."""


def load_kiln(  # noqa: PLR0913 - what a firing is, how long to look, and where to write
    folder: Path,
    kiln_code: str,
    programme_code: str,
    out_dir: Path,
    *,
    budget: Budget,
    seed: int = 0,
    workers: int = 1,
    reserve_share: float = 0.0,
    late: Mapping[str, int] | None = None,
    settings_most: int | None = None,
    prove: bool = False,
    listener: Listener | None = None,
) -> LoadedKiln:
    """Pack what is ready for a programme into a kiln, check the load, and write `load.json` and the loading sheet.

    Parameters
    ----------
    folder
        The works folder.
    out_dir
        Made where it is missing; nothing is written before the checker has accepted the load.
    budget
        Seconds or effort for packing.
    reserve_share, late
        Share of the shelves, or pieces of products, for which room is kept.
    settings_most
        Most different settings; what the works says where not given.
    prove
        Whether to prove how far the load is from the best possible, which takes some seconds more.

    Raises
    ------
    InputFaulty
        The folder has findings, a code is not known, or a cone pack has no place in the kiln.
    SheetNotWritten
        A file cannot be written.
    SolverFault
        The packer returned a load that breaks a rule; nothing was written.
    """
    works, seen = limited(read_works(folder), settings_most), state_of(out_dir)
    kiln, programme = kiln_and_programme(works, kiln_code, programme_code)
    known_products(works, programme, late or {})
    lots = ready_lots(works, kiln, programme, works.now)
    load = pack_load(
        works,
        kiln,
        programme,
        lots,
        budget=budget,
        seed=seed,
        workers=workers,
        reserve_share=reserve_share,
        late=late,
        listener=listener,
        prove=prove,
    )
    return written(works, load, lots, out_dir, seen, folder=folder, there=ready_works(works, lots))


def written(
    works: Works, load: Load, lots: tuple[Lot, ...], out_dir: Path, seen: State, *, folder: Path, there: Works
) -> LoadedKiln:
    """Check a load that was packed and write it with its sheets.

    Parameters
    ----------
    lots
        What it was packed from.
    seen
        State of `out_dir` when the packing was begun.
    there
        The works with the lots that the load may take.

    Raises
    ------
    InputFaulty, SheetNotWritten, SolverFault
        As `load_kiln`; nothing is written.
    """
    calibrations, words = calibrations_in(folder, works)
    load = replace(load, substitutes=substitutes(there, load, lots), remarks=(*load.remarks, *heat_words(there, load)))
    checked = audit(there, load, at=works.now)
    if load.pieces:
        insist_good(checked)
    with landing(out_dir, seen) as place:
        found = LoadedKiln(
            load=load,
            checked=checked,
            sheets=write_loading_sheet(works, load, place.aside, tightest=tightest_of(checked)),
            saved=save_value(place.aside / "load.json", load),
            ready_pieces=sum(lot.pieces for lot in lots),
            programme=write_load_programme(there, load, place.aside, calibrations=calibrations),
            words=words,
        )
    return place.final(found)


def insist_good(checked: Audit) -> None:
    """Go on only with a load that breaks no rule.

    Raises
    ------
    InputFaulty
        Only cone packs have no place: the kiln asks for packs that none of its shelves can bear.
    SolverFault
        Any other rule is broken, which is the packer's fault.
    """
    if not checked.findings:
        return
    if all(row.field.startswith("C7") for row in checked.findings):
        wanted = "a peephole whose pack can stand on a shelf, or `has_pack = false`"
        raise InputFaulty(replace(row, file=f"kilns.toml: {row.file}", wanted=wanted) for row in checked.findings)
    raise SolverFault("\n".join(["the packed load breaks a rule:", *(str(one) for one in checked.findings)]))


def limited(works: Works, settings_most: int | None) -> Works:
    """Return the works with another limit of different settings, where one is given."""
    if settings_most is None:
        return works
    return replace(works, settings=replace(works.settings, settings_most=settings_most))


def known_products(works: Works, programme: Programme, late: Mapping[str, int]) -> None:
    """Look up the products for which room is to be kept.

    Raises
    ------
    InputFaulty
        With a finding for every product that is not known or not fired in this programme.
    """
    known = {product.code for product in works.products}
    fired = {code for code in known if late_step(works, programme, code) is not None}
    faults = [
        Finding(
            file="command",
            row=None,
            field="--reserve",
            found=code,
            wanted=_wanted(programme, code, known, fired),
        )
        for code in late
        if code not in fired
    ]
    if faults:
        raise InputFaulty(faults)


def _wanted(programme: Programme, code: str, known: set[str], fired: set[str]) -> str:
    """Return what a code of `--reserve` should have been."""
    if code in known:
        return f"a product that is fired in {programme.code}"
    near = get_close_matches(code, sorted(fired), n=1)
    return f"{near[0]}?" if near else "the code of a product"


def audit_file(folder: Path, load_file: Path) -> tuple[Load, Audit]:
    """Check a saved load, made by whom it may be, against a works folder.

    Raises
    ------
    InputFaulty
        The folder or the file cannot be read.
    """
    works = read_works(folder)
    load = load_value(load_file, Load)
    return load, audit(works, load, at=works.now)


def tightest_of(checked: Audit) -> Tightest:
    """Return the checker's two tightest places as the sheets print them."""
    gap, headroom = checked.tightest_gap, checked.tightest_headroom
    return Tightest(
        gap_mm=gap.mm if gap else None,
        gap_where=_where(gap),
        headroom_mm=headroom.mm if headroom else None,
        headroom_where=_where(headroom),
    )


def _where(tight: Tight | None) -> str:
    return f"stack {tight.place} tier {tight.tier}: {tight.what}" if tight else ""
