"""Compile every kernel once and keep its machine code: `python -m kilnpack.shapes.warm`.

Kernels live in modules named `..._kernel` or in a package named `kernel`; each offers `warm_up()`, which calls it
with arguments of the types it is used with. What others call comes first, and two processes share the work: a kernel
compiled by one is loaded by the other.
"""

from __future__ import annotations

import gc
import importlib
import os
import pkgutil
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from typing import TYPE_CHECKING

import kilnpack

if TYPE_CHECKING:
    from collections.abc import Iterable


CALLED_BY_OTHERS = ("descent", "spots", "places")
"""Modules compiled before all others, that which takes longest first."""
CALLERS = ("search", "press")
"""Modules compiled next: one shelf needs no more."""

PROCESSES = 2
"""More would compile the same kernels again for each other."""


def kernel_modules() -> tuple[str, ...]:
    """Return the names of the modules that hold kernels."""
    names = (module.name for module in pkgutil.walk_packages(kilnpack.__path__, "kilnpack."))
    return tuple(name for name in names if name.endswith("_kernel") or ".kernel." in name)


def warm(names: Iterable[str]) -> tuple[str, ...]:
    """Warm up the kernel modules that offer it; return their names.

    The garbage collector rests meanwhile: it would go through the compiler's many objects again and again.
    """
    warmed = []
    collects = gc.isenabled()
    gc.disable()
    try:
        for name in names:
            module = importlib.import_module(name)
            if hasattr(module, "warm_up"):
                module.warm_up()
                warmed.append(name)
    finally:
        if collects:
            gc.enable()
    return tuple(warmed)


def warm_side_by_side(names: Iterable[str]) -> tuple[str, ...]:
    """Warm up the kernel modules in processes of their own, as many as there are processors, two at most.

    What is called by others is kept before they are begun, so that nothing is compiled twice.
    """
    rank = {name: number for number, name in enumerate((*CALLED_BY_OTHERS, *CALLERS))}
    ordered = sorted(names, key=lambda name: rank.get(_last(name), len(rank)))
    first = [name for name in ordered if _last(name) in CALLED_BY_OTHERS]
    rest = [name for name in ordered if _last(name) not in CALLED_BY_OTHERS]
    warmed: list[str] = []
    with ProcessPoolExecutor(min(PROCESSES, os.cpu_count() or 1), mp_context=get_context("spawn")) as pool:
        for part in (first, rest):
            for done in pool.map(warm, [(name,) for name in part]):
                warmed += done
    return tuple(warmed)


def _last(name: str) -> str:
    return name.rpartition(".")[2]


if __name__ == "__main__":
    warm_side_by_side(kernel_modules())
