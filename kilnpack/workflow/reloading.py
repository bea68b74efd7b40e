"""One is broken, the kiln is half set: keep the tiers that stand, pack the others anew, check, and print the change."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty
from kilnpack.model.loads import Load
from kilnpack.packing.pack_load import pack_load
from kilnpack.planning.furniture_stock import POST, SHELF, STUB, SUPPORT, furniture_of, lacking, stock_of, with_less
from kilnpack.planning.ready import ready_lots
from kilnpack.rules.checker import audit
from kilnpack.sheets.order import tier_name, tiers_in_order
from kilnpack.workflow.loading import LoadedKiln, written
from kilnpack.works_folder import load_value, read_works
from kilnpack.works_folder.landing import state_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from kilnpack.model.orders import Lot
    from kilnpack.model.works import Works
    from kilnpack.planning.furniture_stock import Taken
    from kilnpack.search.budget import Budget
    from kilnpack.search.listener import Listener


@dataclass(frozen=True, slots=True)
class Broken:
    """So many of a thing that cannot be used: a lot's pieces or furniture, by its code."""

    code: str
    count: int = 1


def reload_kiln(
    folder: Path,
    load_file: Path,
    out_dir: Path,
    *,
    broken: Sequence[str],
    from_tier: str,
    budget: Budget,
    seed: int = 0,
    listener: Listener | None = None,
) -> LoadedKiln:
    """Pack the tiers of a load that are not yet set anew, without what is broken; the tiers below stay as they are.

    Parameters
    ----------
    broken
        Codes of lots or furniture, each with ":3" behind it where three are broken.
    from_tier
        A number: every stack from this tier up is open. A name as on the sheet, such as "B3": open is this tier and
        all that come after it in the order of loading.

    Raises
    ------
    InputFaulty
        The folder or the load has findings, or a code or a tier is not known.
    SheetNotWritten
        A file cannot be written.
    SolverFault
        The packer returned a load that breaks a rule; nothing was written.
    """
    works, seen = read_works(folder), state_of(out_dir)
    load = load_value(load_file, Load)
    faults = [replace(row, file=load_file.name) for row in audit(works, load, at=works.now).findings]
    if faults:
        raise InputFaulty(faults)
    kept, missing = tiers_kept(works, load, broken, from_tier)
    kiln, programme = works.kiln(load.kiln), works.programme(load.programme)
    known = {lot.code: lot for lot in ready_lots(works, kiln, programme, works.now)}
    known |= {code: works.lot(code) for code in load.pieces_by_lot}
    lots = _lots_left(kept, missing, known)
    new = packed_anew(works, kept, lots, missing, budget=budget, seed=seed, listener=listener)
    return written(works, new, tuple(known.values()), out_dir, seen, folder=folder, there=works)


def packed_anew(
    works: Works,
    kept: Load,
    lots: Sequence[Lot],
    missing: Sequence[Broken],
    *,
    budget: Budget,
    seed: int,
    listener: Listener | None,
) -> Load:
    """Return a load whose tiers below stay as they are, with the lots given packed over them.

    Parameters
    ----------
    kept
        The tiers that stay.
    missing
        What cannot be used.
    """
    kiln, programme = works.kiln(kept.kiln), works.programme(kept.programme)
    left = with_less(works, furniture_of(works, kept) + _furniture(works, missing))
    new = pack_load(left, kiln, programme, lots, budget=budget, seed=seed, kept=kept, listener=listener)
    return _told(replace(new, changed=_changed(kept, new), seed=seed), missing)


def _told(load: Load, missing: Sequence[Broken]) -> Load:
    """Return the load with a remark that says what was packed anew."""
    words = ", ".join(tier_name(*row) for row in load.changed) or "no tier"
    said = " and ".join(f"{row.count} × {row.code}" for row in missing)
    without = f" without {said}" if said else ""
    remark = f"packed anew{without}: {words}; all other tiers stay as they are"
    return replace(load, remarks=(remark, *load.remarks))


