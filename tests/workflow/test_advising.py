"""Gains of what-ifs: packed with equal effort, sorted, noise said, energy beside them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from kilnpack.errors import InputFaulty
from kilnpack.packing.what_if import what_ifs
from kilnpack.search.budget import Budget
from kilnpack.workflow import advising
from kilnpack.workflow.advising import Advice, advise
from kilnpack.workflow.many_loads import load_kilns
from kilnpack.works_folder import load_value, read_works

if TYPE_CHECKING:
    from pathlib import Path


def test_each_change_is_one_thing(studio: Path) -> None:
    """Guards the list: the works as it is comes first, then one shelf, posts of every height, and limits."""
    works = read_works(studio)
    asked = what_ifs(works, works.kiln("R1"), works.programme("GLOST"))
    assert asked[0].what == "as it is"
    assert asked[0].works == works
    words = [one.what for one in asked]
    assert "1 more shelf H270" in words
    assert sum("more posts of" in word for word in words) == len(works.furniture.posts)
    assert any("over the shelf edge" in word for word in words)
    assert any("lower" in word for word in words)
    assert all(one.works != works for one in asked[1:])
    more = next(one.works for one in asked if one.what == "1 more shelf H270")
    assert more.furniture.shelves[0].sound_pieces == works.furniture.shelves[0].sound_pieces + 1


@pytest.mark.long
def test_gains_are_sorted_and_written(studio: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the table: base first without a gain, then by gain; the file reads back equal; energy is told."""
    works = read_works(studio)
    kept = list(what_ifs(works, works.kiln("R1"), works.programme("GLOST")))[:3]
    monkeypatch.setattr(advising, "what_ifs", lambda *_rest: kept)
    advice, saved = advise(studio, "R1", "GLOST", tmp_path / "out", effort=3, seeds=2)
    assert advice.rows[0].what == "as it is"
    assert advice.rows[0].gain_share == 0.0
    gains = [row.gain_share for row in advice.rows[1:]]
    assert gains == sorted(gains, reverse=True)
    assert all(row.noise_share >= 0.0 for row in advice.rows)
    assert all(row.kwh is not None and row.kwh > 0 and row.kwh_per_piece is not None for row in advice.rows)
    assert load_value(saved, Advice) == advice


def test_a_kiln_named_twice_is_a_finding(studio: Path, tmp_path: Path) -> None:
    """Guards several kilns at once: each is named once, or nothing is packed and written."""
    with pytest.raises(InputFaulty, match="every kiln once"):
        load_kilns(studio, ["R1", "R1"], "GLOST", tmp_path / "none", budget=Budget(effort=1))
    assert not (tmp_path / "none").exists()
