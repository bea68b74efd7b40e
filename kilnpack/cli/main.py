"""The command line: one module a command; heavy libraries are imported by the command that needs them."""

from __future__ import annotations

import sys

import typer

from kilnpack.cli.audit import audit
from kilnpack.cli.backlog import backlog
from kilnpack.cli.calibrate import calibrate
from kilnpack.cli.check import check
from kilnpack.cli.compare import compare
from kilnpack.cli.energy import energy
from kilnpack.cli.fill import fill
from kilnpack.cli.gain import gain
from kilnpack.cli.learnt import learnt
from kilnpack.cli.load import load
from kilnpack.cli.new import new
from kilnpack.cli.options import with_downs_joined
from kilnpack.cli.plan import plan
from kilnpack.cli.programmes import programmes
from kilnpack.cli.promise import promise
from kilnpack.cli.record import record
from kilnpack.cli.reload import reload
from kilnpack.cli.schema import schema
from kilnpack.cli.serve import person, serve
from kilnpack.cli.tradeoff import tradeoff
from kilnpack.errors import KilnpackError

app = typer.Typer(
    name="kilnpack",
    help="Firings, their order, and the place of every piece in the kiln.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,  # plain help costs a third of the time
)
for command in (
    new,
    check,
    load,
    reload,
    audit,
    plan,
    compare,
    promise,
    backlog,
    fill,
    gain,
    tradeoff,
    energy,
    calibrate,
    programmes,
    learnt,
    schema,
    serve,
    person,
):
    app.command()(command)
app.add_typer(record, name="record")


def run() -> None:
    """Run the command line; faults of this package's own kind end with their exit code and no traceback."""
    try:
        app(args=with_downs_joined(sys.argv[1:]))
    except KilnpackError as fault:
        print(fault, file=sys.stderr)
        sys.exit(fault.exit_code)
