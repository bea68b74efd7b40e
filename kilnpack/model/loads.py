"""A load: which body stands where, on which shelf, under which posts, from which lot.

A *form* is a body's geometry (shape, way of stacking, support). A *setting* is an arrangement of forms on one type of
shelf, in placing order; tiers that look alike share a setting and differ only in the lots that fill its places.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from kilnpack.model.pieces import StackWay, Stage


@dataclass(frozen=True, slots=True, kw_only=True)
class BodyForm:
    """One shape as it stands in a stage: bare or stacked (`way`, `pieces`), on the shelf or on a support."""

    code: str
    shape: str
    stage: Stage
    way: StackWay | None = None
    pieces: int = 1
    support: str | None = None
    """Code of a stilt, setter or catch disc. Setters hold one piece each, `pieces` setters stacked."""
    spacer: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """One body of a setting, in placing order: its axis at (x, y) in the shelf's own frame, turned by `turn_deg`."""

    place: int
    form: str
    x_mm: float
    y_mm: float
    turn_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """An arrangement of bodies on one type of shelf; `standings` are in placing order, place numbers 1, 2, ..."""

    code: str
    shelf: str
    standings: tuple[Standing, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceFill:
    """Which lot the pieces at one place of a tier come from."""

    place: int
    lot: str
    pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Tier:
    """One shelf and the space above it.

    `base_mm` is the height of the shelf's underside over floor or deck. `posts` are codes of post types standing end
    to end on every point of the shelf's pattern, tallest lowest; empty for an open top tier (rule F17).
    `room_mm` is the free height above the shelf: posts plus allowance left off, or what the roof leaves.
    `fills` has at least one row for every place of the setting.
    """

    number: int
    base_mm: float
    shelf: str
    posts: tuple[str, ...]
    room_mm: float
    setting: str
    fills: tuple[PlaceFill, ...]
    flat: bool = False
    """True where a shelf whose bow is within the limit for flatware must be used (rule F12)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StackLoad:
    """The tiers of one stack, bottom to top, on stubs of one kind."""

    place: str
    stub: str | None
    tiers: tuple[Tier, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ConePack:
    """Where the witness cones of a peephole stand: on which tier, axis at (x, y) of that shelf's frame."""

    peephole: str
    place: str
    tier: int
    x_mm: float
    y_mm: float
    turn_deg: float
    lift_mm: float
    """How far the pack is raised off the shelf (on bits of post) so that its middle is on the hole's axis."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """Ready pieces that did not go in: the rule that bars them or "no room", and the smallest change that would."""

    lot: str
    pieces: int
    rule: str
    reason: str
    change: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reserved:
    """A place kept free for late pieces: a form's axis at (x, y) in the shelf's frame, set after so many places."""

    stack: str
    tier: int
    form: str
    product: str
    pieces: int
    after_place: int
    x_mm: float
    y_mm: float
    turn_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Substitute:
    """Ready ware that may stand in the place of a form: body for body, up to so many pieces of a lot."""

    form: str
    lot: str
    form_instead: str
    pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """All tiers for one firing."""

    works: str
    kiln: str
    programme: str
    stage: Stage
    car: str | None
    forms: tuple[BodyForm, ...]
    settings: tuple[Setting, ...]
    stacks: tuple[StackLoad, ...]
    cone_packs: tuple[ConePack, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    value_share: float
    """Value placed as a share of all value that was ready."""
    bound_share: float | None = None
    """What no load can place more of than this, proved, as a share of all value that was ready; None: not proved."""
    columns_share: float | None = None
    """What the settings found would place if each could be set a fraction of a time; a sign of quality, no bound."""
    seed: int
    remarks: tuple[str, ...] = ()
    """Remarks of the packer, such as a load under the least ware mass."""
    reserved: tuple[Reserved, ...] = ()
    """Places kept free for late pieces."""
    substitutes: tuple[Substitute, ...] = ()
    """What may be set in the place of what is missing or broken."""
    changed: tuple[tuple[str, int], ...] = ()
    """Stack and number of the tiers packed again since the load it was made from was printed."""

    def form(self, code: str) -> BodyForm:
        """Return the form of that code; KeyError if there is none."""
        return {form.code: form for form in self.forms}[code]

    def setting(self, code: str) -> Setting:
        """Return the setting of that code; KeyError if there is none."""
        return {setting.code: setting for setting in self.settings}[code]

    @property
    def pieces(self) -> int:
        """All pieces that stand in the load."""
        return sum(fill.pieces for stack in self.stacks for tier in stack.tiers for fill in tier.fills)

    @property
    def pieces_by_lot(self) -> Counter[str]:
        """The pieces of each lot that stand in the load."""
        found: Counter[str] = Counter()
        for stack in self.stacks:
            for tier in stack.tiers:
                for fill in tier.fills:
                    found[fill.lot] += fill.pieces
        return found
