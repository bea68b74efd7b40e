"""JSON to plain data, and every key that an object has more than once: the library would keep the last in silence."""

from __future__ import annotations

import json
from functools import partial
from typing import TYPE_CHECKING, Any

from kilnpack.codec import Fault, label
from kilnpack.words import MOST_FINDINGS, listed, shown

if TYPE_CHECKING:
    from collections.abc import Iterator

WANTED = "each key once"


class _Twice(dict[str, Any]):
    """An object with a key more than once; `pairs` are all it says."""

    def __init__(self, pairs: list[tuple[str, Any]]) -> None:
        super().__init__(pairs)
        self.pairs = pairs


def plain_json(text: str) -> tuple[Any, list[Fault]]:
    """Return the plain data of a JSON text, and a fault for every key that is there more than once.

    Places are those that `kilnpack.codec.decode` names. Of such a key the last value is in the data.

    Raises
    ------
    ValueError
        As the library does.

    References
    ----------
    `rfc-8259`: section 4, names within an object should be unique.
    """
    met: list[_Twice] = []
    whole = json.loads(text, object_pairs_hook=partial(_object, met))
    faults: list[Fault] = []
    for fault in _doubled(whole) if met else ():
        if len(faults) >= MOST_FINDINGS:
            faults.append(Fault(place="", found=f"more than {MOST_FINDINGS} faults", wanted="these mended first"))
            break
        faults.append(fault)
    return whole, faults


def _object(met: list[_Twice], pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    whole = dict(pairs)
    if len(whole) < len(pairs):
        whole = _Twice(pairs)
        met.append(whole)
    return whole


def _doubled(whole: object) -> Iterator[Fault]:
    """Walk through all that was said, also what a later value of the same key hides; without calls inside calls."""
    waiting: list[tuple[str, object]] = [("", whole)]
    while waiting:
        place, node = waiting.pop()
        inside: list[tuple[str, object]] = []
        if isinstance(node, dict):
            pairs = node.pairs if isinstance(node, _Twice) else list(node.items())
            inside = [(f"{place}.{key}" if place else key, value) for key, value in pairs]
            if isinstance(node, _Twice):
                yield from _of(inside)
        elif isinstance(node, list):
            inside = [(f"{place}[{label(item, number)}]", item) for number, item in enumerate(node, start=1)]
        waiting += reversed(inside)


def _of(inside: list[tuple[str, object]]) -> Iterator[Fault]:
    """Yield a fault for every key of an object that is there more than once."""
    said: dict[str, list[str]] = {}
    for place, value in inside:
        said.setdefault(place, []).append(shown(value))
    for place, values in said.items():
        if len(values) > 1:
            yield Fault(place=place, found=f"{len(values)} times: {listed(values, most=4)}", wanted=WANTED)
