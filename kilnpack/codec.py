"""Frozen data to plain values (for JSON and TOML) and back, with every fault named by its place.

One walk over the types of the dataclasses serves works folders and saved values. Where a field may hold one of
several dataclasses, a tag says which: the key `is`, with the class's name in small words.
"""

from __future__ import annotations

import dataclasses
import re
import sys
import types
from dataclasses import dataclass, field
from datetime import date, datetime, time
from enum import StrEnum
from functools import cache
from typing import Any, Union, get_args, get_origin, get_type_hints

from kilnpack.words import MOST_FINDINGS, listed, nearest, shown, text_fault

TAG = "is"
VERSION = 1
"""Version of the saved values; it goes up when an older file can no longer be read."""
MOST_WHOLE = 1e15
"""Whole numbers beyond it are slips of the pen, and would fill a screen."""
_MISSING = object()


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """Something wrong at a place such as ``kilns[G1].places[A].x_mm``."""

    place: str
    found: str
    wanted: str


class _TooMany(Exception):
    """More faults than are told of one file."""


@dataclass(slots=True, kw_only=True)
class Decoding:
    """One decoding: the faults met so far."""

    tag: str = TAG
    faults: list[Fault] = field(default_factory=list)

    def fault(self, place: str, found: object, wanted: str) -> object:
        """Note a fault; returns the mark of a missing value.

        Raises
        ------
        _TooMany
            There are so many that no more are told.
        """
        if len(self.faults) >= MOST_FINDINGS:
            self.faults.append(Fault(place="", found=f"more than {MOST_FINDINGS} faults", wanted="these mended first"))
            raise _TooMany
        self.faults.append(Fault(place=place, found=shown(found), wanted=wanted))
        return _MISSING


def decode(plain: object, kind: Any, *, place: str = "", tag: str = TAG) -> tuple[Any, list[Fault]]:
    """Return the value of a type from plain data, and every fault; the value is None where there is one."""
    decoding = Decoding(tag=tag)
    try:
        value = _decode(decoding, plain, kind, place)
    except _TooMany:
        value = _MISSING
    return (None if decoding.faults else value), decoding.faults


def encode(value: object, kind: Any) -> object:
    """Return plain data (dict, list, text, number, bool, None) for a value of a type.

    Empty lists and values equal to their default are written out, so that a file says all there is to say.
    """
    if value is None:
        return None
    if union_members(kind):
        return _encode_member(value, union_members(kind))
    if is_data(kind):
        hints = hints_of(kind)
        return {item.name: encode(getattr(value, item.name), hints[item.name]) for item in dataclasses.fields(kind)}
    if get_origin(kind) is tuple:
        return [encode(item, one) for item, one in zip(_items(value), item_kinds(kind, _items(value)), strict=True)]
    if get_origin(kind) is dict:
        return {key: encode(item, get_args(kind)[1]) for key, item in dict(value).items()}  # type: ignore[call-overload]
    return _encode_plain(value, kind)


def _encode_member(value: object, members: tuple[Any, ...]) -> object:
    member = _member_for(value, members)
    plain = encode(value, member)
    if isinstance(plain, dict) and len([one for one in members if is_data(one)]) > 1:
        return {TAG: tag_of(member), **plain}
    return plain


def _encode_plain(value: object, kind: Any) -> object:
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, StrEnum):
        return value.value
    return float(value) if kind is float else value  # type: ignore[arg-type]


def _items(value: object) -> tuple[object, ...]:
    return tuple(value)  # type: ignore[arg-type]


def _member_for(value: object, members: tuple[Any, ...]) -> Any:
    data = next((member for member in members if is_data(member) and type(value) is member), None)
    return data or next(member for member in members if member is not types.NoneType and not is_data(member))


@cache
def hints_of(kind: Any) -> dict[str, Any]:
    """Return the types of a dataclass's fields, aliases resolved."""
    return get_type_hints(kind)


def is_data(kind: Any) -> bool:
    """Tell whether a type is a dataclass."""
    return isinstance(kind, type) and dataclasses.is_dataclass(kind)


def union_members(kind: Any) -> tuple[Any, ...]:
    """Return the members of a union, nothing for other types."""
    return get_args(kind) if get_origin(kind) in (Union, types.UnionType) else ()


def item_kinds(kind: Any, items: tuple[object, ...]) -> tuple[Any, ...]:
    """Return the type of each item of a tuple type."""
    arguments: tuple[Any, ...] = get_args(kind)
    return (arguments[0],) * len(items) if arguments[-1] is Ellipsis else arguments


def tag_of(kind: type) -> str:
    """Return the name of a class in small words: ``HalfDisc`` is ``half disc``."""
    return re.sub(r"(?<=[a-z0-9])(?=[A-Z])", " ", kind.__name__).lower()


def schema_name(kind: type) -> str:
    """Return the name under which values of a type are saved, such as ``kilnpack load``."""
    return f"kilnpack {tag_of(kind)}"


def _decode(decoding: Decoding, plain: object, kind: Any, place: str) -> object:
    if is_data(kind):
        return _data(decoding, plain, kind, place)
    if union_members(kind):
        return _union(decoding, plain, union_members(kind), place)
    if get_origin(kind) is tuple:
        return _tuple(decoding, plain, kind, place)
    if get_origin(kind) is dict:
        return _dict(decoding, plain, get_args(kind)[1], place)
    return _plain(decoding, plain, kind, place)


