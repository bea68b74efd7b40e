"""Values saved as JSON and read back: a name, a version, and the value."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

from kilnpack.codec import VERSION, Fault, decode, encode, is_data, schema_name
from kilnpack.errors import Finding, InputFaulty
from kilnpack.whole_files import put_whole
from kilnpack.words import kind_of, named, shown
from kilnpack.works_folder.grids import TooLarge, bytes_of
from kilnpack.works_folder.json_text import plain_json

if TYPE_CHECKING:
    from pathlib import Path

_Value = TypeVar("_Value")

MOST_SAVED_BYTES = 50_000_000
"""A plan of 31 firings has 1.7 MB."""


def save_value(path: Path, value: object, *, beside: bool = False) -> Path:
    """Save a frozen value as JSON; returns where it stands.

    Parameters
    ----------
    beside
        Where what stands at `path` cannot be replaced, save it beside under another name and say so.

    Raises
    ------
    SheetNotWritten
        The place is full, read-only or not there; what stood at `path` before still stands there.
    """
    kind = type(value)
    if not is_data(kind):
        raise TypeError(f"{kind.__name__} is no frozen data")
    whole = {"schema": schema_name(kind), "version": VERSION, "value": encode(value, kind)}
    text = json.dumps(whole, ensure_ascii=False, allow_nan=False, indent=1)
    return put_whole(path, (text + "\n").encode(), beside=beside)


def saved_as(path: Path) -> str:
    """Return the name under which a file says it was saved, such as ``kilnpack plan``; empty where it says none.

    Raises
    ------
    InputFaulty
        The file is no JSON object.
    """
    name = _plain(path)[0].get("schema")
    return name if isinstance(name, str) else ""


def load_value(path: Path, kind: type[_Value]) -> _Value:
    """Return a saved value of a type.

    Raises
    ------
    InputFaulty
        With every fault of the file.
    """
    whole, twice = _plain(path)
    faults = [
        _finding(path, heading, whole.get(heading), wanted)
        for heading, wanted in (("schema", schema_name(kind)), ("version", VERSION))
        if whole.get(heading) != wanted
    ]
    faults += [
        Finding(file=named(path), row=None, field=key, found="an unknown key", wanted="schema, version and value only")
        for key in whole
        if key not in ("schema", "version", "value")
    ]
    if "value" not in whole:
        faults = faults or [_finding(path, "value", None, "the value")]
    value, inner = decode(whole["value"], kind) if not faults else (None, [])
    faults += [
        Finding(file=named(path), row=None, field=fault.place, found=fault.found, wanted=fault.wanted)
        for fault in (*twice, *inner)
    ]
    if faults:
        raise InputFaulty(faults)
    return value  # type: ignore[return-value]


def _finding(path: Path, field: str, found: object, wanted: object) -> Finding:
    return Finding(
        file=named(path), row=None, field=field, found="" if found is None else shown(found), wanted=str(wanted)
    )


def _plain(path: Path) -> tuple[dict[str, Any], list[Fault]]:
    """Return the object that a JSON file holds, and its keys that are there more than once."""
    try:
        whole, twice = plain_json(bytes_of(path, MOST_SAVED_BYTES).decode("utf-8-sig"))
    except TooLarge as fault:
        raise InputFaulty(
            [Finding(file=named(path), row=None, field="", found=str(fault), wanted=fault.wanted)]
        ) from fault
    except json.JSONDecodeError as fault:
        raise InputFaulty([_no_json(path, "no JSON from here on", row=fault.lineno, column=fault.colno)]) from fault
    except UnicodeDecodeError as fault:
        raise InputFaulty([_no_json(path, "bytes that are no text in UTF-8")]) from fault
    except OSError as fault:
        raise InputFaulty([_no_json(path, fault.strerror or "a file that cannot be read")]) from fault
    except RecursionError as fault:
        raise InputFaulty([_no_json(path, "lists in lists without an end")]) from fault
    except ValueError as fault:
        raise InputFaulty([_no_json(path, "a number of thousands of digits")]) from fault
    if not isinstance(whole, dict):
        raise InputFaulty([_no_json(path, kind_of(whole))])
    # What stands in the value is named without it, as the decoder does.
    return whole, [replace(fault, place=fault.place.removeprefix("value.")) for fault in twice]


def _no_json(path: Path, found: str, *, row: int | None = None, column: int | None = None) -> Finding:
    wanted = "a saved value in JSON, as kilnpack schema describes"
    place = f"column {column}" if column else ""
    return Finding(file=named(path), row=row, field=place, found=found, wanted=wanted)
