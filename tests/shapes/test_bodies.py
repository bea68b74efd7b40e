"""Bodies: size on entry, stacks and supports, worked by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest

from kilnpack.model.furniture import CatchDisc, Furniture, Setter, Spacer, Stilt
from kilnpack.model.geometry import Disc, ExtrudedPart, RoundedPolygon, TurnedPart
from kilnpack.model.loads import BodyForm
from kilnpack.model.orders import Supply, WorkCalendar
from kilnpack.model.pieces import Lid, Shape, Stacking, StackWay, Stage
from kilnpack.model.settings import WorksSettings
from kilnpack.model.works import Works
from kilnpack.shapes.bodies import entry_factor, scaled, stand, upturned

BOWL = Shape(
    code="bowl",
    name="Bowl",
    parts=(TurnedPart(profile_mm=((0.0, 30.0), (60.0, 60.0))),),
    foot=(Disc(r_mm=30.0),),
    dry_kg=0.5,
    biscuit_kg=0.45,
    glazed_kg=0.48,
    biscuit_shrinkage_share=0.0,
    glost_shrinkage_share=0.1,
    stackings=(
        Stacking(way=StackWay.NESTED, step_mm=18.0, most_pieces=4, load_limit_factor=4.0),
        Stacking(way=StackWay.BOXED, most_pieces=2, load_limit_factor=2.0),
        Stacking(way=StackWay.PILED, step_mm=18.0, most_pieces=3, load_limit_factor=4.0, spacer="chip"),
    ),
)
MUG = Shape(
    code="mug",
    name="Mug",
    parts=(
        TurnedPart(profile_mm=((0.0, 40.0), (90.0, 40.0))),
        ExtrudedPart(
            from_z_mm=20.0,
            to_z_mm=70.0,
            outline=(RoundedPolygon(corners_mm=((20.0, 0.0), (66.0, 0.0)), round_mm=6.0),),
        ),
    ),
    foot=(Disc(r_mm=36.0),),
    dry_kg=0.4,
    biscuit_kg=0.36,
    glazed_kg=0.38,
    biscuit_shrinkage_share=0.01,
    glost_shrinkage_share=0.1,
    lid=Lid(shape="bowl", seat_mm=85.0),
)
FURNITURE = Furniture(
    stilts=(Stilt(code="st", height_mm=12, contact_r_mm=20, foot_r_mm=25, points=3, mass_kg=0.05, top_degc=1100,
                  count_pieces=9),),
    setters=(Setter(code="crank", outer_mm=160, inner_mm=140, seat_mm=6, pitch_mm=70, most_pieces=5, mass_kg=0.7,
                    top_degc=1450, count_pieces=40),),
    catch_discs=(CatchDisc(code="disc", outer_mm=90, height_mm=9, mass_kg=0.1, top_degc=1300, count_pieces=6),),
    spacers=(Spacer(code="chip", height_mm=5, pieces_per_gap=3, mass_kg=0.01, top_degc=1300, count_pieces=60),),
)  # fmt: skip
WORKS = Works(
    name="test",
    now=datetime(2026, 3, 2, 7),
    settings=WorksSettings(size_scatter_share=0.0),
    calendar=WorkCalendar(),
    supply=Supply(),
    furniture=FURNITURE,
    kilns=(),
    programmes=(),
    shapes=(BOWL, MUG),
    glazes=(),
    decorations=(),
    products=(),
    sets=(),
    lines=(),
    lots=(),
)


def form(shape: str, stage: Stage = Stage.DECORATION, **more: object) -> BodyForm:
    """Return a form of the given shape."""
    return BodyForm(code="f", shape=shape, stage=stage, **more)  # type: ignore[arg-type]


def test_entry_factor_divides_the_shares_of_all_later_firings() -> None:
    """Size on entry: 1/(0.9) at glost, 1/(0.99 x 0.9) at biscuit, final size at decoration."""
    assert entry_factor(MUG, Stage.DECORATION) == 1.0
    assert entry_factor(MUG, Stage.GLOST) == pytest.approx(1 / 0.9)
    assert entry_factor(MUG, Stage.BISCUIT) == pytest.approx(1 / (0.99 * 0.9))


def test_size_scatter_grows_the_ware() -> None:
    """With 2 % scatter a 60 mm bowl is booked as 61.2 mm high and 61.2 mm in radius."""
    works = replace(WORKS, settings=replace(WORKS.settings, size_scatter_share=0.02))
    body = stand(works, form("bowl"))
    assert body.top_mm == pytest.approx(61.2)
    assert body.parts[0].profile_mm[-1] == pytest.approx((61.2, 61.2))  # type: ignore[union-attr]
    assert body.foot[0].r_mm == pytest.approx(30.6)  # type: ignore[union-attr]


def test_nested_bowls_rise_by_the_step() -> None:
    """Four bowls of 60 mm with a step of 18 mm stand 60 + 3 x 18 = 114 mm high and weigh four times 0.5 kg dry."""
    works = replace(WORKS, shapes=(replace(BOWL, glost_shrinkage_share=0.0),))
    body = stand(works, form("bowl", Stage.BISCUIT, way=StackWay.NESTED, pieces=4))
    assert body.top_mm == pytest.approx(114.0)
    assert body.ware_kg == pytest.approx(2.0)
    assert body.pieces == 4


def test_boxed_bowls_stand_rim_to_rim() -> None:
    """Two boxed bowls are twice as high; the radius is 60 mm at the middle and 30 mm at foot and top."""
    body = stand(WORKS, form("bowl", way=StackWay.BOXED, pieces=2))
    lower, upper = body.parts
    assert body.top_mm == pytest.approx(120.0)
    assert lower.profile_mm == ((0.0, 30.0), (60.0, 60.0))  # type: ignore[union-attr]
    assert upper.profile_mm == ((60.0, 60.0), (120.0, 30.0))  # type: ignore[union-attr]


def test_piled_ware_adds_spacers_to_height_and_mass() -> None:
    """Three pieces, step 18 + spacer 5: 60 + 2 x 23 = 106 mm, and 2 gaps x 3 spacers x 10 g = 60 g."""
    body = stand(WORKS, form("bowl", way=StackWay.PILED, pieces=3, spacer="chip"))
    assert body.top_mm == pytest.approx(106.0)
    assert body.support_kg == pytest.approx(0.06)


@pytest.mark.parametrize(
    ("support", "pieces", "top", "foot", "kg"),
    [("st", 1, 72.0, 25.0, 0.05), ("disc", 1, 69.0, 45.0, 0.1), ("crank", 3, 3 * 70, 80.0, 2.1)],
)
def test_supports_lift_the_ware_and_become_its_foot(
    support: str, pieces: int, top: float, foot: float, kg: float
) -> None:
    """Stilt 12 mm, disc 9 mm, three cranks of 70 mm pitch (ware ends at 206 mm): heights, feet and masses by hand."""
    body = stand(WORKS, form("bowl", support=support, pieces=pieces))
    assert body.top_mm == pytest.approx(top)
    assert body.foot[0].r_mm == foot  # type: ignore[union-attr]
    assert body.support_kg == pytest.approx(kg)


def test_a_lid_is_fired_in_place() -> None:
    """The lid's foot sits 85 mm over the pot's: 85 + 60 = 145 mm high, and its mass counts."""
    body = stand(WORKS, form("mug"))
    assert body.top_mm == pytest.approx(145.0)
    assert body.mass_kg == pytest.approx(0.38 + 0.48)


def test_extruded_parts_scale_and_turn_over() -> None:
    """A handle from 20 to 70 mm of a 90 mm mug lies from 40 to 140 at double size, and from 20 to 70 upside down."""
    handle = MUG.parts[1]
    big = scaled(handle, 2.0)
    assert isinstance(big, ExtrudedPart)
    assert (big.from_z_mm, big.to_z_mm) == (40.0, 140.0)
    assert big.outline[0].round_mm == 12.0  # type: ignore[union-attr]
    over = upturned(handle, 90.0)
    assert isinstance(over, ExtrudedPart)
    assert (over.from_z_mm, over.to_z_mm) == (20.0, 70.0)


def test_unknown_codes_are_key_errors() -> None:
    """A form of a support that the works has not got cannot stand."""
    with pytest.raises(KeyError):
        stand(WORKS, form("bowl", support="none"))
