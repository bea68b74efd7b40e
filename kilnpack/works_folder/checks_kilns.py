"""Checks of kilns and programmes: what they name, what they say twice, what contradicts itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.errors import Finding
from kilnpack.model.kilns import ChamberKind, CoolingWay
from kilnpack.model.programmes import Atmosphere
from kilnpack.shared_tables import table
from kilnpack.words import listed, nearest, shown
from kilnpack.works_folder.letters import alike_in, code_faults, told_apart

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Iterator

    from kilnpack.model.kilns import Kiln
    from kilnpack.model.works import Works
    from kilnpack.works_folder.reading import Reading

KILNS = "kilns.toml"
PROGRAMMES = "programmes.toml"


def kiln_finding(kiln: Kiln, key: str, found: object, wanted: str) -> Finding:
    """Return a finding at a key of a kiln."""
    return Finding(file=KILNS, row=None, field=f"kilns[{kiln.code}].{key}", found=shown(found), wanted=wanted)


def _unknown(kiln: Kiln, key: str, codes: Iterable[str], known: Collection[str], what: str) -> Iterator[Finding]:
    for code in codes:
        if code not in known:
            alike = [f"; {one} looks the same: {told_apart(code, one)}" for _, one in alike_in([*known, code])]
            remedy = next(iter(alike), "") or nearest(code, known) or f": {listed(known)}"
            yield kiln_finding(kiln, key, code, f"a code of {what}{remedy}")


def named(reading: Reading, works: Works) -> Iterator[Finding]:
    """Programmes, shelves and lining materials that a kiln names are there."""
    materials = sorted({row["material"] for row in table("lining")})
    shelves = sorted({row.text("code") for row in reading.tables["shelves"].rows if "code" in row.values})
    for kiln in works.kilns:
        if reading.programmes.codes is not None:
            yield from _unknown(kiln, "programmes", kiln.programmes, sorted(reading.programmes.codes), "programmes")
        if "shelves" not in reading.unread:
            for place in kiln.places:
                yield from _unknown(kiln, f"places[{place.code}].shelf", [place.shelf], shelves, "shelves")
        for number, layer in enumerate(kiln.lining, start=1):
            yield from _unknown(kiln, f"lining[{number}].material", [layer.material], materials, "the lining materials")


def said_twice(_reading: Reading, works: Works) -> Iterator[Finding]:
    """Codes inside a kiln differ, and each stage has one offset map."""
    for kiln in works.kilns:
        lists = {
            "programmes": kiln.programmes,
            "places": [one.code for one in kiln.places],
            "keep_outs": [one.code for one in kiln.keep_outs],
            "peepholes": [one.code for one in kiln.peepholes],
            "cars": [one.code for one in kiln.cars],
            "offsets": [one.stage.value for one in kiln.offsets],
        }
        for key, codes in lists.items():
            for code in sorted({code for code in codes if list(codes).count(code) > 1}):
                yield kiln_finding(kiln, key, code, "each of them once")


def letters(_reading: Reading, works: Works) -> Iterator[Finding]:
    """Codes inside a kiln are in plain letters, and none looks like another of its list."""
    for kiln in works.kilns:
        lists = {
            "places": [one.code for one in kiln.places],
            "keep_outs": [one.code for one in kiln.keep_outs],
            "peepholes": [one.code for one in kiln.peepholes],
            "cars": [one.code for one in kiln.cars],
        }
        for key, codes in lists.items():
            for code, wanted in code_faults(codes):
                yield kiln_finding(kiln, f"{key}[{code}].code", code, wanted)


def lists_filled(_reading: Reading, works: Works) -> Iterator[Finding]:
    """A kiln has a place for shelves and a programme; a car kiln has a car, and no other has."""
    for kiln in works.kilns:
        if not kiln.places:
            yield kiln_finding(kiln, "places", "", "at least one place for a stack of shelves")
        if not kiln.programmes:
            yield kiln_finding(kiln, "programmes", "", "at least one programme that it may fire")
        if kiln.kind is ChamberKind.CAR and not kiln.cars:
            yield kiln_finding(kiln, "cars", "", "at least one car of a kiln of the kind car")
        if kiln.kind is not ChamberKind.CAR and kiln.cars:
            yield kiln_finding(kiln, "cars", listed(car.code for car in kiln.cars), "no cars, or the kind car")


def heat(_reading: Reading, works: Works) -> Iterator[Finding]:
    """A kiln is not asked for more than its top temperature (rule F1)."""
    peaks = {programme.code: programme.peak_degc for programme in works.programmes}
    for kiln in works.kilns:
        for code in kiln.programmes:
            if peaks.get(code, 0.0) > kiln.top_degc:
                wanted = f"programmes with a peak of at most top_degc {kiln.top_degc:g}"
                yield kiln_finding(kiln, "programmes", f"{code} with a peak of {peaks[code]:g} degC", wanted)


def heights(_reading: Reading, works: Works) -> Iterator[Finding]:
    """Keep-outs have a height, and they and the peepholes lie under the roof."""
    for kiln in works.kilns:
        for one in kiln.keep_outs:
            key = f"keep_outs[{one.code}]"
            if one.from_z_mm >= one.to_z_mm:
                yield kiln_finding(kiln, f"{key}.to_z_mm", one.to_z_mm, f"a height above from_z_mm {one.from_z_mm:g}")
            elif one.from_z_mm >= kiln.usable_height_mm:
                wanted = f"a height below usable_height_mm {kiln.usable_height_mm:g}"
                yield kiln_finding(kiln, f"{key}.from_z_mm", one.from_z_mm, wanted)
        for hole in kiln.peepholes:
            if not 0 < hole.z_mm < kiln.usable_height_mm:
                wanted = f"a height between 0 and usable_height_mm {kiln.usable_height_mm:g}"
                yield kiln_finding(kiln, f"peepholes[{hole.code}].z_mm", hole.z_mm, wanted)


def cooling(_reading: Reading, works: Works) -> Iterator[Finding]:
    """The limits of drawing and unloading, and the bands of cooling air, do not contradict each other (rule T3)."""
    for kiln in works.kilns:
        way = kiln.cooling
        if way.draw_degc is not None and kiln.kind is not ChamberKind.CAR:
            yield kiln_finding(kiln, "cooling.draw_degc", way.draw_degc, "no such key; only a car is drawn")
        elif way.draw_degc is not None and way.draw_degc < way.unload_degc:
            wanted = f"at least unload_degc {way.unload_degc:g}"
            yield kiln_finding(kiln, "cooling.draw_degc", way.draw_degc, wanted)
        if way.way is CoolingWay.SEALED and any(band.air_nm3_h > 0 for band in way.bands):
            yield kiln_finding(kiln, "cooling.way", "sealed, with cooling air in its bands", "damper or forced")
        levels = [band.above_degc for band in way.bands]
        if len(set(levels)) < len(levels):
            yield kiln_finding(kiln, "cooling.bands", listed(map(shown, levels)), "each above_degc once")


def money_and_ware(_reading: Reading, works: Works) -> Iterator[Finding]:
    """Gas is priced by net or gross calorific value; the least ware is no more than the usual."""
    for kiln in works.kilns:
        if kiln.energy.basis not in ("gross", "net"):
            yield kiln_finding(kiln, "energy.basis", kiln.energy.basis, "gross or net")
        if kiln.least_ware_kg > kiln.usual_ware_kg:
            wanted = f"at most usual_ware_kg {kiln.usual_ware_kg:g}"
            yield kiln_finding(kiln, "least_ware_kg", kiln.least_ware_kg, wanted)


def curves(_reading: Reading, works: Works) -> Iterator[Finding]:
    """A programme has segments, and its atmosphere is that of one of them at least."""
    for programme in works.programmes:
        place = f"programmes[{programme.code}]"
        kinds = {segment.atmosphere for segment in programme.segments}
        if programme.atmosphere is not Atmosphere.OXIDATION and programme.atmosphere not in kinds:
            wanted = "the atmosphere of one segment at least"
            found = programme.atmosphere.value
            yield Finding(file=PROGRAMMES, row=None, field=f"{place}.atmosphere", found=found, wanted=wanted)


KILN_CHECKS: tuple[Callable[[Reading, Works], Iterator[Finding]], ...] = (
    named,
    said_twice,
    letters,
    lists_filled,
    heat,
    heights,
    cooling,
    money_and_ware,
    curves,
)
