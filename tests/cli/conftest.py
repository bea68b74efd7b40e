"""The one process that commands are forked from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.cli.forked import Commands

if TYPE_CHECKING:
    from collections.abc import Iterator


@pytest.fixture(scope="session")
def commands() -> Iterator[Commands]:
    """Return what runs commands; it has everything imported after the first of them."""
    with Commands() as started:
        yield started
