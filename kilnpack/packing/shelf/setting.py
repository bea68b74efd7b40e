"""What the shelf engine gives back, and how much trouble a setting may be to set by hand."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """One body on the shelf.

    Attributes
    ----------
    body
        Index in the bodies handed to the packer.
    x_mm, y_mm
        Where the origin of the body's frame stands.
    turn_deg
        Counter-clockwise turn of the body about its origin.
    """

    body: int
    x_mm: float
    y_mm: float
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ease:
    """How easy a setting has to be for the hand that sets it.

    Attributes
    ----------
    turn_step_deg
        Angles are multiples of this; 0 leaves them free.
    finer_gain_share
        Free angles are tried as well, and kept if they make the setting worth more by this share; None: never.
    in_rows
        Whether bodies that nearly stand in a row are moved into it, which costs no value.
    row_cost_share
        What one row less is worth, as a share of the value found without this wish; 0: nothing.
    free_way_down
        Whether every body keeps clear of what passes it when the low kinds are set before those that lean over them,
        so that an order of setting straight down from above exists.
    """

    turn_step_deg: float = 0.0
    finer_gain_share: float | None = None
    in_rows: bool = False
    row_cost_share: float = 0.0
    free_way_down: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfSetting:
    """Bodies on one shelf.

    Attributes
    ----------
    placements
        Where each body stands.
    value
        Sum of the bodies' values.
    evaluations
        Work spent: evaluations of the overlap of the whole shelf.
    has_all_must
        Whether every piece that had to be placed is placed.
    """

    placements: tuple[Placement, ...]
    value: float
    evaluations: int
    has_all_must: bool = True
