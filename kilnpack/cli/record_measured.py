"""`kilnpack record measured FOLDER FIRING`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from kilnpack.cli.options import Folder
from kilnpack.cli.record_options import Address, By, FiringCode, desk_of


def measured(
    folder: Folder,
    code: FiringCode,
    *,
    kwh: Annotated[float | None, typer.Option(min=0.0, help="Energy of the firing as billed.")] = None,
    m3: Annotated[float | None, typer.Option(min=0.0, help="Gas as the meter turned, with --gross-kwh-per-m3.")] = None,
    gross_kwh_per_m3: Annotated[float | None, typer.Option(min=0.0, help="Gross heat of a metered m3.")] = None,
    before: Annotated[str | None, typer.Option(help="Programme of the firing before, where the kiln was warm.")] = None,
    stood_h: Annotated[float | None, typer.Option(min=0.0, help="Hours since the end of that fire.")] = None,
    cones: Annotated[Path | None, typer.Option(help="Table of witness cones.")] = None,
    cooling: Annotated[Path | None, typer.Option(help="Table of the cooling: after_h, chamber_degc.")] = None,
    records: Address = None,
    by: By = None,
) -> None:
    """Keep what meter, cones and thermometer said of a firing; the masses are those of its load."""
    if kwh is None and m3 is None and cones is None and cooling is None:
        raise typer.BadParameter("give --kwh, --m3, --cones or --cooling")
    from kilnpack.workflow.records import Metered, take_measured

    meter = None
    if kwh is not None or m3 is not None:
        meter = Metered(
            metered_kwh=kwh, metered_m3=m3, gross_kwh_per_m3=gross_kwh_per_m3, before=before, stood_h=stood_h
        )
    counts = take_measured(desk_of(folder, records, by), code, meter=meter, cones=cones, cooling=cooling)
    words = zip(counts, ("of the meter", "of cones", "of the cooling"), strict=True)
    print(f"Firing {code}: " + ", ".join(f"{count} {what}" for count, what in words if count))
