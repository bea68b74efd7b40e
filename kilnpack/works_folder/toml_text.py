"""Plain data to the text of a TOML file; the standard library only reads them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date, time
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator


def toml_text(data: Mapping[str, Any]) -> str:
    """Return the text of a TOML file: keys, then tables, then lists of tables, in their order; None is left out."""
    return "\n".join(_table(data, "")).strip() + "\n"


def _table(data: Mapping[str, Any], path: str) -> Iterator[str]:
    inner = {key: item for key, item in data.items() if _is_table(item) or _is_list_of_tables(item)}
    for key, item in data.items():
        if key not in inner and item is not None:
            yield f"{key} = {_value(item)}"
    for key, item in inner.items():
        where = f"{path}.{key}" if path else key
        for one in item if _is_list_of_tables(item) else (item,):
            yield ""
            yield f"[[{where}]]" if _is_list_of_tables(item) else f"[{where}]"
            yield from _table(one, where)


def _is_table(item: object) -> bool:
    """Tell whether a mapping is written as a table of its own: all but outlines, which stay in one line."""
    return isinstance(item, Mapping) and "shape" not in item


def _is_list_of_tables(item: object) -> bool:
    return isinstance(item, list) and bool(item) and all(isinstance(one, Mapping) for one in item)


def _value(item: Any) -> str:
    if isinstance(item, bool):
        return "true" if item else "false"
    if isinstance(item, str):
        return json.dumps(item, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(item, date | time):
        return item.isoformat()
    if isinstance(item, Mapping):
        return "{ " + ", ".join(f"{key} = {_value(one)}" for key, one in item.items() if one is not None) + " }"
    if isinstance(item, list | tuple):
        return "[" + ", ".join(_value(one) for one in item) + "]"
    return repr(item)
