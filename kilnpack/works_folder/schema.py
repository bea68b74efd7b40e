"""JSON Schema of the saved values, from the same types that are saved and read."""

from __future__ import annotations

import dataclasses
import types
from datetime import date, datetime, time
from enum import StrEnum
from importlib import import_module
from typing import Any, get_args, get_origin

from kilnpack.codec import TAG, VERSION, hints_of, is_data, schema_name, tag_of, union_members

SAVED = {
    "works": "kilnpack.model.works:Works",
    "load": "kilnpack.model.loads:Load",
    "plan": "kilnpack.model.plans:Plan",
    "balance": "kilnpack.heat.balance:HeatBalance",
    "calibrations": "kilnpack.heat.calibration:Calibrations",
}
"""Values that can be saved, by the name that `kilnpack schema` takes: module and class."""


def saved_type(name: str) -> type:
    """Return the class of a saved value by its name; KeyError if there is none."""
    module, _, kind = SAVED[name].partition(":")
    found: type = getattr(import_module(module), kind)
    return found


def schema(kind: type) -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of files that `save_value` writes for a type."""
    parts: dict[str, Any] = {}
    value = _schema(kind, parts)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": schema_name(kind),
        "type": "object",
        "properties": {"schema": {"const": schema_name(kind)}, "version": {"const": VERSION}, "value": value},
        "required": ["schema", "version", "value"],
        "additionalProperties": False,
        "$defs": dict(sorted(parts.items())),
    }


def _schema(kind: Any, parts: dict[str, Any]) -> dict[str, Any]:
    if is_data(kind):
        return _data(kind, parts)
    if union_members(kind):
        return _union(union_members(kind), parts)
    if get_origin(kind) is tuple:
        return _tuple(get_args(kind), parts)
    if get_origin(kind) is dict:
        return {"type": "object", "additionalProperties": _schema(get_args(kind)[1], parts)}
    return _plain(kind)


def _data(kind: Any, parts: dict[str, Any]) -> dict[str, Any]:
    name = tag_of(kind)
    if name not in parts:
        parts[name] = {}  # a place kept, as a class may hold itself
        parts[name] = _properties(kind, parts)
    return {"$ref": f"#/$defs/{name}"}


def _properties(kind: Any, parts: dict[str, Any], tag: str | None = None) -> dict[str, Any]:
    hints = hints_of(kind)
    properties = {item.name: _schema(hints[item.name], parts) for item in dataclasses.fields(kind)}
    needed = [
        item.name
        for item in dataclasses.fields(kind)
        if item.default is dataclasses.MISSING and item.default_factory is dataclasses.MISSING
    ]
    if tag is not None:
        properties, needed = {TAG: {"const": tag}, **properties}, [TAG, *needed]
    said = (kind.__doc__ or "").strip().splitlines()
    return {
        "type": "object",
        "description": said[0] if said else "",
        "properties": properties,
        "required": needed,
        "additionalProperties": False,
    }


def _union(members: tuple[Any, ...], parts: dict[str, Any]) -> dict[str, Any]:
    datas = [member for member in members if is_data(member)]
    if len(datas) < 2:
        return {"anyOf": [_schema(member, parts) for member in members]}
    choices = [_properties(member, parts, tag_of(member)) for member in datas]
    return {"anyOf": choices + [_schema(member, parts) for member in members if not is_data(member)]}


def _tuple(arguments: tuple[Any, ...], parts: dict[str, Any]) -> dict[str, Any]:
    if arguments[-1] is Ellipsis:
        return {"type": "array", "items": _schema(arguments[0], parts)}
    count = len(arguments)
    items = [_schema(one, parts) for one in arguments]
    return {"type": "array", "prefixItems": items, "minItems": count, "maxItems": count}


def _plain(kind: Any) -> dict[str, Any]:
    if isinstance(kind, type) and issubclass(kind, StrEnum):
        return {"enum": [member.value for member in kind]}
    formats = {date: "date", datetime: "date-time", time: "time"}
    if kind in formats:
        # Moments of a works folder carry no offset, so the formats of RFC 3339 do not quite hold.
        return {"type": "string", "description": f"ISO 8601 {formats[kind]}, with or without an offset"}
    names = {str: "string", int: "integer", float: "number", bool: "boolean", types.NoneType: "null"}
    return {"type": names[kind]}
