"""An interrupt of a real `kilnpack plan` with its second process: the best plan so far is written whole."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from kilnpack.model.plans import Plan
from kilnpack.workflow.planning import audit_plan_file
from kilnpack.works_folder import load_value

STUDIO = Path(__file__).resolve().parents[2] / "demo_orders" / "round_kiln_studio"
NONE_YET, INTERRUPTED = 3, 130


def has_second_process(pid: int) -> bool:
    """Whether a process has children of its own."""
    children = Path(f"/proc/{pid}/task/{pid}/children")
    return len(children.read_text().split()) > 1 if children.exists() else False


def interrupted(out: Path, *, after_s: float) -> tuple[int, str]:
    """Plan the studio, interrupt all its processes as a terminal does, and return exit code and error stream."""
    code = "import sys; from kilnpack.cli.main import run; sys.exit(run())"
    command = [sys.executable, "-c", code, "plan", str(STUDIO), "--out", str(out), "--seconds", "600"]
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True
    )
    try:
        while process.poll() is None and not has_second_process(process.pid):
            time.sleep(0.02)
        time.sleep(after_s)
        os.killpg(process.pid, signal.SIGINT)
        _, told = process.communicate(timeout=300)
    finally:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
    return process.returncode, told


@pytest.mark.parametrize("after_s", [0.0, pytest.param(15.0, marks=pytest.mark.long)])
def test_an_interrupt_gives_the_best_plan_so_far(tmp_path: Path, after_s: float) -> None:
    """Also while the second process is only being started: no traceback, an audited plan, exit 130 (3 if empty)."""
    exit_code, told = interrupted(tmp_path / "plan", after_s=after_s)
    assert "Traceback" not in told
    saved = tmp_path / "plan" / "plan.json"
    plan = load_value(saved, Plan)
    assert plan.cut_short
    assert exit_code == (INTERRUPTED if plan.firings else NONE_YET)
    assert audit_plan_file(STUDIO, saved)[1] == ()
