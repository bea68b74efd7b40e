"""Words of the records: how far a firing is, what a loader ticks, how ware came out, who may do what."""

from __future__ import annotations

from enum import StrEnum


class RecordedState(StrEnum):
    """How far a firing is; the members stand in their order, but for the last."""

    PLANNED = "planned"
    LOADING = "loading"
    FIRING = "firing"
    COOLING = "cooling"
    UNLOADED = "unloaded"
    INSPECTED = "inspected"
    GIVEN_UP = "given up"


class TickKind(StrEnum):
    """What a loader notes at a place."""

    SET = "set"
    TAKEN_OUT = "taken out"
    SWAP = "swap"
    BREAKAGE = "breakage"


class Grade(StrEnum):
    """How a piece came out of a firing."""

    FIRST = "first"
    SECOND = "second"
    REFIRE = "refire"
    SCRAP = "scrap"


class Role(StrEnum):
    """What someone does at the works."""

    LOADER = "loader"
    PLANNER = "planner"
    OWNER = "owner"


class LoadKind(StrEnum):
    """Whether a load is the one meant or the one that was set."""

    PLANNED = "planned"
    AS_LOADED = "as loaded"
