"""`kilnpack record init FOLDER`."""

from __future__ import annotations

from kilnpack.cli.options import Folder
from kilnpack.cli.record_options import Address, desk_of


def init(folder: Folder, *, records: Address = None) -> None:
    """Make the records of a works, or bring those of an older kilnpack up to date."""
    from kilnpack.workflow.records import make_records

    print(f"Records at {make_records(desk_of(folder, records, None))}")
    print(f"Take the works in: kilnpack record import {folder}")
