"""The command line: one module a command; heavy libraries are imported by the command that needs them."""

from __future__ import annotations

import io
import os
import sys
from contextlib import suppress

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
from kilnpack.whole_files import reason_of

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
    """Run the command line; faults of this package's own kind, and those of the disk, end without a traceback."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")  # a screen in an old encoding still shows every finding
    try:
        app(args=with_downs_joined(sys.argv[1:]))
    except KilnpackError as fault:
        told(str(fault))
        sys.exit(fault.exit_code)
    except OSError as fault:
        told(": ".join(str(part) for part in (fault.filename, reason_of(fault)) if part))
        sys.exit(2)
    finally:
        let_go_of_output()


def told(words: str) -> None:
    """Say what went wrong, where the error stream takes it; the exit code says it in any case."""
    with suppress(OSError):
        print(words, file=sys.stderr)


def let_go_of_output() -> None:
    """Write out what is still held back; where nobody takes it, end with exit code 2 instead of a traceback."""
    try:
        sys.stdout.flush()
    except OSError as fault:
        told(f"what was to be said here cannot be written: {reason_of(fault)}")
        # The interpreter would try once more at its end, and complain.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(2)
