"""What all tests share: the named sources, and properties that repeat."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

from kilnpack.shared_tables import sources

if TYPE_CHECKING:
    from collections.abc import Iterable

# Properties draw the same examples on every machine; the time of one example says nothing of the code.
settings.register_profile(
    "repeatable", derandomize=True, deadline=None, database=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("repeatable")


def source_faults(items: Iterable[pytest.Item], known: Iterable[str]) -> list[str]:
    """Return one line for each `source` mark that names no known source or no place in it."""
    keys = set(known)
    faults = []
    for item in items:
        for mark in item.iter_markers("source"):
            if len(mark.args) != 2 or mark.kwargs or not all(isinstance(arg, str) and arg for arg in mark.args):
                faults.append(f"{item.nodeid}: source wants two texts, the key and the place; found {mark.args}")
            elif mark.args[0] not in keys:
                faults.append(f"{item.nodeid}: source {mark.args[0]!r} is not in shared/sources.toml")
    return faults


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Refuse to run while a test names a source that the project does not know."""
    faults = source_faults(items, sources())
    if faults:
        raise pytest.UsageError("\n".join(faults))
