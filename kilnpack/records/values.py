"""Frozen values in the records: written by the codec of saved values, read back with every fault told."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar, cast

from kilnpack.codec import VERSION, decode, encode
from kilnpack.errors import Finding, InputFaulty

if TYPE_CHECKING:
    from collections.abc import Iterable

    from kilnpack.records.base import Plain

_Value = TypeVar("_Value")


def plain_of(value: object) -> Plain:
    """Return a frozen value as it is kept."""
    return cast("dict[str, Any]", encode(value, type(value)))


def value_of(plain: Plain, kind: type[_Value], *, version: int, where: str) -> _Value:
    """Return the frozen value that is kept.

    Parameters
    ----------
    version
        Of the saved values when it was kept.
    where
        What it is, for findings, such as ``plan P1``.

    Raises
    ------
    InputFaulty
        It was kept by a version whose values can no longer be read, or was changed from outside.
    """
    if version != VERSION:
        wanted = f"values of version {VERSION}"
        raise InputFaulty([_finding(where, "version", str(version), wanted)])
    value, faults = decode(plain, kind)
    if faults:
        raise InputFaulty(_finding(where, fault.place, fault.found, fault.wanted) for fault in faults)
    return cast("_Value", value)


def _finding(where: str, field: str, found: str, wanted: str) -> Finding:
    return Finding(file=f"records, {where}", row=None, field=field, found=found, wanted=wanted)


def refuse(findings: Iterable[Finding]) -> None:
    """Refuse input that has findings.

    Raises
    ------
    InputFaulty
        There is at least one.
    """
    found = tuple(dict.fromkeys(findings))
    if found:
        raise InputFaulty(found)


def of_command(field: str, found: str, wanted: str) -> Finding:
    """Return a finding on what someone asked for, by command or on a page."""
    return Finding(file="command", row=None, field=field, found=found, wanted=wanted)
