"""Budgets, seeds, listeners and the executor."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from kilnpack.errors import SolverFault
from kilnpack.search import executor as executors
from kilnpack.search.budget import Budget
from kilnpack.search.listener import Progress, Silent
from kilnpack.search.seeds import split, stream

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize(("seconds", "effort"), [(None, None), (1.0, 1), (-1.0, None), (None, -1)])
def test_budget_is_one_thing_and_not_negative(seconds: float | None, effort: int | None) -> None:
    """Guards the border: seconds or effort, not both, not below nothing."""
    with pytest.raises(ValueError, match="budget"):
        Budget(seconds=seconds, effort=effort)


def test_effort_counts_evaluations_in_thousands() -> None:
    """Guards the meter of effort: a share per evaluation, up when all is spent."""
    meter = Budget(effort=2).start()
    shares = [meter.share]
    for evaluations in (500, 1500):
        meter.spend(evaluations)
        shares.append(meter.share)
    assert shares == [0.0, 0.25, 1.0]
    assert meter.is_up
    assert Budget(effort=0).start().is_up


def test_seconds_run_by_themselves() -> None:
    """Guards the meter of seconds: it is up when the time is, whatever was spent."""
    meter = Budget(seconds=0.01).start()
    meter.spend(10**9)
    time.sleep(0.02)
    assert meter.is_up
    assert meter.elapsed_s >= 0.02
    assert Budget(seconds=0.0).start().is_up
    assert Budget(seconds=1000.0).start().share < 0.01


def test_seeds_repeat_and_part() -> None:
    """Guards repeatability: one seed and path give one stream, others another, workers do not share one."""
    assert stream(3, 1).random() == stream(3, 1).random()
    assert stream(3, 1).random() != stream(3, 2).random()
    assert stream(-1).random() == stream(0xFFFFFFFF).random()
    assert len(set(split(5, 8))) == 8
    assert split(5, 8) == split(5, 8)


def test_silence_lets_the_search_go_on() -> None:
    """Guards the listener that is used where nobody listens."""
    assert Silent().heard(Progress(step="a", value=1.0, share=0.5, elapsed_s=1.0))


def _half(number: int) -> float:
    return number / 2


def _fail(number: int) -> float:
    raise ValueError(number)


@pytest.mark.parametrize("workers", [1, 2])
def test_work_is_done_in_place_or_in_processes(workers: int) -> None:
    """Guards the executor: results and faults come back the same way from one worker and from two."""
    with executors.executor(workers) as pool:
        assert [future.result() for future in [pool.submit(_half, k) for k in range(4)]] == [0.0, 0.5, 1.0, 1.5]
        with pytest.raises(ValueError, match="7"):
            pool.submit(_fail, 7).result()


def test_cores_are_counted_where_the_system_cannot_say_which(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the count of processors on systems without an affinity of processes."""
    assert executors.cores() >= 1
    monkeypatch.delattr(os, "sched_getaffinity", raising=False)
    monkeypatch.setattr(os, "cpu_count", lambda: None)
    assert executors.cores() == 1


def _ended(_: int) -> None:
    os._exit(9)


def test_a_process_that_is_ended_from_outside_is_told() -> None:
    """Guards against a traceback where the system takes a process away for want of memory."""
    with pytest.raises(SolverFault, match="a second process was ended from outside"), executors.processes(1) as pool:
        pool.submit(_ended, 0).result()


PARENT = """
import os, sys
from kilnpack.search.executor import processes
if __name__ == "__main__":
    with processes(1) as pool:
        print(pool.submit(os.getpid).result(), flush=True)
        sys.stdin.read()
"""


def goes_on(pid: int) -> bool:
    """Say whether a process is there and has not ended, asked after or not."""
    try:
        os.kill(pid, 0)
        return ") Z " not in Path(f"/proc/{pid}/stat").read_text()
    except (ProcessLookupError, FileNotFoundError):
        return False


def test_processes_end_with_the_one_they_work_for(tmp_path: Path) -> None:
    """Guards the machine: a command that is killed (-9) leaves no process behind that goes on searching."""
    program = tmp_path / "parent.py"
    program.write_text(PARENT)
    parent = subprocess.Popen(
        [sys.executable, str(program)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    with parent:
        assert parent.stdout is not None
        worker = int(parent.stdout.readline())
        assert goes_on(worker)
        parent.kill()
    until = time.monotonic() + 60.0
    while goes_on(worker) and time.monotonic() < until:
        time.sleep(0.05)
    assert not goes_on(worker)
