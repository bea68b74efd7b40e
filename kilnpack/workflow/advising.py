"""What would bring more into this kiln: each change is packed again, with equal effort, and its gain is measured."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import fmean, stdev
from typing import TYPE_CHECKING

from kilnpack.errors import InputFaulty
from kilnpack.heat.load_energy import load_energy
from kilnpack.packing.firing_rules import FiringRules
from kilnpack.packing.pack_load import pack_load
from kilnpack.packing.piece_worths import load_worth, piece_worths
from kilnpack.packing.what_if import WhatIf, what_ifs
from kilnpack.planning.ready import ready_lots, ready_works
from kilnpack.search.budget import Budget
from kilnpack.search.cluster import anywhere
from kilnpack.search.seeds import split
from kilnpack.workflow.codes import kiln_and_programme
from kilnpack.workflow.loading import limited
from kilnpack.works_folder import read_works, save_value
from kilnpack.works_folder.landing import landing, state_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from kilnpack.model.orders import Lot

USUAL_EFFORT = 150
SEEDS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Advised:
    """What one change brings, mean over the seeds; the first row of an advice is the works as it is.

    `gain_share` is the gain in value against the works as it is with the same seeds, `noise_share` the standard error
    of that gain: a gain within twice the noise says nothing. kWh are net; None where the kiln's heat is not known.
    """

    what: str
    value_dm3: float
    gain_share: float
    noise_share: float
    pieces: float
    kwh: float | None
    kwh_per_piece: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """The gains of all changes for one firing, the greatest first after the works as it is."""

    works: str
    kiln: str
    programme: str
    effort: int
    seeds: tuple[int, ...]
    rows: tuple[Advised, ...]


@dataclass(frozen=True, slots=True)
class _Packed:
    value_dm3: float
    pieces: int
    kwh: float | None


def advise(  # noqa: PLR0913 - which firing, how much to look, and where to write
    folder: Path,
    kiln_code: str,
    programme_code: str,
    out_dir: Path,
    *,
    effort: int = USUAL_EFFORT,
    seeds: int = SEEDS,
    seed: int = 0,
    workers: int = 1,
    settings_most: int | None = None,
) -> tuple[Advice, Path]:
    """Pack a firing again with each change of the works, and write `advise.json`.

    Parameters
    ----------
    effort
        Of every single packing, thousands of evaluations; the works as it is gets the same.
    seeds
        How many times each is packed; gains are compared seed by seed.

    Raises
    ------
    InputFaulty
        The folder has findings, or a code is not known.
    SheetNotWritten
        The file cannot be written.
    """
    works = limited(read_works(folder), settings_most)
    kiln, programme = kiln_and_programme(works, kiln_code, programme_code)
    lots = ready_lots(works, kiln, programme, works.now)
    works = ready_works(works, lots)
    worths = piece_worths(FiringRules(works, kiln, programme), lots)
    asked = what_ifs(works, kiln, programme)
    runs = split(seed, seeds)
    with anywhere(workers) as pool:
        futures = [
            [pool.submit(_pack, one, kiln_code, programme_code, lots, worths, effort, run) for run in runs]
            for one in asked
        ]
        packed = [[future.result() for future in row] for row in futures]
    rows = [_advised(one, own, packed[0]) for one, own in zip(asked, packed, strict=True)]
    ranked = (rows[0], *sorted(rows[1:], key=lambda row: -row.gain_share))
    advice = Advice(works=works.name, kiln=kiln_code, programme=programme_code, effort=effort, seeds=runs, rows=ranked)
    with landing(out_dir, state_of(out_dir)) as place:
        saved = save_value(place.aside / "advise.json", advice)
    return advice, place.final(saved)


def _pack(
    asked: WhatIf,
    kiln_code: str,
    programme_code: str,
    lots: Sequence[Lot],
    worths: dict[str, float],
    effort: int,
    seed: int,
) -> _Packed:
    """Pack one changed works once; valued as the works as it is values its pieces."""
    works = asked.works
    kiln, programme = works.kiln(kiln_code), works.programme(programme_code)
    load = pack_load(works, kiln, programme, lots, budget=Budget(effort=effort), seed=seed)
    try:
        kwh = load_energy(works, load).balance.total_kwh if load.pieces else None
    except InputFaulty:
        kwh = None
    return _Packed(load_worth(worths, load), load.pieces, kwh)


def _advised(asked: WhatIf, own: Sequence[_Packed], base: Sequence[_Packed]) -> Advised:
    value, before = fmean(one.value_dm3 for one in own), fmean(one.value_dm3 for one in base)
    gains = [one.value_dm3 - other.value_dm3 for one, other in zip(own, base, strict=True)]
    scale = before if before > 0 else 1.0
    pieces = fmean(one.pieces for one in own)
    known = [one.kwh for one in own if one.kwh is not None]
    kwh = fmean(known) if len(known) == len(own) else None
    return Advised(
        what=asked.what,
        value_dm3=round(value, 3),
        gain_share=round(fmean(gains) / scale, 5),
        noise_share=round(_error(gains if own is not base else [one.value_dm3 for one in own]) / scale, 5),
        pieces=round(pieces, 2),
        kwh=None if kwh is None else round(kwh, 1),
        kwh_per_piece=round(kwh / pieces, 3) if kwh is not None and pieces else None,
    )


def _error(values: Sequence[float]) -> float:
    """Return the standard error of a mean; 0 of a single value, of which nothing is known."""
    return stdev(values) / math.sqrt(len(values)) if len(values) > 1 else 0.0
