"""`kilnpack calibrate FOLDER`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from kilnpack.cli.options import Folder

if TYPE_CHECKING:
    from kilnpack.heat.cooling_fit import CoolingFit
    from kilnpack.heat.readings import KilnFit
    from kilnpack.heat.witness import OffsetProposal
    from kilnpack.workflow.calibrating import CalibratedKiln


def calibrate(
    folder: Folder,
    *,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Print only; write nothing.")] = False,
    write_offsets: Annotated[
        bool, typer.Option("--write-offsets", help="Put the proposed offset maps into offsets.csv.")
    ] = False,
) -> None:
    """Fit the kilns to the meter, cone and cooling readings of the folder; energy, plan and load then use it."""
    from kilnpack.workflow.calibrating import calibrate_works

    found = calibrate_works(folder, write=not dry_run, write_map=write_offsets and not dry_run)
    for row in found.kilns:
        print_kiln(row, written=found.offsets is not None)
    for path in (found.saved, found.offsets):
        if path is not None:
            print(path)
    if dry_run:
        print("Nothing was written.")


def print_kiln(row: CalibratedKiln, *, written: bool = False) -> None:
    """Print what the readings of a kiln say, and whether its offset map was written."""
    print(f"Kiln {row.kiln}")
    if row.energy is not None:
        _energy(row.energy)
    if row.cooling is not None:
        _cooling(row.cooling)
    for proposal in row.offsets:
        _offsets(proposal, written=written)
    for words in row.words:
        print(f"  Note: {words}.")


def _energy(fit: KilnFit) -> None:
    calibration = fit.calibration
    print(f"  Energy: {calibration.readings} meter readings, peaks {calibration.low_peak_degc:.0f} to "
          f"{calibration.high_peak_degc:.0f} degC")  # fmt: skip
    for factor in fit.factors:
        kept = "" if factor.fitted else ", not fitted"
        print(f"    {factor.name} x {factor.value:.2f} ({factor.low:.2f} to {factor.high:.2f}{kept})")
    print("    reading  foretold less metered: without factors, fitted, by the others alone")
    rows = zip(fit.plain_share, fit.errors_share, fit.left_out_share, strict=True)
    for number, (plain, fitted, left_out) in enumerate(rows, start=1):
        alone = "-" if left_out is None else f"{left_out:+.1%}"
        print(f"    {number:7d}  {plain:+.1%}  {fitted:+.1%}  {alone}")
    left_out = calibration.left_out_share
    print(f"    root mean square: fitted {calibration.scatter_share:.1%}"
          + ("" if left_out is None else f", by the others alone {left_out:.1%}"))  # fmt: skip
    for words in fit.words:
        print(f"    Note: {words}.")


def _cooling(fit: CoolingFit) -> None:
    left_out = "" if fit.left_out_k is None else f", by the others alone {fit.left_out_k:.0f} K"
    print(f"  Cooling: air x {fit.air_factor:.2f} ({fit.low:.2f} to {fit.high:.2f}) from {fit.coolings} coolings; "
          f"error {fit.plain_k:.0f} K without, fitted {fit.error_k:.0f} K{left_out}")  # fmt: skip
    if fit.coolings < 3:
        print("    Note: the forecast stays advice until three coolings are recorded. The thermometer decides.")


def _offsets(proposal: OffsetProposal, *, written: bool) -> None:
    alone = "" if proposal.left_out_k is None else f", by the other places alone {proposal.left_out_k:.0f} K"
    print(f"  Offset map for {proposal.stage}, from {proposal.used} readings"
          f" ({'written' if written else 'proposed; --write-offsets puts it into offsets.csv'})")  # fmt: skip
    for row, deviation in zip(proposal.readings, proposal.deviations_k, strict=True):
        print(
            f"    {row.x_mm:6.0f} {row.y_mm:6.0f} {row.z_mm:6.0f} mm  {row.offset_k:+5.1f} K  (+-{2 * deviation:.0f})"
        )
    print(f"    root mean square: no map {proposal.plain_k:.0f} K, map {proposal.error_k:.0f} K{alone}")
