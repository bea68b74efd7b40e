"""Guards what may share a load: W5, Z4, Z5, T5."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kilnpack.model.orders import LotKind
from kilnpack.model.settings import WorksSettings
from kilnpack.rules.chemistry import PLAIN, clash, refire_class, vapour_classes, waits_for
from tests.packing.small_works import lots_for
from tests.rules.small_rules import changed, works


@pytest.mark.source("porcelain-handbook", "raw and glazed ware apart; one atmosphere a load")
def test_a_lot_waits_for_one_programme() -> None:
    """Guards W5, Z4, T5: only the programme of the next firing of the route; never one beyond either end of it."""
    made = works()
    lot = lots_for(made, "G")[0]
    product = made.product(lot.product)
    glost, biscuit = made.programme("G"), made.programme("B")
    assert waits_for(product, lot, glost)
    assert not waits_for(product, lot, biscuit)
    assert waits_for(product, replace(lot, step=0), biscuit)
    assert not waits_for(product, replace(lot, step=-1), glost)
    assert not waits_for(product, replace(lot, step=len(product.route)), glost)


def test_classes_come_from_step_glaze_and_decoration() -> None:
    """Guards Z5: a glaze gives off in glost only, a decoration in its own firing, and plain ware is a class too."""
    made = changed(works(), "glazes", "white", vapour="tin white")
    made = changed(made, "decorations", "gold", vapour="lead")
    product = next(row for row in made.products if row.glaze == "white")
    biscuit, glost, decoration = product.route
    assert vapour_classes(made, product, biscuit) == {PLAIN}
    assert vapour_classes(made, product, glost) == {"tin white"}
    assert vapour_classes(made, product, decoration) == {"lead"}
    assert vapour_classes(made, product, replace(glost, vapours=("copper",))) == {"tin white", "copper"}


@pytest.mark.source("furniture-suppliers", "chrome turns tin white pink")
def test_excluded_pairs_work_both_ways() -> None:
    """Guards Z5: chrome with tin white, copper with plain ware, in whichever order; ware with itself where paired."""
    settings = WorksSettings()
    assert clash(settings, {"chrome"}, {"tin white"})
    assert clash(settings, {"tin white"}, {"chrome"})
    assert clash(settings, {"copper"}, {PLAIN})
    assert not clash(settings, {"chrome"}, {"chrome"})
    assert not clash(settings, {"chrome"}, {PLAIN})
    assert not clash(replace(settings, excluded_vapours=()), {"chrome"}, {"tin white"})


@pytest.mark.source("common-practice", "T9: refires are a class of their own")
def test_refires_stand_apart_where_a_works_wants_it() -> None:
    """Guards T9: refires with refires and other ware with other ware, and no such class where it is not asked for."""
    lot = works().lots[0]
    again = replace(lot, kind=LotKind.REFIRE)
    apart = WorksSettings(refires_apart=True)
    first, second = refire_class(apart, lot), refire_class(apart, again)
    assert first == refire_class(apart, replace(lot, kind=LotKind.SAMPLE))
    assert clash(apart, first, second)
    assert not clash(apart, first, first)
    assert not clash(apart, second, second)
    assert refire_class(WorksSettings(), lot) == refire_class(WorksSettings(), again) == frozenset()
