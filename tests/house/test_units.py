"""Guards the changes of unit: each against its definition, and each pair as the inverse of the other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilnpack import units

if TYPE_CHECKING:
    from collections.abc import Callable

PAIRS = [
    (units.k_from_degc, units.degc_from_k),
    (units.kwh_from_mj, units.mj_from_kwh),
    (units.kwh_from_j, units.j_from_kwh),
    (units.m_from_mm, units.mm_from_m),
    (units.h_from_s, units.s_from_h),
]


@pytest.mark.source("si-brochure", "section 2.3.1, definition of the kelvin: t/degC = T/K - 273.15")
def test_the_ice_point_is_273_15_kelvin() -> None:
    """The two temperature scales differ by exactly 273.15."""
    assert units.k_from_degc(0.0) == 273.15
    assert units.degc_from_k(273.15) == 0.0


@pytest.mark.source("si-brochure", "table 8, hour = 3600 s; with W = J/s a kilowatt hour is 3.6 MJ")
def test_a_kilowatt_hour_is_3_6_megajoules() -> None:
    """Energy in kWh, MJ and J and time in h and s agree with the definition of the hour."""
    assert units.mj_from_kwh(1.0) == 3.6
    assert units.kwh_from_mj(36.0) == 10.0
    assert units.j_from_kwh(1.0) == 3.6e6
    assert units.kwh_from_j(1.8e6) == 0.5
    assert units.h_from_s(5400.0) == 1.5
    assert units.s_from_h(0.25) == 900.0
    assert units.KJ_PER_KWH == 3600.0


@pytest.mark.source("si-brochure", "table 7, milli = 1e-3 and kilo = 1e3")
def test_millimetres_and_grams_are_thousandths() -> None:
    """Lengths, areas, volumes and masses follow the prefixes, squared and cubed."""
    assert units.m_from_mm(1250.0) == 1.25
    assert units.mm_from_m(0.5) == 500.0
    assert units.m2_from_mm2(2e6) == 2.0
    assert units.m3_from_mm3(3e9) == 3.0
    assert units.kg_from_g(450.0) == 0.45


@pytest.mark.parametrize(("there", "back"), PAIRS, ids=lambda change: change.__name__)
@given(value=st.floats(min_value=-1e6, max_value=1e6))
def test_there_and_back_gives_the_same_value(
    there: Callable[[float], float], back: Callable[[float], float], value: float
) -> None:
    """A value changed to another unit and back is the value again."""
    assert back(there(value)) == pytest.approx(value, rel=1e-12, abs=1e-9)
