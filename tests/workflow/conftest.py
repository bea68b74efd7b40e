"""One load and one plan of the studio, made once for all tests of the workflow."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from kilnpack.search.budget import Budget
from kilnpack.workflow.loading import load_kiln
from kilnpack.workflow.planning import plan_works

if TYPE_CHECKING:
    from kilnpack.workflow.loading import LoadedKiln
    from kilnpack.workflow.planning import PlannedWorks

ORDERS = Path(__file__).resolve().parents[2] / "demo_orders"


@pytest.fixture(scope="session")
def studio() -> Path:
    """Return the folder of the studio."""
    return ORDERS / "round_kiln_studio"


@pytest.fixture(scope="session")
def loaded(studio: Path, tmp_path_factory: pytest.TempPathFactory) -> LoadedKiln:
    """Return a small load of the studio's glost."""
    out = tmp_path_factory.mktemp("load") / "new"
    return load_kiln(studio, "R1", "GLOST", out, budget=Budget(effort=40), seed=3)


@pytest.fixture(scope="session")
def planned(studio: Path, tmp_path_factory: pytest.TempPathFactory) -> PlannedWorks:
    """Return a quick plan of the studio."""
    return plan_works(studio, tmp_path_factory.mktemp("plan") / "new", budget=Budget(effort=60), seed=3)
