"""kilnpack: what goes into which firing, when, and where each piece stands."""

import os
from pathlib import Path

__version__ = "0.1.0"


def _writable(folder: Path) -> bool:
    while not folder.exists():
        folder = folder.parent
    return os.access(folder, os.W_OK)


def _give_kernels_a_cache() -> None:
    """Give the compiled kernels a folder for this run, where neither the package nor the home can be written.

    Without one, importing a cached kernel fails. The folder is private and goes with the process: one that others
    could write beforehand would let them choose the code that is run.
    """
    cache = Path(os.environ.get("XDG_CACHE_HOME") or "~/.cache").expanduser()
    if "NUMBA_CACHE_DIR" in os.environ or any(map(_writable, (Path(__file__).parent, cache))):
        return
    import atexit
    import shutil
    import tempfile

    folder = tempfile.mkdtemp(prefix="kilnpack-kernels-")
    os.environ["NUMBA_CACHE_DIR"] = folder
    atexit.register(shutil.rmtree, folder, ignore_errors=True)


_give_kernels_a_cache()
