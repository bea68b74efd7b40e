"""The owner's page."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

from kilnpack.sheets.charts import waterfall
from kilnpack.sheets.owner import write_owner_page
from kilnpack.sheets.plan_rows import CostStep
from tests.sheets.small_plan import OWNER

if TYPE_CHECKING:
    from pathlib import Path


def test_the_waterfall_ends_in_the_sum_of_its_steps() -> None:
    """Guards the chart: 31.20 + 64.40 + 41.00 + 55.50 - 4.10 + 220.00 = 408.00, each step beside its name."""
    text = waterfall(OWNER.steps, title="cost", currency="EUR").decode()
    for step in OWNER.steps:
        assert f">{step.name}<" in text
    assert ">408.00<" in text
    assert waterfall(OWNER.steps, title="cost", currency="EUR").decode() == text


def test_every_step_begins_where_the_one_before_ended() -> None:
    """Guards the waterfall's geometry: left ends are the running sum of the widths before."""
    steps = [CostStep(name=str(k), money=money) for k, money in enumerate((10.0, 20.0, 30.0))]
    text = waterfall(steps, title="cost", currency="EUR").decode()
    spans = []
    for data in re.findall(r'<path d="([^"]+)" clip-path[^>]*style="fill: (?:url|#f6d899)', text):
        xs = [float(x) for x, _ in re.findall(r"[ML] ([-\d.]+) ([-\d.]+)", data)]
        spans.append((min(xs), max(xs)))
    starts = sorted(set(spans))
    assert starts[1][0] == pytest.approx(starts[0][1], abs=0.01)
    assert starts[2][0] == pytest.approx(starts[1][1], abs=0.01)


def test_the_page_says_what_a_good_piece_costs(tmp_path: Path) -> None:
    """Guards the figures by hand: 1140 kWh and 408 EUR over 122 good pieces, within 30 % while uncalibrated."""
    paths = write_owner_page(OWNER, tmp_path)
    html = paths.html.read_text(encoding="utf-8")
    text = "".join(page.extract_text() for page in PdfReader(paths.pdf).pages)
    for told in (html, text):
        flat = " ".join(told.split())
        assert "122 good pieces: 9.34 kWh and 3.34 EUR each" in flat
        assert "between about 798 and 1,482 kWh" in flat
        assert "Reed cup, white" in flat
    assert "5%" in html
    assert paths.chart_png.read_bytes()[:4] == b"\x89PNG"
    assert "http" not in re.sub(r'xmlns(:\w+)?="[^"]*"', "", html)


def test_the_page_repeats_and_names_stay_text(tmp_path: Path) -> None:
    """Guards equal bytes and hostile names."""
    rows = replace(OWNER, works="<script>", products=tuple(replace(p, name="<b>&") for p in OWNER.products))
    first, second = write_owner_page(rows, tmp_path / "a"), write_owner_page(rows, tmp_path / "b")
    for one, other in zip(
        (first.html, first.pdf, first.chart_svg, first.chart_png),
        (second.html, second.pdf, second.chart_svg, second.chart_png),
        strict=True,
    ):
        assert one.read_bytes() == other.read_bytes()
    assert "<script" not in first.html.read_text(encoding="utf-8")
    assert "&lt;b&gt;&amp;" in first.html.read_text(encoding="utf-8")


def test_a_works_without_good_pieces_or_range_still_has_a_page(tmp_path: Path) -> None:
    """Guards the empty cases: no product, calibrated energy."""
    html = write_owner_page(replace(OWNER, products=(), range_share=None), tmp_path).html.read_text(encoding="utf-8")
    assert "good pieces:" not in html
    assert "calibrated" not in html
