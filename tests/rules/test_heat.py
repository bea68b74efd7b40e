"""Guards the heat of places, furniture and ware: Z1, Z2, F1."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilnpack.model.kilns import OffsetMap, OffsetReading
from kilnpack.model.pieces import Stage
from kilnpack.model.settings import WorksSettings
from kilnpack.rules.heat import furniture_degc, offset_ends_k, offset_range_k, window_degc, window_met
from kilnpack.shared_tables import table
from tests.rules.small_rules import changed, kiln, works

SETTINGS = WorksSettings()
READ = (
    OffsetReading(x_mm=0.0, y_mm=0.0, z_mm=0.0, offset_k=-6.0),
    OffsetReading(x_mm=300.0, y_mm=0.0, z_mm=0.0, offset_k=12.0),
)
MAPPED = kiln(offsets=(OffsetMap(stage=Stage.BISCUIT, spread_k=15.0), OffsetMap(stage=Stage.GLOST, readings=READ)))


@pytest.mark.source("ams-2750f", "furnace classes, table 11: class 4 is +-10")
def test_default_spread_is_a_class_of_the_standard() -> None:
    """Guards Z1: what a works that has read no cones is given is the spread of furnace class 4."""
    classes = {row["class"]: float(row["tolerance_k"]) for row in table("uniformity")}
    assert classes == {"1": 3.0, "2": 6.0, "3": 8.0, "4": 10.0, "5": 14.0, "6": 28.0}
    assert SETTINGS.offset_spread_k == classes["4"]
    assert offset_range_k(SETTINGS, kiln(), Stage.GLOST, (0.0, 0.0, 0.0)) == (-10.0, 10.0)


@pytest.mark.source("ams-2750f", "furnace classes, table 11")
@pytest.mark.parametrize("row", table("uniformity"), ids=lambda row: f"class {row['class']}")
def test_a_surveyed_kiln_takes_its_class_as_spread(row: dict[str, str]) -> None:
    """Guards Z1: the tolerance of a class, set for a works or for one kiln, is what every place may be off by."""
    tolerance = float(row["tolerance_k"])
    of_works = replace(SETTINGS, offset_spread_k=tolerance)
    of_kiln = kiln(offsets=(OffsetMap(stage=Stage.GLOST, spread_k=tolerance),))
    for settings, one in ((of_works, kiln()), (SETTINGS, of_kiln)):
        assert offset_range_k(settings, one, Stage.GLOST, (1.0, 2.0, 3.0)) == (-tolerance, tolerance)
        assert furniture_degc(settings, 1400.0, offset_ends_k(settings, one, Stage.GLOST)[1]) == 1410.0 + tolerance


def test_offsets_between_readings() -> None:
    """Guards Z1. 100 mm from -6 and 200 mm from +12: weights 4 to 1, (-24 + 12) / 5 = -2.4 K; at a reading its own."""
    at_third = offset_range_k(SETTINGS, MAPPED, Stage.GLOST, (100.0, 0.0, 0.0))
    assert at_third == pytest.approx((-2.4, -2.4))
    assert offset_range_k(SETTINGS, MAPPED, Stage.GLOST, (300.0, 0.0, 0.0)) == (12.0, 12.0)
    assert offset_ends_k(SETTINGS, MAPPED, Stage.GLOST) == (-6.0, 12.0)
    assert offset_range_k(SETTINGS, MAPPED, Stage.BISCUIT, (9.0, 9.0, 9.0)) == (-15.0, 15.0)
    assert offset_ends_k(SETTINGS, MAPPED, Stage.DECORATION) == (-10.0, 10.0)


@given(at=st.tuples(*[st.floats(-500, 900)] * 3))
def test_no_place_is_hotter_than_the_hottest_reading(at: tuple[float, float, float]) -> None:
    """Guards F1 with Z1: furniture that stands the ends of the map stands every place."""
    low, high = offset_range_k(SETTINGS, MAPPED, Stage.GLOST, at)
    assert -6.0 - 1e-9 <= low == high <= 12.0 + 1e-9


@pytest.mark.source("shelf-maker-data", "cordierite, top temperature")
@pytest.mark.source("sic-data", "nitride-bonded and recrystallised silicon carbide, top temperature")
def test_cordierite_never_serves_a_glost_at_1400() -> None:
    """Guards F1: 1400 and 10 K of offset and 10 K of overshoot bar cordierite and let silicon carbide pass."""
    rows = [row for row in table("shelf_strength") if row["property"] == "top temperature"]
    top = {row["material"]: float(row["low"]) for row in rows}
    asked = furniture_degc(SETTINGS, 1400.0, 10.0)
    assert asked == 1420.0
    assert top["cordierite"] < asked
    assert top["silicon-infiltrated silicon carbide"] < asked
    assert top["nitride-bonded silicon carbide"] > asked
    assert top["recrystallised silicon carbide"] > asked
    assert furniture_degc(SETTINGS, 1000.0, 10.0) < top["cordierite"]


def test_windows_of_product_glaze_and_decoration_meet() -> None:
    """Guards Z2: the narrowest of all windows that count in the stage, and None where nobody says anything."""
    made = changed(works(), "glazes", "white", low_degc=1380.0, high_degc=1420.0)
    made = changed(made, "decorations", "gold", low_degc=780.0, high_degc=830.0)
    product = next(row for row in made.products if row.glaze == "white" and row.code.startswith("cup"))
    biscuit, glost, decoration = product.route
    assert window_degc(made, product, replace(biscuit, low_degc=None, high_degc=None)) == (None, None)
    assert window_degc(made, product, replace(glost, low_degc=1390.0, high_degc=1430.0)) == (1390.0, 1420.0)
    assert window_degc(made, product, replace(decoration, low_degc=790.0, high_degc=None)) == (790.0, 830.0)


@pytest.mark.parametrize(
    ("window", "met"),
    [
        ((None, None), True),
        ((1390.0, 1410.0), True),
        ((1390.5, None), False),
        ((None, 1409.5), False),
        ((1390.0, None), True),
        ((None, 1410.0), True),
    ],
)
def test_both_ends_lie_in_the_window(window: tuple[float | None, float | None], met: bool) -> None:
    """Guards Z2: 1400 known to +-10 K meets a window only if 1390 and 1410 both do."""
    assert window_met(window, 1390.0, 1410.0) is met
