"""What can only be seen when the pieces of a works are put together: a list of small checks, each yielding findings.

Every check gets the reading (where things were said) and the works (what could be put together). A check that misses
something runs only where the table it would stand in was read without a finding.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.works_folder.checks_backlog import BACKLOG_CHECKS
from kilnpack.works_folder.checks_heat import HEAT_CHECKS
from kilnpack.works_folder.checks_kilns import KILN_CHECKS
from kilnpack.works_folder.checks_places import PLACE_CHECKS
from kilnpack.works_folder.checks_products import PRODUCT_CHECKS
from kilnpack.works_folder.checks_room import ROOM_CHECKS
from kilnpack.works_folder.checks_shapes import SHAPE_CHECKS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from kilnpack.errors import Finding
    from kilnpack.model.works import Works
    from kilnpack.works_folder.reading import Reading

CHECKS: tuple[Callable[[Reading, Works], Iterator[Finding]], ...] = (
    *SHAPE_CHECKS,
    *PRODUCT_CHECKS,
    *KILN_CHECKS,
    *PLACE_CHECKS,
    *HEAT_CHECKS,
    *ROOM_CHECKS,
    *BACKLOG_CHECKS,
)


def cross_findings(reading: Reading, works: Works) -> list[Finding]:
    """Return the findings of all checks."""
    return [finding for check in CHECKS for finding in check(reading, works)]
