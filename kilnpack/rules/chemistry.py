"""Chemistry: what may share the gas of one load (Z4, Z5, W5, T5, T9)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.model.orders import LotKind
from kilnpack.model.pieces import Stage

if TYPE_CHECKING:
    from collections.abc import Collection

    from kilnpack.model.orders import Lot
    from kilnpack.model.pieces import Product, RouteStep
    from kilnpack.model.programmes import Programme
    from kilnpack.model.settings import WorksSettings
    from kilnpack.model.works import Works

PLAIN = "plain"
"""The class of ware that gives off nothing."""


REFIRED, FIRED_ONCE = "refired ware", "ware fired once"
"""The two classes of T9 where a works fires refires apart."""


def waits_for(product: Product, lot: Lot, programme: Programme) -> bool:
    """W5, Z4, T5: whether the next firing of a lot is this very programme.

    A programme has one stage and one atmosphere; so raw and glazed ware, and ware for different atmospheres, never
    meet, and no firing of a route is passed over.

    References
    ----------
    `porcelain-handbook` (W5, Z4); `trade-journal` (T5).
    """
    return 0 <= lot.step < len(product.route) and product.route[lot.step].programme == programme.code


def vapour_classes(works: Works, product: Product, step: RouteStep) -> frozenset[str]:
    """Z5: the classes of vapour that ware brings into a firing: of the step, of its decorations, of its glaze in glost.

    References
    ----------
    `furniture-suppliers`, `pottery-forum`.
    """
    found = set(step.vapours)
    if step.stage is Stage.GLOST:
        found |= {row.vapour for row in works.glazes if row.code == product.glaze and row.vapour}
    found |= {row.vapour for row in works.decorations if row.code in step.decorations and row.vapour}
    return frozenset(found or {PLAIN})


def refire_class(settings: WorksSettings, lot: Lot) -> frozenset[str]:
    """T9: the class of a lot by how often it was fired, nothing where the works lets refires stand with other ware.

    References
    ----------
    `ceramics-glossary`, `common-practice`.
    """
    return frozenset({REFIRED if lot.kind is LotKind.REFIRE else FIRED_ONCE} if settings.refires_apart else ())


def clash(settings: WorksSettings, first: Collection[str], second: Collection[str]) -> bool:
    """Z5, T9: whether ware of these classes may not share a load."""
    pairs = (*settings.excluded_vapours, (REFIRED, FIRED_ONCE))
    return any((a in first and b in second) or (b in first and a in second) for a, b in pairs)
