"""Guards F9 and F16: the bending of shelves, against closed forms of beam theory."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilnpack.model.geometry import Disc, HalfDisc, Rectangle
from kilnpack.model.settings import WorksSettings
from kilnpack.rules.strength import free_mm, hull, limit_mpa, load_limit_kg, segment_mm, span_mm, stress_mpa
from kilnpack.shared_tables import table
from tests.rules.small_rules import CORNERS, shelf

SETTINGS = WorksSettings()
G = 9.80665


@pytest.mark.source("roark", "beam on two supports, uniform load: M = w L^2 / 8; section modulus b t^2 / 6")
def test_span_is_a_beam_on_two_supports() -> None:
    """Guards F9 and F16 on three posts, from force and moment. 200 mm wide strip, supports 500 mm apart, 20 mm thick.

    40 kg in all are w = 392.266 N / 500 mm = 0.78453 N/mm; M = w L^2 / 8 = 24517 N mm; W = 200 x 400 / 6 = 13333 mm3.
    """
    strip = shelf(
        outline=Rectangle(w_mm=500.0, d_mm=200.0),
        posts_mm=((0.0, 0.0), (500.0, 0.0), (250.0, 200.0)),
        thickness_mm=20.0,
        mass_kg=10.0,
    )
    moment_nmm = 40.0 * G / 500.0 * 500.0**2 / 8.0
    modulus_mm3 = 200.0 * 20.0**2 / 6.0
    assert stress_mpa(strip, 30.0) == pytest.approx(moment_nmm / modulus_mm3)
    assert stress_mpa(strip, 30.0) == pytest.approx(1.8387, rel=1e-4)


@pytest.mark.source("roark", "cantilever, uniform load: M = w c^2 / 2; section modulus b t^2 / 6")
def test_free_part_is_a_cantilever() -> None:
    """Guards F16: posts 100 mm apart and 450 mm of shelf free beyond them."""
    strip = shelf(
        outline=Rectangle(w_mm=550.0, d_mm=100.0),
        posts_mm=((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)),
        thickness_mm=15.0,
        mass_kg=5.0,
    )
    assert free_mm(strip, hull(strip.posts_mm)) == pytest.approx(450.0)
    moment_nmm = 20.0 * G / 550.0 * 450.0**2 / 2.0
    assert stress_mpa(strip, 15.0) == pytest.approx(moment_nmm / (100.0 * 15.0**2 / 6.0))


@pytest.mark.source("roark", "beam on two supports, uniform load")
def test_corner_posts_add_a_quarter() -> None:
    """Guards F9: four corner posts see 1.25 times the strip. 45 kg on 0.2 m2, 400 mm apart, 10 mm thick: 3.310 MPa."""
    q_mpa = 45.0 * G / 200_000.0
    assert stress_mpa(shelf(), 40.0) == pytest.approx(1.25 * 0.75 * q_mpa * 400.0**2 / 100.0)
    assert stress_mpa(shelf(), 40.0) == pytest.approx(3.310, abs=5e-4)


@pytest.mark.source("own-calculation", "0.45 m span, 40 kg/m2: cordierite 18 mm 0.44 MPa; nitride-bonded 8 mm 1.8 MPa")
@pytest.mark.parametrize(("thickness_mm", "density_kg_m3", "wanted_mpa"), [(18.0, 2000.0, 0.44), (8.0, 2800.0, 1.8)])
def test_worked_shelves(thickness_mm: float, density_kg_m3: float, wanted_mpa: float) -> None:
    """Guards F9: the stress of two usual shelves on corner posts under 40 kg/m2 is what was reckoned by hand."""
    area_m2 = 0.45 * 0.45
    square = shelf(
        outline=Rectangle(w_mm=450.0, d_mm=450.0),
        posts_mm=((0.0, 0.0), (450.0, 0.0), (450.0, 450.0), (0.0, 450.0)),
        thickness_mm=thickness_mm,
        mass_kg=density_kg_m3 * thickness_mm / 1000.0 * area_m2,
    )
    assert stress_mpa(square, 40.0 * area_m2) == pytest.approx(wanted_mpa, rel=0.02)


@pytest.mark.source("own-proposal", "working stress as share of strength")
def test_limit_is_a_share_of_the_strength() -> None:
    """Guards F9: a tenth of hot strength, a twentieth of cold where only that is known, nothing where neither is."""
    shares = {row["property"]: float(row["low"]) for row in table("shelf_strength") if row["material"] == "any"}
    assert shares == {
        "working stress as share of hot strength": SETTINGS.strength_share,
        "working stress as share of cold strength": SETTINGS.cold_strength_share,
    }
    assert limit_mpa(SETTINGS, shelf()) == pytest.approx(4.0)
    assert limit_mpa(SETTINGS, shelf(strength_mpa=None, cold_strength_mpa=80.0)) == pytest.approx(4.0)
    assert limit_mpa(SETTINGS, shelf(strength_mpa=None)) == 0.0


@given(thickness_mm=st.floats(6.0, 30.0), cold_mpa=st.floats(20.0, 400.0))
def test_limit_is_where_the_stress_meets_it(thickness_mm: float, cold_mpa: float) -> None:
    """Guards F9: at the limit load the stress is the limit, so the two functions cannot part."""
    one = shelf(thickness_mm=thickness_mm, strength_mpa=None, cold_strength_mpa=cold_mpa)
    limit = load_limit_kg(SETTINGS, one)
    if limit > 0:
        assert stress_mpa(one, limit) == pytest.approx(limit_mpa(SETTINGS, one))
    else:
        assert stress_mpa(one, 0.0) >= limit_mpa(SETTINGS, one) * (1 - 1e-9)


def test_a_shelf_too_weak_for_itself_carries_nothing() -> None:
    """Guards F9: never a negative load."""
    assert load_limit_kg(SETTINGS, shelf(strength_mpa=0.1)) == 0.0


def test_spans_and_free_parts_of_patterns() -> None:
    """Guards F16: the longest stretch between neighbouring posts and the farthest corner beyond them.

    Half disc of 200 mm with posts (60, 45), (340, 45), (200, 150): across the slanted edge, along (0.6, 0.8), the
    arc reaches (320, 160), 0.6 x 120 + 0.8 x 10 = 80 mm off it.
    """
    assert span_mm(hull(CORNERS)) == 400.0
    assert free_mm(shelf(), hull(CORNERS)) == pytest.approx(math.hypot(50.0, 50.0))
    half = shelf(outline=HalfDisc(x_mm=200.0, r_mm=200.0), posts_mm=((60.0, 45.0), (340.0, 45.0), (200.0, 150.0)))
    ring = hull(half.posts_mm)
    assert span_mm(ring) == 280.0
    assert free_mm(half, ring) == pytest.approx(80.0, abs=0.01)
    disc = shelf(outline=Disc(x_mm=200.0, y_mm=200.0, r_mm=200.0), posts_mm=((200.0, 200.0),))
    assert free_mm(disc, hull(disc.posts_mm)) == pytest.approx(200.0)
    assert span_mm(hull(disc.posts_mm)) == 0.0
    line = replace(disc, posts_mm=((100.0, 200.0), (300.0, 200.0), (200.0, 200.0)))
    assert hull(line.posts_mm) == [(100.0, 200.0), (300.0, 200.0)]
    assert free_mm(line, hull(line.posts_mm)) == pytest.approx(200.0, abs=0.1)


def test_distance_from_a_stretch() -> None:
    """Guards the geometry under F16: beside the stretch, beyond either end, and a stretch of no length."""
    a, b = (0.0, 0.0), (10.0, 0.0)
    assert segment_mm((5.0, 3.0), a, b) == 3.0
    assert segment_mm((13.0, 4.0), a, b) == 5.0
    assert segment_mm((-3.0, -4.0), a, b) == 5.0
    assert segment_mm((3.0, 4.0), a, a) == 5.0
