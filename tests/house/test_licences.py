"""The check of licences and pins: nothing that is pinned goes by unseen, nothing that binds or is unknown passes."""

from __future__ import annotations

from pathlib import Path

import pytest

from scripts.licences import (
    BOUND_ALL_THE_SAME,
    BY_HAND,
    LOCKS,
    brought_along,
    is_free,
    licence_faults,
    lock_faults,
    pins,
)

ROOT = Path(__file__).resolve().parents[2]
HASH = " \\\n    --hash=sha256:00\n"


def test_every_pinned_library_is_looked_at() -> None:
    """Guards the two lock files as they are, and that names given by hand are still pinned."""
    assert licence_faults(ROOT) == []
    pinned = pins((ROOT / LOCKS[1]).read_text(encoding="utf-8"))[0].keys()
    assert pinned >= BY_HAND.keys() | BOUND_ALL_THE_SAME.keys()
    needed = pins((ROOT / LOCKS[0]).read_text(encoding="utf-8"))[0].keys()
    assert not needed & BOUND_ALL_THE_SAME.keys()


def test_what_libraries_bring_along_is_found() -> None:
    """Guards the walk: matplotlib brings six of its own, one of them six, which kilnpack does not name."""
    assert {"contourpy", "cycler", "python-dateutil", "pyparsing"} <= brought_along(["kilnpack"])
    assert "pluggy" in brought_along(["kilnpack[checkout]"]) - brought_along(["kilnpack"])


@pytest.mark.parametrize(
    ("licence", "free"),
    [
        ("MIT", True), ("BSD-3-Clause AND 0BSD AND MIT AND Zlib AND CC0-1.0", True), ("MIT OR GPL-3.0-only", True),
        ("BSD-2-Clause AND Apache-2.0 WITH LLVM-exception", True), ("MPL-2.0", True),
        ("License :: OSI Approved :: BSD License", True),
        ("GPL-3.0-only", False), ("MIT AND GPL-2.0-or-later", False), ("LGPL-3.0-only", False), ("AGPLv3", False),
        ("MIT | License :: OSI Approved :: GNU General Public License v3 (GPLv3)", False),
        ("Proprietary", False), ("CC-BY-NC-4.0", False), ("Ask the author", False), ("", False),
        ("(MIT OR Apache-2.0) AND GPL-3.0-only", False), ("MIT AND Unknown-1.0", False),
    ],
)  # fmt: skip
def test_a_licence_that_binds_or_is_unknown_does_not_pass(licence: str, free: bool) -> None:
    """Guards words: a free licence beside one that binds frees nothing, and silence is no licence."""
    assert is_free(licence) == free


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("nowhere-to-be-found==1.0" + HASH, "nowhere-to-be-found is not installed"),
        ("nowhere-to-be-found==1.0 ; sys_platform == 'plan9'" + HASH, "is under no licence that it names"),
        ("psycopg==3.2" + HASH, "psycopg is under LGPL-3.0-only"),
        ("numpy==2.0\n", "numpy has no hash"),
        ("numpy==2.0 \\\nclick==8.0" + HASH, "numpy has no hash"),
        ("numpy>=2.0" + HASH, "'numpy>=2.0 \\\\' is no pin of one version"),
        ("numpy @ file:///tmp/numpy" + HASH, "is no pin of one version"),
        ("git+ssh://there/numpy" + HASH, "is no pin of one version"),
    ],
)
def test_what_is_wrong_with_a_lock_file_is_said(text: str, said: str) -> None:
    """Guards the check itself: what is not seen, binds, has no hash or no version is a fault."""
    found = list(lock_faults("requirements.lock", text, bound_too=False))
    assert any(said in fault for fault in found), found
    assert list(lock_faults("requirements.lock", "# by hand\nnumpy==2.0" + HASH, bound_too=False)) == []
