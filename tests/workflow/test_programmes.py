"""Programme sheets: for a load and for all programmes of a works."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

from kilnpack.model.kilns import EnergyKind
from kilnpack.model.programmes import Atmosphere
from kilnpack.sheets.programme_curve import HourBar, draw_programme
from kilnpack.sheets.programme_facts import programme_facts
from kilnpack.workflow.programmes import usual_load, with_heat_words, write_programmes
from kilnpack.works_folder import read_works

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.model.works import Works
    from kilnpack.workflow.loading import LoadedKiln
    from kilnpack.workflow.planning import PlannedWorks


@pytest.fixture(scope="module")
def works(studio: Path) -> Works:
    """Return the works with gas and electricity."""
    return read_works(studio.parent / "porcelain_works")


def text_of(path: Path) -> str:
    """Return the words of a PDF."""
    return " ".join(" ".join(page.extract_text() for page in PdfReader(path).pages).split())


def test_a_load_has_its_programme_sheet(loaded: LoadedKiln) -> None:
    """Beside the loading sheet: curve, ramps, cones by place, cautions, in both forms."""
    told = text_of(loaded.programme.pdf)
    page = loaded.programme.html.read_text(encoding="utf-8")
    for words in (
        "this load of",
        "How fast the ware may go",
        "Heat work by place",
        "Segments",
        "not fitted to a meter",
    ):
        assert words in told
        assert words in page
    assert "This sheet does not say that a kiln" in told
    assert "quartz 573" in page
    assert "http" not in re.sub(r'xmlns(:\w+)?="[^"]*"', "", page)


def test_every_programme_gets_a_sheet(studio: Path, tmp_path: Path) -> None:
    """Two programmes of one kiln, two sheets of two files; equal folders give equal bytes."""
    written = write_programmes(studio, tmp_path / "a")
    again = write_programmes(studio, tmp_path / "b")
    assert [paths.pdf.name for paths in written] == ["programme-r1-bisc.pdf", "programme-r1-glost.pdf"]
    for one, other in zip(written, again, strict=True):
        assert one.pdf.read_bytes() == other.pdf.read_bytes()
        assert one.html.read_bytes() == other.html.read_bytes()


def test_gas_has_its_windows_air_and_cautions(works: Works) -> None:
    """A reduction glost names its gases, its air ratios, and warns of carbon monoxide and purging; no tariff table."""
    kiln, programme = works.kiln("G1"), works.programme("GLOST")
    facts = programme_facts(works, kiln, programme, usual_load(works, kiln, programme))
    assert {"gas", "reduction"} <= set(facts.cautions)
    assert "raw ware" not in facts.cautions
    assert "REDUCTION λ 0.95" in facts.picture.body
    assert [row[-1] for row in facts.segments] == ["1.5", "1.2", "0.95", "1.02"]
    assert facts.hours == ()
    assert "gross" in " ".join(facts.summary)


def test_night_tariff_shows_when_to_light(works: Works) -> None:
    """The cheapest hour is marked, more of it by night than by day; raw ware has its caution and its drying limit."""
    kiln, programme = works.kiln("E1"), works.programme("BISC")
    facts = programme_facts(works, kiln, programme, usual_load(works, kiln, programme), lit_h=20.0)
    shares = {row[0]: float(row[1].rstrip("%")) for row in facts.hours}
    cheapest = next(row[0] for row in facts.hours if "cheapest" in row[2])
    assert shares[cheapest] == max(shares.values())
    assert facts.segments[0][5] == "20:00"
    assert "raw ware" in facts.cautions
    assert facts.ramps[0][1].startswith("drying")


def test_a_kiln_without_lining_or_heat_says_so(works: Works) -> None:
    """No lining: no energy, and the rest of the sheet stands; a flame that cannot reach the peak is a note."""
    kiln, programme = works.kiln("G1"), works.programme("GLOST")
    bare = replace(kiln, lining=())
    facts = programme_facts(works, bare, programme, usual_load(works, bare, programme))
    assert "Energy is not told" in " ".join(facts.summary)
    assert "kWh" not in facts.picture.body
    airy = replace(programme, segments=tuple(replace(one, lambda_factor=3.0) for one in programme.segments))
    told = usual_load(works, kiln, airy)
    assert told.balance is None
    assert any("less air" in note for note in told.notes)


def test_no_ware_limits_nothing(works: Works) -> None:
    """A programme that no product uses has no ramp limits."""
    kiln, programme = works.kiln("E1"), works.programme("BISC")
    nothing = replace(works, products=())
    facts = programme_facts(nothing, kiln, programme, usual_load(nothing, kiln, programme))
    assert facts.ramps == ()
    assert "nothing limits" in facts.ramp_words


def test_bars_are_as_long_as_their_energy(works: Works) -> None:
    """The day part and the night part of each hour stack to its energy; the last hour is cut at the end."""
    programme = replace(works.programme("COL790"), atmosphere=Atmosphere.OXIDATION)
    bars = [HourBar(kwh=10.0, night_share=0.25), HourBar(kwh=20.0, night_share=0.0)]
    body = draw_programme(programme, bars, lit_h=21.75, width_mm=180.0).body
    rects = re.findall(r'<rect x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="([\d.]+)" fill="(#\w+)"', body)
    tall = {fill: [float(row[3]) for row in rects if row[4] == fill] for fill in ("#F6D899", "#BBD3E6")}
    assert tall["#F6D899"][0] == pytest.approx(3.0 * tall["#BBD3E6"][0], rel=0.01)
    assert tall["#F6D899"][1] == pytest.approx(2.0 * (tall["#F6D899"][0] + tall["#BBD3E6"][0]), rel=0.01)
    assert works.kiln("E1").energy.kind is EnergyKind.ELECTRIC


@pytest.mark.long
def test_loads_of_a_plan_say_missed_windows_once(studio: Path, planned: PlannedWorks) -> None:
    """A window that no place meets is said in every load of that ware, and said again it stands once."""
    works = read_works(studio)
    narrow = tuple(
        replace(product, route=tuple(replace(step, low_degc=1500.0, high_degc=None) for step in product.route))
        for product in works.products
    )
    hot = replace(works, products=narrow)
    said = with_heat_words(hot, planned.plan)
    assert all(any("Heat window" in remark for remark in firing.load.remarks) for firing in said.firings)
    assert with_heat_words(hot, said) == said
