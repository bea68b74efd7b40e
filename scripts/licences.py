"""Under which licences the pinned libraries are: every one is looked at, also those that others bring along.

What is not installed here because it is pinned for another system, or says nothing of its licence, is named below.
"""

from __future__ import annotations

import re
from importlib import metadata
from typing import TYPE_CHECKING

from packaging.markers import Marker
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

LOCKS = ("requirements.lock", "requirements-dev.lock")
FREE = re.compile(r"\b(MIT|BSD|Apache|PSF|Python Software Foundation|HPND|ISC|Zlib|MPL|Mozilla|0BSD|CC0)\b", re.I)
"""Licences that ask for their notice; MPL asks for the source of its own files as well, which nobody changes here."""
BOUND = re.compile(
    r"GPL|\b(?:GNU|Affero|EUPL|SSPL|CDDL|EPL|OSL|CC-BY-(?:NC|SA|ND)|Commons Clause|Proprietary|Other/Proprietary)\b",
    re.I,
)
"""Licences that reach further than their own files, or forbid something."""
BY_HAND = {
    "axe-playwright-python": "MIT",  # its file LICENSE says so, its metadata nothing
    "colorama": "BSD-3-Clause",  # only on Windows; read in the package of the pinned version
    "httpx2-jsfetch": "BSD-3-Clause",  # only inside a browser; read in the package of the pinned version
}
BOUND_ALL_THE_SAME = {
    "psycopg": "the extra postgresql, which whoever wants it installs; neither changed nor handed on",
    "psycopg-binary": "the same",
}
HEADINGS = ("License-Expression", "License")
_PIN = re.compile(r"^([A-Za-z0-9][A-Za-z0-9._-]*)==[^\s;]+(?:\s*;\s*([^\\\n]+?))?\s*\\?$")


def pins(text: str) -> tuple[dict[str, str], list[str]]:
    """Return the marker of every library of a lock file by its name, and what is wrong with the file's lines.

    Every line that is not a comment is a pin ``name==version``, and a hash follows each.
    """
    found: dict[str, str] = {}
    faults: list[str] = []
    hashed = True
    last = ""
    for line in [*text.splitlines(), ""]:
        if line.startswith("    --hash=sha256:"):
            hashed = True
        elif line and not line.startswith("#"):
            faults += [] if hashed else [f"{last} has no hash"]
            match = _PIN.match(line)
            if match is None:
                faults.append(f"{line[:60]!r} is no pin of one version")
                continue
            last, hashed = canonicalize_name(match[1]), False
            found[last] = match[2] or ""
    return found, faults if hashed else [*faults, f"{last} has no hash"]


def said_of(name: str) -> str:
    """Return what an installed library says of its licence, in one line."""
    told = metadata.metadata(name)
    expression = told.get("License-Expression")
    if expression:
        return expression
    texts = [told.get("License") or ""]
    texts += [line for line in told.get_all("Classifier") or [] if line.startswith("License ::")]
    return " | ".join(" ".join(text.split())[:200] for text in texts if text)


def is_free(licence: str) -> bool:
    """Tell whether a licence asks for nothing but its notice: every part of it, or one that may be chosen."""
    choices = re.split(r"\bOR\b", licence) if "(" not in licence else [licence]
    return any(
        all(FREE.search(part) and not BOUND.search(part) for part in re.split(r"\bAND\b", choice)) for choice in choices
    )


def lock_faults(name: str, text: str, *, bound_too: bool) -> Iterator[str]:
    """Yield every library of a lock file that is not looked at, or under a licence that is unknown or binds.

    Parameters
    ----------
    bound_too
        Whether those of `BOUND_ALL_THE_SAME` may stand in it.
    """
    found, faults = pins(text)
    yield from (f"{name}: {fault}" for fault in faults)
    for library, marker in found.items():
        try:
            licence = said_of(library) or BY_HAND.get(library, "")
        except metadata.PackageNotFoundError:
            licence = BY_HAND.get(library, "")
            if not marker or Marker(marker).evaluate():
                yield f"{name}: {library} is not installed, so that nobody sees its licence"
                continue
        if not is_free(licence) and not (bound_too and library in BOUND_ALL_THE_SAME):
            yield f"{name}: {library} is under {licence or 'no licence that it names'}"


def brought_along(requirements: Iterable[str]) -> set[str]:
    """Return the names of all libraries that these need on this machine, those that they bring along included."""
    waiting = [Requirement(text) for text in requirements]
    seen: set[tuple[str, str]] = set()
    while waiting:
        wanted = waiting.pop()
        name = canonicalize_name(wanted.name)
        for extra in ("", *wanted.extras):
            if (name, extra) in seen:
                continue
            seen.add((name, extra))
            try:
                further = [Requirement(text) for text in metadata.requires(name) or ()]
            except metadata.PackageNotFoundError:
                continue
            waiting += [one for one in further if one.marker is None or one.marker.evaluate({"extra": extra})]
    return {name for name, _ in seen}


def licence_faults(root: Path) -> list[str]:
    """The licence is there; every pinned library and what it brings along is free, pinned and hashed."""
    faults = [] if (root / "LICENSE").is_file() else ["LICENSE is missing"]
    for name, extra in zip(LOCKS, ("checkout", "dev"), strict=True):
        text = (root / name).read_text(encoding="utf-8")
        faults += lock_faults(name, text, bound_too=extra == "dev")
        missing = brought_along([f"kilnpack[{extra}]"]) - pins(text)[0].keys() - {"kilnpack"}
        faults += [f"{name}: {one} is brought along and not pinned" for one in sorted(missing)]
    return faults