def _data(decoding: Decoding, plain: object, kind: Any, place: str) -> object:
    if not isinstance(plain, dict):
        return decoding.fault(place, plain, f"keys of {tag_of(kind)}")
    names = {item.name: item for item in dataclasses.fields(kind)}
    before = len(decoding.faults)
    for key in plain:
        if key not in names:
            wanted = f"a key of {tag_of(kind)}{nearest(str(key), names) or ': ' + listed(names, most=40)}"
            decoding.fault(_inside(place, str(key)), "an unknown key", wanted)
    values = {}
    for name, item in names.items():
        if name in plain:
            values[name] = _decode(decoding, plain[name], hints_of(kind)[name], _inside(place, name))
        elif item.default is dataclasses.MISSING and item.default_factory is dataclasses.MISSING:
            decoding.fault(_inside(place, name), "", "a value; it has no default")
    return kind(**values) if len(decoding.faults) == before else _MISSING


def _inside(place: str, name: str) -> str:
    return f"{place}.{name}" if place else name


def _union(decoding: Decoding, plain: object, members: tuple[Any, ...], place: str) -> object:
    if plain is None and types.NoneType in members:
        return None
    datas = {tag_of(member): member for member in members if is_data(member)}
    others = [member for member in members if member is not types.NoneType and not is_data(member)]
    if len(datas) > 1 and (isinstance(plain, dict) or not others):
        name = plain.get(decoding.tag) if isinstance(plain, dict) else None
        if not isinstance(plain, dict) or not isinstance(name, str) or name not in datas:
            return decoding.fault(_inside(place, decoding.tag), name or "", f"one of {listed(datas)}")
        return _data(decoding, {key: plain[key] for key in plain if key != decoding.tag}, datas[name], place)
    if datas and (isinstance(plain, dict) or not others):
        return _data(decoding, plain, next(iter(datas.values())), place)
    if len(others) == 1:
        return _decode(decoding, plain, others[0], place)
    return _first_that_fits(decoding, plain, others, place)


def _first_that_fits(decoding: Decoding, plain: object, kinds: list[Any], place: str) -> object:
    """Decode as the first plain type that fits, such as int before str."""
    for kind in kinds:
        value, faults = decode(plain, kind, place=place, tag=decoding.tag)
        if not faults:
            return value
    return decoding.fault(place, plain, f"one of {listed(str(getattr(kind, '__name__', kind)) for kind in kinds)}")


def _tuple(decoding: Decoding, plain: object, kind: Any, place: str) -> object:
    if not isinstance(plain, list | tuple):
        return decoding.fault(place, plain, "a list")
    items = tuple(plain)
    kinds = item_kinds(kind, items)
    if len(kinds) != len(items):
        return decoding.fault(place, plain, f"a list of {len(kinds)}")
    return tuple(
        _decode(decoding, item, one, f"{place}[{label(item, number)}]")
        for number, (item, one) in enumerate(zip(items, kinds, strict=True), start=1)
    )


def label(item: object, number: int) -> str:
    """Name an item of a list by its code where it has one, else by its number from 1."""
    code = item.get("code") if isinstance(item, dict) else None
    return code if isinstance(code, str) and code else str(number)


def _dict(decoding: Decoding, plain: object, kind: Any, place: str) -> object:
    if not isinstance(plain, dict):
        return decoding.fault(place, plain, "keys with values")
    return {key: _decode(decoding, item, kind, _inside(place, str(key))) for key, item in plain.items()}


def _plain(decoding: Decoding, plain: object, kind: Any, place: str) -> object:
    if isinstance(kind, type) and issubclass(kind, StrEnum):
        return _choice(decoding, plain, kind, place)
    if kind is float:
        return _float(decoding, plain, place)
    if kind in (date, datetime, time):
        return _when(decoding, plain, kind, place)
    if kind is int:
        return _whole(decoding, plain, place)
    return _text(decoding, plain, place) if kind is str else _yes_no(decoding, plain, place)


def _text(decoding: Decoding, plain: object, place: str) -> object:
    wanted = text_fault(plain) if isinstance(plain, str) else "a text"
    return decoding.fault(place, plain, wanted) if wanted else plain


def _yes_no(decoding: Decoding, plain: object, place: str) -> object:
    return plain if isinstance(plain, bool) else decoding.fault(place, plain, "true or false")


def _whole(decoding: Decoding, plain: object, place: str) -> object:
    if isinstance(plain, bool) or not isinstance(plain, int | float) or plain != plain // 1:
        return decoding.fault(place, plain, "a whole number")
    if abs(plain) < MOST_WHOLE:
        return int(plain)
    return decoding.fault(place, "a very large number", f"a whole number under {MOST_WHOLE:g}")


def _choice(decoding: Decoding, plain: object, kind: type[StrEnum], place: str) -> object:
    known = [member.value for member in kind]
    if plain in known:
        return kind(plain)
    return decoding.fault(place, plain, f"one of {listed(known)}{nearest(str(plain), known)}")


def _float(decoding: Decoding, plain: object, place: str) -> object:
    if isinstance(plain, bool) or not isinstance(plain, int | float):
        return decoding.fault(place, plain, "a number")
    if abs(plain) <= sys.float_info.max:
        return float(plain)
    return decoding.fault(place, plain if isinstance(plain, float) else "a very large number", "a finite number")


def _when(decoding: Decoding, plain: object, kind: Any, place: str) -> object:
    example = {date: "2026-12-01", datetime: "2026-12-01T07:30:00", time: "07:30:00"}[kind]
    wanted = f"a value such as {example}"
    if isinstance(plain, str):
        try:
            plain = kind.fromisoformat(plain)
        except ValueError:
            return decoding.fault(place, plain, wanted)
    if type(plain) is not kind:
        return decoding.fault(place, plain, wanted)
    return plain
