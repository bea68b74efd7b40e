"""What a load puts into the kiln, counted by hand from the small works of conftest."""

from __future__ import annotations

from dataclasses import replace
from math import pi
from typing import TYPE_CHECKING

import pytest

from kilnpack.heat.contents import load_masses, placed_lots, section_m2, stored_material
from kilnpack.model.geometry import TurnedPart
from kilnpack.model.orders import LotKind
from kilnpack.model.pieces import Stage
from kilnpack.shapes.bodies import stand

if TYPE_CHECKING:
    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works


def test_masses_of_a_load(works: Works, load: Load) -> None:
    """Two shelves of 5 kg are SiC; three posts of 0.4, three stubs of 0.1, two cranks of 0.6 and the deck are mullite.

    Ware: 4 + 2 + 1 cups of 0.24 kg. Mullite: 1.2 + 0.3 + 1.2 + 50 = 52.7 kg.
    """
    masses = load_masses(works, load)
    assert masses.ware_kg == {"porcelain": pytest.approx(7 * 0.24)}
    assert masses.furniture_kg == {"silicon carbide": pytest.approx(10.0), "mullite": pytest.approx(52.7)}
    assert sum(masses.all_kg.values()) == pytest.approx(62.7 + 7 * 0.24)


def test_masses_without_car_and_stubs(works: Works, load: Load) -> None:
    """A load on no car and no stubs has neither in its furniture."""
    bare = replace(load, car=None, stacks=tuple(replace(stack, stub=None) for stack in load.stacks))
    assert load_masses(works, bare).furniture_kg["mullite"] == pytest.approx(2.4)


def test_room_of_lots(works: Works, load: Load) -> None:
    """The cup's widest section is its 80 mm disc with the part of the handle that stands out, grown by 3 mm.

    Tier pitches are 98 + 10 = 108 mm and 190 + 10 = 200 mm. The stack of two cranks of 120 mm is shared by its two
    pieces. A fill of no pieces takes nothing.
    """
    lots = {lot.lot: lot for lot in placed_lots(works, load)}
    assert list(lots) == ["L1", "L2", "L3", "L4"]
    cup = section_m2(stand(works, load.form("bare")), works.settings.gap_glost_mm)
    cranks = section_m2(stand(works, load.form("cranks")), works.settings.gap_glost_mm)
    assert cranks == pytest.approx(pi * 0.063**2, rel=0.02)
    assert cup == pytest.approx(pi * 0.043**2 + 0.0004, rel=0.1)
    first = lots["L1"]
    assert (first.pieces, first.product, first.step, first.order_line) == (3, "CUP", 1, "O-1")
    assert first.kind is LotKind.NORMAL
    assert first.ware_kg == pytest.approx(0.72)
    assert first.area_m2 == pytest.approx(2 * cup + cranks / 2, rel=1e-3)
    assert first.volume_l == pytest.approx(1000.0 * (2 * cup * 0.108 + cranks / 2 * 0.2), rel=1e-3)
    assert lots["L4"].volume_l == pytest.approx(1000.0 * cup * 0.2, rel=1e-6)
    assert sum(lot.pieces for lot in lots.values()) == 7


def test_gap_belongs_to_the_stage(works: Works, load: Load) -> None:
    """Biscuit grows the section by no gap, decoration and glost by half of theirs."""
    areas = {stage: placed_lots(works, replace(load, stage=stage))[3].area_m2 for stage in Stage}
    assert areas[Stage.BISCUIT] < areas[Stage.GLOST]
    assert areas[Stage.DECORATION] == pytest.approx(areas[Stage.GLOST])


def test_section_of_a_cone_is_its_rim(works: Works, load: Load) -> None:
    """A bowl that widens from 30 to 60 mm has the section of its rim."""
    body = stand(works, load.form("bare"))
    bowl = replace(body, parts=(TurnedPart(profile_mm=((0.0, 30.0), (50.0, 60.0))),))
    assert section_m2(bowl, 0.0) == pytest.approx(pi * 0.06**2, rel=1e-4)


def test_unknown_lot_is_no_lot(works: Works, load: Load) -> None:
    """Lots may be handed in; one that is missing is an error, not a guess."""
    with pytest.raises(KeyError, match="L1"):
        placed_lots(works, load, lots=())


@pytest.mark.source("common-practice", "names of furniture materials")
@pytest.mark.parametrize(
    ("name", "material"),
    [
        ("nitride-bonded SiC", "silicon carbide"),
        ("recrystallised silicon carbide", "silicon carbide"),
        ("Cordierite", "cordierite"),
        ("mullite", "mullite"),
        ("corundum 99", "alumina"),
        ("fused silica", "quartz"),
        ("fireclay", "mullite"),
        ("basic clay", "mullite"),
    ],
)
def test_material_as_the_works_names_it(name: str, material: str) -> None:
    """Names of the trade find their material; the rest is taken as mullite, and "basic" is not "sic"."""
    assert stored_material(name) == material
