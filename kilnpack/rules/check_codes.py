"""Resolve the codes of a load; whatever cannot be read is a finding, and the rest is judged all the same."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from kilnpack.model.kilns import ChamberKind
from kilnpack.model.orders import in_zone
from kilnpack.rules.check_scene import Filling, Level, Placed, Scene, Stack
from kilnpack.rules.check_solids import Solid, solid

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from datetime import datetime

    from kilnpack.model.kilns import Kiln, StackPlace
    from kilnpack.model.loads import BodyForm, Load, PlaceFill, Setting, StackLoad, Standing, Tier
    from kilnpack.model.orders import Lot
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
    from kilnpack.rules.check_notes import Notes

MOST_PIECES = 200
"""A body of more pieces than this is a slip of the pen and is not built."""


MOST_MM = 1e5
MOST_DEG = 3600.0
"""Places and turns beyond these are slips of the pen; nothing could be measured there."""


def resolve(
    works: Works, load: Load, lots: tuple[Lot, ...], notes: Notes, *, at: datetime | None = None
) -> Scene | None:
    """Return the scene of a load, None where kiln or programme are unknown; findings for all that is not known."""
    kiln = next((row for row in works.kilns if row.code == load.kiln), None)
    programme = next((row for row in works.programmes if row.code == load.programme), None)
    if load.works != works.name:
        notes.fault("works", "", load.works, f"the load to be for {works.name}")
    if kiln is None:
        notes.fault("kiln", "", load.kiln, "a kiln of the works")
    if programme is None:
        notes.fault("programme", "", load.programme, "a programme of the works")
    if kiln is None or programme is None:
        return None
    _fits(load, kiln, programme, notes)
    reader = _Reader(works, load, lots, notes, at=at)
    stacks = tuple(_stacks(reader, works, load, kiln))
    reader.count_lots()
    return Scene(works=works, load=load, kiln=kiln, programme=programme, stacks=stacks)


def _fits(load: Load, kiln: Kiln, programme: Programme, notes: Notes) -> None:
    """Kiln, programme, stage and car belong together."""
    if programme.code not in kiln.programmes or programme.peak_degc > kiln.top_degc:
        notes.fault("programme", "", programme.code, f"a programme that kiln {kiln.code} may fire")
    if load.stage is not programme.stage:
        notes.fault("stage", "", load.stage.value, f"{programme.stage.value}, the stage of {programme.code}")
    if load.car is None and kiln.kind is ChamberKind.CAR:
        notes.fault("car", "", "", f"a car of kiln {kiln.code}, which is loaded outside")
    if load.car is not None and load.car not in {car.code for car in kiln.cars}:
        notes.fault("car", "", load.car, f"a car of kiln {kiln.code}")


def _stacks(reader: _Reader, works: Works, load: Load, kiln: Kiln) -> Iterator[Stack]:
    places = {place.code: place for place in kiln.places}
    _twice(reader.notes, "stacks", (stack.place for stack in load.stacks))
    for row in load.stacks:
        place = places.get(row.place)
        if place is None:
            reader.notes.fault("stacks", f"stack {row.place}", row.place, f"a stack of kiln {kiln.code}")
        else:
            yield reader.stack(row, place, kiln.usable_height_mm - works.settings.top_clear_mm)


def _twice(notes: Notes, what: str, codes: Iterable[object]) -> None:
    for code, count in Counter(codes).items():
        if count > 1:
            notes.fault(what, "", f"{code} {count} times", "every code once")


def _sane(*lengths_mm: float, turn_deg: float = 0.0) -> bool:
    """Whether lengths and a turn are numbers that can be measured with; not-a-number compares as false."""
    return all(abs(length) <= MOST_MM for length in lengths_mm) and abs(turn_deg) <= MOST_DEG


class _Reader:
    """Looks codes up in one works and one load."""

    def __init__(self, works: Works, load: Load, lots: tuple[Lot, ...], notes: Notes, *, at: datetime | None) -> None:
        self.at = at
        self.works = works
        self.notes = notes
        self.stage = load.stage
        self.programme = load.programme
        self.lots = {lot.code: lot for lot in lots}
        self.shelves = {row.code: row for row in works.furniture.shelves}
        self.posts = {row.code: row for row in works.furniture.posts}
        self.glazes = {row.code: row for row in works.glazes}
        self.products = {row.code: row for row in works.products}
        self.used: Counter[str] = Counter()
        _twice(notes, "forms", (form.code for form in load.forms))
        _twice(notes, "settings", (setting.code for setting in load.settings))
        self.settings = {setting.code: setting for setting in load.settings}
        self.solids = {form.code: built for form in load.forms if (built := self._solid(form)) is not None}
        for setting in load.settings:
            _twice(notes, f"places setting {setting.code}", (row.place for row in setting.standings))

    def _solid(self, form: BodyForm) -> Solid | None:
        where = f"form {form.code}"
        if not 1 <= form.pieces <= MOST_PIECES:
            self.notes.fault("forms", where, f"{form.pieces} pieces", f"1 to {MOST_PIECES} pieces")
            return None
        if form.stage is not self.stage:
            self.notes.fault("W1", where, f"its size in {form.stage.value}", f"its size on entry to {self.stage.value}")
        try:
            return solid(self.works, form)
        except KeyError as unknown:
            self.notes.fault("forms", where, str(unknown.args[0]), "codes that the works holds")
            return None

    def stack(self, row: StackLoad, place: StackPlace, roof_mm: float) -> Stack:
        """Return the tiers of a stack that can be read."""
        where = f"stack {row.place}"
        stub = next((item for item in self.works.furniture.stubs if item.code == row.stub), None)
        if row.stub is not None and stub is None:
            self.notes.fault("F14", where, row.stub, "stubs that the works holds")
        numbers = [tier.number for tier in row.tiers]
        if numbers != list(range(1, len(numbers) + 1)):
            self.notes.fault("tiers", where, ", ".join(map(str, numbers)), "tiers numbered 1, 2, ... from the bottom")
        read = [self._level(tier, place, roof_mm, is_top=tier is row.tiers[-1]) for tier in row.tiers]
        return Stack(place=place, stub=stub, levels=tuple(level for level in read if level is not None))

    def _level(self, tier: Tier, place: StackPlace, roof_mm: float, *, is_top: bool) -> Level | None:
        where = f"stack {place.code} tier {tier.number}"
        shelf, setting = self.shelves.get(tier.shelf), self.settings.get(tier.setting)
        if shelf is None:
            self.notes.fault("F2", where, tier.shelf, "a shelf that the works holds")
            return None
        if not _sane(tier.base_mm, tier.room_mm):
            found = f"{tier.base_mm:g} and {tier.room_mm:g} mm"
            self.notes.fault("F15", where, found, f"heights in numbers of at most {MOST_MM:g} mm")
            return None
        unknown = [code for code in tier.posts if code not in self.posts]
        if unknown:
            self.notes.fault("F3", where, ", ".join(unknown), "posts that the works holds")
        posts = tuple(self.posts[code] for code in tier.posts if code in self.posts)
        if setting is None:
            self.notes.fault("settings", where, tier.setting, "a setting of the load")
        elif setting.shelf != tier.shelf:
            self.notes.fault("settings", where, f"setting {setting.code} for {setting.shelf}", f"one for {tier.shelf}")
        closed_mm = sum(post.height_mm for post in posts)
        return Level(
            place=place,
            tier=tier,
            shelf=shelf,
            posts=posts,
            bodies=self._bodies(tier, setting, where) if setting else (),
            is_top=is_top,
            room_mm=closed_mm if tier.posts else roof_mm - tier.base_mm - shelf.thickness_mm,
            where=where,
        )

    def _bodies(self, tier: Tier, setting: Setting, where: str) -> tuple[Placed, ...]:
        known = {standing.place for standing in setting.standings}
        for fill in tier.fills:
            if fill.place not in known:
                self.notes.fault("fills", f"{where} place {fill.place}", "a fill", f"a place of {setting.code}")
        found = (self._placed(standing, tier.fills, where) for standing in setting.standings)
        return tuple(body for body in found if body is not None)

    def _placed(self, at: Standing, fills: tuple[PlaceFill, ...], tier: str) -> Placed | None:
        where = f"{tier} place {at.place}"
        built = self.solids.get(at.form)
        if built is None:
            self.notes.fault("forms", where, at.form, "a form of the load that can be built")
            return None
        if not _sane(at.x_mm, at.y_mm, turn_deg=at.turn_deg):
            wanted = f"a place and turn in numbers, within {MOST_MM:g} mm and {MOST_DEG:g} degrees"
            self.notes.fault("places", where, f"{at.x_mm:g}, {at.y_mm:g}, {at.turn_deg:g}", wanted)
            return None
        own = [fill for fill in fills if fill.place == at.place]
        pieces = sum(fill.pieces for fill in own)
        if pieces != built.form.pieces or any(fill.pieces < 1 for fill in own):
            rows = " + ".join(str(fill.pieces) for fill in own) or "no"
            self.notes.fault("fills", where, f"{rows} pieces", f"{built.form.pieces} pieces of {built.form.code}")
        fillings = tuple(one for fill in own if (one := self._filling(fill, built.form, where)) is not None)
        return Placed(standing=at, solid=built, fillings=fillings, where=where)

    def _filling(self, fill: PlaceFill, form: BodyForm, where: str) -> Filling | None:
        lot = self.lots.get(fill.lot)
        product = self.products.get(lot.product) if lot else None
        if lot is None or product is None:
            self.notes.fault("lots", where, fill.lot, "a lot of the works")
            return None
        self.used[lot.code] += fill.pieces
        if not 0 <= lot.step < len(product.route):
            self.notes.fault("lots", where, f"{lot.code} after its last firing", "a lot that waits for a firing")
            return None
        if product.shape != form.shape:
            self.notes.fault("lots", where, f"{lot.code} of shape {product.shape}", f"a lot of shape {form.shape}")
        self._is_ready(lot, where)
        step, glaze = product.route[lot.step], self.glazes.get(product.glaze or "")
        return Filling(lot=lot, pieces=fill.pieces, product=product, step=step, glaze=glaze)

    def _is_ready(self, lot: Lot, where: str) -> None:
        """Nothing is set that is still wet, or still hot (T1, T2, T6), where it is said when loading begins."""
        zone = self.works.calendar.time_zone
        if self.at is None or lot.ready_at is None or in_zone(lot.ready_at, zone) <= in_zone(self.at, zone):
            return
        found = f"{lot.code}, ready at {lot.ready_at.isoformat(' ', 'minutes')}"
        self.notes.fault("lots", where, found, f"ware that is ready at {self.at.isoformat(' ', 'minutes')}")

    def count_lots(self) -> None:
        """No lot gives more pieces than it holds."""
        for code, count in self.used.items():
            if count > self.lots[code].pieces:
                self.notes.fault("lots", f"lot {code}", f"{count} pieces", f"at most {self.lots[code].pieces}")
