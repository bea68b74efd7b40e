"""`kilnpack record ...`: the commands that keep what was really fired."""

from __future__ import annotations

import typer

from kilnpack.cli.record_condemn import condemn
from kilnpack.cli.record_deliver import deliver
from kilnpack.cli.record_export import export
from kilnpack.cli.record_firing import firing
from kilnpack.cli.record_import import import_works
from kilnpack.cli.record_init import init
from kilnpack.cli.record_inspect import inspect
from kilnpack.cli.record_list import list_firings
from kilnpack.cli.record_measured import measured
from kilnpack.cli.record_plan import plan

record = typer.Typer(
    help="Keep what was really fired: works, plans, firings, inspections, readings.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
for name, command in (
    ("init", init),
    ("import", import_works),
    ("plan", plan),
    ("list", list_firings),
    ("firing", firing),
    ("inspect", inspect),
    ("measured", measured),
    ("deliver", deliver),
    ("condemn", condemn),
    ("export", export),
):
    record.command(name)(command)