def tiers_kept(works: Works, load: Load, broken: Sequence[str], from_tier: str) -> tuple[Load, list[Broken]]:
    """Return the tiers that stay and what is broken.

    Raises
    ------
    InputFaulty
        With every fault of what was asked.
    """
    missing, faults = [], []
    for text in broken:
        code, _, count = text.rpartition(":") if ":" in text and text.rpartition(":")[2].isdigit() else (text, "", "1")
        if code in _known(works) and int(count) > 0:
            missing.append(Broken(code, int(count)))
            continue
        near = get_close_matches(code, _known(works), n=1)
        wanted = f"{near[0]}?" if near else "the code of a lot, shelf, post, stub, stilt, setter, disc or spacer"
        faults.append(Finding(file="command", row=None, field="--broken", found=text, wanted=wanted))
    kept = _kept(works, load, from_tier)
    if kept is None:
        names = [row.name for row in tiers_in_order(works, load)]
        wanted = f"a number of a tier, or one of {', '.join(names[:12])}{' ...' if len(names) > 12 else ''}"
        faults.append(Finding(file="command", row=None, field="--from-tier", found=from_tier, wanted=wanted))
    if not faults and kept is not None:
        faults = _lacks(works, kept, missing)
    if faults or kept is None:
        raise InputFaulty(faults)
    return kept, missing


def _known(works: Works) -> list[str]:
    return [lot.code for lot in works.lots] + [code for _, code in stock_of(works)]


def _kept(works: Works, load: Load, from_tier: str) -> Load | None:
    """Return the load with the tiers that stay; None where the tier is not in it."""
    if from_tier.isdigit():
        number = int(from_tier)
        highest = max((len(stack.tiers) for stack in load.stacks), default=0)
        open_tiers = {(s.place, t.number) for s in load.stacks for t in s.tiers if t.number >= number}
        if not 1 <= number <= highest:
            return None
    else:
        order = tiers_in_order(works, load)
        first = next((row.turn for row in order if row.name == from_tier), None)
        if first is None:
            return None
        open_tiers = {(row.place.code, row.tier.number) for row in order if row.turn >= first}
    stacks = tuple(
        replace(stack, tiers=tuple(tier for tier in stack.tiers if (stack.place, tier.number) not in open_tiers))
        for stack in load.stacks
    )
    return replace(load, stacks=tuple(stack for stack in stacks if stack.tiers))


def _lacks(works: Works, kept: Load, missing: Sequence[Broken]) -> list[Finding]:
    """Return a finding for everything broken that the tiers that stay need themselves."""
    short = lacking(stock_of(works), furniture_of(works, kept) + _furniture(works, missing))
    rows = [(code, f"{count} fewer, the tiers that stay stand on them") for (_, code), count in short.items()]
    stood, lots = kept.pieces_by_lot, {lot.code: lot.pieces for lot in works.lots}
    rows += [
        (row.code, f"at most {lots[row.code] - stood[row.code]}, the others stand already")
        for row in missing
        if row.code in lots and row.count > lots[row.code] - stood[row.code]
    ]
    return [Finding(file="command", row=None, field="--broken", found=code, wanted=wanted) for code, wanted in rows]


def _furniture(works: Works, missing: Sequence[Broken]) -> Taken:
    """Count the furniture that is broken."""
    stock = stock_of(works)
    return Counter(
        {
            (kind, row.code): row.count
            for row in missing
            for kind in (SHELF, POST, STUB, SUPPORT)
            if (kind, row.code) in stock
        }
    )


def _lots_left(kept: Load, missing: Sequence[Broken], known: dict[str, Lot]) -> list[Lot]:
    """Return the ware that may still go in."""
    gone = kept.pieces_by_lot + Counter({row.code: row.count for row in missing})
    return [replace(lot, pieces=lot.pieces - gone[code]) for code, lot in known.items() if lot.pieces > gone[code]]


def _changed(kept: Load, new: Load) -> tuple[tuple[str, int], ...]:
    """Return the tiers that were packed anew."""
    stood = {(stack.place, tier.number) for stack in kept.stacks for tier in stack.tiers}
    rows = [(stack.place, tier.number) for stack in new.stacks for tier in stack.tiers]
    return tuple(row for row in rows if row not in stood)
