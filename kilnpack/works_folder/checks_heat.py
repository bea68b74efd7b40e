"""Checks of heat: furniture that stands each programme, windows that a kiln can meet.

Each is a necessary condition: what passes may still not find its place in a load, what fails never will.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.rules.heat import furniture_degc, offset_ends_k, offset_map
from kilnpack.words import listed
from kilnpack.works_folder.checks_kilns import kiln_finding

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from kilnpack.errors import Finding
    from kilnpack.model.furniture import PostType, ShelfType, Stub
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
    from kilnpack.works_folder.reading import Reading


def least_furniture_degc(works: Works, kiln: Kiln, programme: Programme) -> float:
    """Return what furniture must stand: at the coldest place where places are known, else anywhere (rule F1)."""
    low_k, high_k = offset_ends_k(works.settings, kiln, programme.stage)
    chart = offset_map(kiln, programme.stage)
    known = chart is not None and bool(chart.readings)
    return furniture_degc(works.settings, programme.peak_degc, low_k if known else high_k)


def programmes_of(works: Works, kiln: Kiln) -> list[Programme]:
    """Return the programmes of a kiln that could be read."""
    return [programme for programme in works.programmes if programme.code in kiln.programmes]


def kilns_for(works: Works, programme: str) -> list[Kiln]:
    """Return the kilns that may fire a programme."""
    return [kiln for kiln in works.kilns if programme in kiln.programmes]


def shelves_of(works: Works, kiln: Kiln) -> list[ShelfType]:
    """Return the types of shelf that stand in a kiln, each once; nothing where one of them is not known."""
    codes = {place.shelf for place in kiln.places}
    shelves = [shelf for shelf in works.furniture.shelves if shelf.code in codes]
    return shelves if len(shelves) == len(codes) else []


def usable_stubs(works: Works) -> list[Stub]:
    """Return the stubs that lift the bottom shelf off the floor (rule C6)."""
    return [
        one for one in works.furniture.stubs if one.height_mm >= works.settings.bottom_clear_mm and one.count_pieces
    ]


def hot_enough(reading: Reading, works: Works) -> Iterator[Finding]:
    """For every programme of a kiln there are shelves, posts and stubs that stand its heat (rule F1, C6)."""
    if not reading.is_whole("shelves", "shelf_lots", "posts", "stubs"):
        return
    posts = [post for post in works.furniture.posts if post.count_pieces]
    for kiln in works.kilns:
        if not shelves_of(works, kiln):
            continue  # said at its places
        shelves = [shelf for shelf in shelves_of(works, kiln) if shelf.sound_pieces]
        for programme in programmes_of(works, kiln):
            need_degc = least_furniture_degc(works, kiln, programme)
            stock: dict[str, Sequence[ShelfType | PostType | Stub]] = {
                "a shelf of its places": shelves,
                "posts": posts,
                f"stubs of {works.settings.bottom_clear_mm:g} mm or more": usable_stubs(works),
            }
            for what, items in stock.items():
                if not any(item.top_degc >= need_degc for item in items):
                    there = listed(f"{item.code} to {item.top_degc:g}" for item in items)
                    found = f"{programme.code}, which asks {need_degc:g} degC of furniture"
                    yield kiln_finding(kiln, "programmes", found, f"{what} that stand it (F1); there are: {there}")


def windows_met(reading: Reading, works: Works) -> Iterator[Finding]:
    """Some kiln has a place within the window of each firing of a product (rule Z2)."""
    if not reading.kilns.whole:
        return
    for product in works.products:
        for step in product.route:
            programme = works.programme(step.programme)
            ranges = [offset_ends_k(works.settings, kiln, programme.stage) for kiln in kilns_for(works, step.programme)]
            low, high = step.low_degc, step.high_degc
            met = any(
                (low is None or programme.peak_degc + hottest >= low)
                and (high is None or programme.peak_degc + coldest <= high)
                for coldest, hottest in ranges
            )
            if ranges and not met and (low is None or high is None or low <= high):
                spread = listed(f"{programme.peak_degc + a:g} to {programme.peak_degc + b:g}" for a, b in ranges)
                found = f"{_window(low, high)} in {programme.code}"
                wanted = f"a window that a place of its kilns meets (Z2): {spread} degC"
                yield reading.at("products", product.code, "route", found, wanted)


def _window(low_degc: float | None, high_degc: float | None) -> str:
    low = "" if low_degc is None else f"from {low_degc:g} "
    high = "" if high_degc is None else f"to {high_degc:g} "
    return f"{low}{high}degC"


def served(reading: Reading, works: Works) -> Iterator[Finding]:
    """Some kiln fires each programme that a product needs."""
    if not reading.kilns.whole:
        return
    for product in works.products:
        for step in product.route:
            if not kilns_for(works, step.programme):
                fired = listed(sorted({code for kiln in works.kilns for code in kiln.programmes}))
                wanted = f"programmes that some kiln fires: {fired}"
                yield reading.at("products", product.code, "route", step.programme, wanted)


HEAT_CHECKS: tuple[Callable[[Reading, Works], Iterator[Finding]], ...] = (hot_enough, windows_met, served)
