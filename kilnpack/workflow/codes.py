"""Codes given at the command line, looked up in the works."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty

if TYPE_CHECKING:
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works


def kiln_and_programme(works: Works, kiln_code: str, programme_code: str) -> tuple[Kiln, Programme]:
    """Return the kiln and the programme of a firing.

    Raises
    ------
    InputFaulty
        With a finding for every code that the works does not know, or for a kiln that does not fire the programme.
    """
    kilns = {kiln.code: kiln for kiln in works.kilns}
    programmes = {programme.code: programme for programme in works.programmes}
    faults = [
        _unknown(option, code, [*known])
        for option, code, known in (("--kiln", kiln_code, kilns), ("--programme", programme_code, programmes))
        if code not in known
    ]
    if faults:
        raise InputFaulty(faults)
    kiln = kilns[kiln_code]
    if programme_code not in kiln.programmes:
        wanted = f"one that {kiln_code} fires: {', '.join(kiln.programmes)}"
        raise InputFaulty([Finding(file="command", row=None, field="--programme", found=programme_code, wanted=wanted)])
    return kiln, programmes[programme_code]


def _unknown(option: str, code: str, known: list[str]) -> Finding:
    near = get_close_matches(code, known, n=1)
    wanted = f"{near[0]}?" if near else f"one of {', '.join(known) or 'none (the works has none)'}"
    return Finding(file="command", row=None, field=option, found=code, wanted=wanted)
