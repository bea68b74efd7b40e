"""Guards the rule that a number of the model carries its unit in its name."""

from __future__ import annotations

import dataclasses
import importlib
import pkgutil
import re
import typing
from typing import TYPE_CHECKING

import pytest

import kilnpack.model

if TYPE_CHECKING:
    from collections.abc import Iterator

UNIT = re.compile(
    r"_(mm|mm2|mm3|m|m2|m3|kg|g|degc|k|h|min|s|kwh|mj|kj|kw|w|mpa|pa|money|pieces|nm3_h|k_h|kg_m3|w_m_k|j_kg_k|pct|deg|days|shelves)$"
    r"|_per_[a-z0-9]+$"
)
# Numbers that have no unit are named for what they are.
NO_UNIT = re.compile(r"_(share|factor|ratio|weight)$")


def numbers_in(annotation: object) -> bool:
    """Say whether a field holds a plain number with a fraction, alone or in a tuple."""
    return annotation is float or any(numbers_in(part) for part in typing.get_args(annotation))


def fields_of_the_model() -> Iterator[tuple[str, str, object]]:
    """Yield class, field and annotation of every dataclass of the model."""
    for module in pkgutil.walk_packages(kilnpack.model.__path__, "kilnpack.model."):
        for kind in vars(importlib.import_module(module.name)).values():
            if isinstance(kind, type) and dataclasses.is_dataclass(kind) and kind.__module__ == module.name:
                annotations = typing.get_type_hints(kind)
                for field in dataclasses.fields(kind):
                    yield f"{kind.__module__}.{kind.__qualname__}", field.name, annotations[field.name]


def nameless(name: str, annotation: object) -> bool:
    """Say whether a field holds a number without saying its unit or that it has none."""
    return numbers_in(annotation) and not (UNIT.search(name) or NO_UNIT.search(name))


def test_every_number_of_the_model_says_its_unit() -> None:
    """A field with a fraction ends in its unit, or in one of the few words for a number without one."""
    fields = list(fields_of_the_model())
    assert fields
    assert [f"{kind}.{name}" for kind, name, annotation in fields if nameless(name, annotation)] == []


@pytest.mark.parametrize(
    ("name", "annotation", "wanted"),
    [
        ("height", float, True),
        ("height", float | None, True),
        ("profile", tuple[tuple[float, float], ...], True),
        ("height_mm", float, False),
        ("price_money_per_kwh", float | None, False),
        ("balance_share", float, False),
        ("code", str, False),
        ("row", int, False),
    ],
)
def test_the_rule_sees_a_number_wherever_it_hides(name: str, annotation: object, wanted: bool) -> None:
    """Optional numbers and tuples of numbers count as numbers; texts and counts do not."""
    assert nameless(name, annotation) is wanted
