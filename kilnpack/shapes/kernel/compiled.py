"""The one place that knows how a kernel is compiled and where its machine code is kept."""

# mypy: disable-error-code="no-untyped-call"
# (the compiler for numbers carries no types)

from __future__ import annotations

import hashlib
import os
import stat
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable


def _writable(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        probe = folder / f".probe{os.getpid()}"
        probe.touch()
        probe.unlink()
    except OSError:
        return False
    return True


def _private(folder: Path) -> bool:
    """Say whether nobody else can write to a folder, made where it is missing.

    Machine code is loaded from it: a folder laid out beforehand by someone else would choose what is run.
    """
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        found = folder.lstat()
    except OSError:
        return False
    own = not hasattr(os, "getuid") or (found.st_uid == os.getuid() and not found.st_mode & 0o077)
    return stat.S_ISDIR(found.st_mode) and own


def _digest(folder: Path) -> str:
    """Return a digest of all sources in a folder."""
    digest = hashlib.sha256()
    for source in sorted(folder.glob("*.py")):
        digest.update(source.read_bytes())
    return digest.hexdigest()


def _choose_cache() -> None:
    """Point the compiler's cache at a folder that can be written, unless the user chose one.

    Importing a cached kernel fails where neither the package's folder nor the user's cache can be written.
    """
    if "NUMBA_CACHE_DIR" in os.environ or _writable(Path(__file__).parent / "__pycache__"):
        return
    user = os.getuid() if hasattr(os, "getuid") else "user"
    fallback = Path(tempfile.gettempdir()) / f"kilnpack-kernels-{user}-{_digest(Path(__file__).parent)[:12]}"
    if _private(fallback) and _writable(fallback):
        os.environ["NUMBA_CACHE_DIR"] = str(fallback)


def _drop_stale(folder: Path) -> None:
    """Forget machine code built from other sources.

    A kernel's cache entry looks at its own file only, while the code of what it calls is built into it.
    """
    digest = _digest(folder)
    cache = folder / "__pycache__"
    stamp = cache / "kernels.sha256"
    try:
        if stamp.exists() and stamp.read_text() == digest:
            return
        for entry in [*cache.glob("*.nbi"), *cache.glob("*.nbc")]:
            entry.unlink(missing_ok=True)
        stamp.write_text(digest)
    except OSError:
        return


_choose_cache()
_drop_stale(Path(__file__).parent)

import numba  # noqa: E402  (after the cache folder is known)


def kernel(function: Callable[..., Any]) -> Any:
    """Compile a kernel lazily, cached on disk, without the interpreter's lock."""
    return numba.njit(cache=True, nogil=True, error_model="numpy")(function)


def small(function: Callable[..., Any]) -> Any:
    """Compile a small helper that disappears into its caller."""
    return numba.njit(forceinline=True, error_model="numpy")(function)


if numba.config.DISABLE_JIT:  # type: ignore[attr-defined]

    def borrowed(*arrays: Any) -> Any:
        """Return the arrays; without the compiler nothing is counted."""
        return arrays

else:
    from numba.core import cgutils, types
    from numba.extending import intrinsic
    from numba.np.arrayobj import make_array

    @intrinsic
    def borrowed(_context, *arrays):  # type: ignore[no-untyped-def]
        """Return arrays whose references are not counted, for use inside a kernel while the caller holds them.

        Counting takes an atomic step for every array at every call, even of what is compiled into one piece: a
        quarter of the time of a search. The arrays must outlive the use: they are arguments of the kernel, or are
        named once more at its end.
        """

        def build(context, builder, signature, values):  # type: ignore[no-untyped-def]
            rows = []
            for kind, value in zip(arrays, cgutils.unpack_tuple(builder, values[0]), strict=True):
                row = make_array(kind)(context, builder, value)
                row.meminfo = cgutils.get_null_value(row.meminfo.type)
                row.parent = cgutils.get_null_value(row.parent.type)
                rows.append(row._getvalue())
            return context.make_tuple(builder, signature.return_type, rows)

        return types.Tuple(arrays)(types.StarArgTuple(arrays)), build
