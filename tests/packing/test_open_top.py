"""Taking an empty shelf off a stack must not cost the ware under it: plates of a small glost load once all fell out."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from kilnpack.model.orders import Lot
from kilnpack.packing.pack_load import pack_load
from kilnpack.rules.checker import audit
from kilnpack.search.budget import Budget
from kilnpack.works_folder import read_works

DEMO = Path(__file__).parents[2] / "demo_orders" / "porcelain_works"


def test_a_few_plates_stay_in_a_glost_with_cone_packs() -> None:
    """Thirteen large plates find room in an empty kiln, with its cone packs, and the checker accepts them."""
    works = read_works(DEMO)
    product = next(row for row in works.products if row.shape == "PL270")
    lots = (Lot(code="L", product=product.code, step=1, pieces=13, glazed=True),)
    kiln, programme = works.kiln("G1"), works.programme("GLOST")
    load = pack_load(works, kiln, programme, lots, budget=Budget(effort=1), seed=0)
    assert load.pieces == 13
    assert audit(replace(works, lots=lots), load).findings == ()
