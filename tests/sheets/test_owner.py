"""The owner's page."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

from kilnpack.heat.report import LitLoad, energy_report
from kilnpack.model.kilns import LiningLayer
from kilnpack.model.orders import LotKind
from kilnpack.sheets.charts import waterfall
from kilnpack.sheets.energy_rows import owner_rows
from kilnpack.sheets.owner import write_owner_page
from kilnpack.sheets.owner_values import CostStep
from tests.sheets.small_plan import OWNER
from tests.sheets.small_works import LOAD, WORKS

if TYPE_CHECKING:
    from pathlib import Path


LINING = (
    LiningLayer(material="mullite brick", thickness_mm=114.0),
    LiningLayer(material="fireclay brick", thickness_mm=114.0),
)


def test_the_waterfall_ends_in_the_sum_of_its_steps() -> None:
    """Guards the chart: 31.20 + 64.40 + 41.00 + 55.50 - 4.10 + 220.00 = 408.00, each step beside its name.

    Of it 188.00 are energy within 30 %, so the sum is within 56 and said in tens.
    """
    text = waterfall(OWNER.steps, title="cost", currency="EUR").decode()
    for step in OWNER.steps:
        assert f">{step.name}<" in text
    assert ">410<" in text
    known = waterfall([replace(step, range_share=0.0) for step in OWNER.steps], title="cost", currency="EUR").decode()
    assert ">408.00<" in known
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
        assert "2 firings: about 1,100 kWh (800 to 1,500), 410 EUR, 230 kg" in flat
        assert "122 good pieces expected: 9.3 kWh and 3.3 EUR each" in flat
        assert "0 readings" in flat
        assert "off by 30% either way" in flat
        assert "Reed cup, white" in flat
    assert "5.1 %" in html
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


def test_energy_of_firings_becomes_rows_that_add_up() -> None:
    """Guards the bridge: steps sum to the bills, parts that are nothing are left out, every firing has its code.

    Good cups to be expected: 12 of each of 8 tiers in the glost kiln, less 8 % scrap = 84 x 0.92.
    """
    works = replace(WORKS, kilns=tuple(replace(kiln, lining=LINING) for kiln in WORKS.kilns))
    report = energy_report(works, [LitLoad(load=LOAD, lit_at=works.now)])
    rows = owner_rows(works, report, ["F1"], extra=[CostStep(name="people", money=100.0)])
    assert sum(step.money for step in rows.steps) == pytest.approx(report.money + 100.0)
    assert rows.steps[-1].name == "people"
    assert all(step.money != 0.0 for step in rows.steps)
    assert [row.firing for row in rows.firings] == ["F1"]
    assert rows.firings[0].pieces == LOAD.pieces
    cups = next(row for row in rows.products if row.product == "CUP-W")
    assert cups.good_pieces == pytest.approx(84 * 0.92)
    assert cups.without == "B960"


def test_a_remark_is_said_once_for_a_kiln_and_programme() -> None:
    """Guards the summary of many firings: the same remark with other figures is not repeated."""
    works = replace(WORKS, kilns=tuple(replace(kiln, lining=LINING) for kiln in WORKS.kilns))
    lit = [LitLoad(load=LOAD, lit_at=works.now + timedelta(days=2 * k)) for k in range(2)]
    report = energy_report(works, lit)
    assert all(fired.balance.remarks for fired in report.firings)
    told = [remark for remark in owner_rows(works, report, ["F1", "F2"]).remarks if remark.startswith("SHUTTLE, G1385")]
    assert len(told) == len(report.firings[0].balance.remarks)


def test_energy_nobody_carries_is_said(tmp_path: Path) -> None:
    """Guards honesty: a firing of samples only has its energy told apart, and fitted readings are counted."""
    works = replace(
        WORKS,
        kilns=tuple(replace(kiln, lining=LINING) for kiln in WORKS.kilns),
        lots=tuple(replace(lot, kind=LotKind.SAMPLE) for lot in WORKS.lots),
    )
    rows = owner_rows(works, energy_report(works, [LitLoad(load=LOAD, lit_at=works.now)]), ["F1"])
    assert any("carry no ware" in remark for remark in rows.remarks)
    fitted = replace(rows, readings=4, range_share=0.1)
    assert "fitted to 4 meter readings" in write_owner_page(fitted, tmp_path).html.read_text(encoding="utf-8")


def test_a_works_without_good_pieces_or_range_still_has_a_page(tmp_path: Path) -> None:
    """Guards the empty cases: no product, calibrated energy."""
    html = write_owner_page(replace(OWNER, products=(), range_share=0.0), tmp_path).html.read_text(encoding="utf-8")
    assert "good pieces expected" not in html
    assert "meter" not in html
