"""Guards docs/method/rules.md: its defaults are the code's, its functions exist, and every id of the model is on it."""

from __future__ import annotations

import importlib
import re
from fractions import Fraction
from pathlib import Path

import pytest

from kilnpack.model.kilns import Cooling
from kilnpack.model.settings import WorksSettings
from kilnpack.shared_tables import sources

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "method" / "rules.md").read_text(encoding="utf-8")


def test_defaults_are_those_of_the_code() -> None:
    """Guards that no reader is told a number which the tool does not use."""
    said = re.findall(r"`(\w+)` = (\d+(?:\.\d+)?(?:/\d+)?)", PAGE)
    assert len(said) > 50
    for name, value in said:
        owner = Cooling() if name == "unload_degc" else WorksSettings()
        assert getattr(owner, name) == pytest.approx(float(Fraction(value))), name


def test_functions_and_sources_exist() -> None:
    """Guards that a rule is stated where the page says, and that a source key is one of the shared table."""
    stated = re.findall(r"`(clearances|furniture|heat|strength|standing|supports|sight|chemistry)\.(\w+)`", PAGE)
    assert len(stated) > 30
    for room, name in stated:
        assert callable(getattr(importlib.import_module(f"kilnpack.rules.{room}"), name)), name
    keys = [key for group in re.findall(r"\[(`[a-z0-9`, -]+)\]", PAGE) for key in re.findall(r"`([a-z0-9-]+)`", group)]
    assert len(keys) > 10
    assert not set(keys) - set(sources())


def test_every_rule_the_code_names_is_on_the_page() -> None:
    """Guards against a rule that only the code knows, and the other way round against ids nobody has."""
    on_page = {
        one for row in re.findall(r"^\| ([CFTWZ]\d+(?:, [CFTWZ]\d+)*) \|", PAGE, re.M) for one in row.split(", ")
    }
    assert len(on_page) == 17 + 12 + 14 + 7 + 10
    in_code = set()
    for folder in ("rules", "model", "packing", "planning", "works_folder"):
        for file in (ROOT / "kilnpack" / folder).rglob("*.py"):
            # After a bracket, a quote, a hash, a comma or the word practice.
            in_code |= set(re.findall(r'(?:[("#,] ?|practice )([CFTWZ]\d{1,2})(?=[:,)"; .])', file.read_text("utf-8")))
    assert len(in_code) > 40
    assert not in_code - on_page
