"""Compile every kernel once and keep its machine code: `python -m kilnpack.shapes.warm`.

Kernels live in modules named `..._kernel` or in a package named `kernel`; each offers `warm_up()`, which calls it
with arguments of the types it is used with.
"""

from __future__ import annotations

import importlib
import pkgutil
from typing import TYPE_CHECKING

import kilnpack

if TYPE_CHECKING:
    from collections.abc import Iterable


def kernel_modules() -> tuple[str, ...]:
    """Return the names of the modules that hold kernels."""
    names = (module.name for module in pkgutil.walk_packages(kilnpack.__path__, "kilnpack."))
    return tuple(name for name in names if name.endswith("_kernel") or ".kernel." in name)


def warm(names: Iterable[str]) -> tuple[str, ...]:
    """Warm up the kernel modules that offer it; return their names."""
    warmed = []
    for name in names:
        module = importlib.import_module(name)
        if hasattr(module, "warm_up"):
            module.warm_up()
            warmed.append(name)
    return tuple(warmed)


if __name__ == "__main__":
    warm(kernel_modules())
