"""The three TOML files of a works folder: works, kilns, programmes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, time  # noqa: TC003 - types of the fields are resolved at run time
from enum import StrEnum
from typing import TYPE_CHECKING, Any, TypeVar

from kilnpack.codec import Fault, decode
from kilnpack.errors import Finding
from kilnpack.model.kilns import Kiln
from kilnpack.model.orders import Shift
from kilnpack.model.programmes import Programme
from kilnpack.model.settings import WorksSettings
from kilnpack.words import shown
from kilnpack.works_folder.bounds import bound_faults
from kilnpack.works_folder.cells import FIRST_YEAR, LAST_YEAR, code_fault
from kilnpack.works_folder.describe import MONEY_KEYS
from kilnpack.works_folder.grids import TooLarge, bytes_of, decoded
from kilnpack.works_folder.letters import alike_in, alike_wanted
from kilnpack.works_folder.toml_syntax import NoToml, plain_toml

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    _Prepare = Callable[[dict[str, Any]], Iterable[Fault]]

_Item = TypeVar("_Item", Kiln, Programme)

_DEFAULTS = WorksSettings()

MOST_TOML_BYTES = 2_000_000
MOST_ENTRIES = 500
"""Of kilns, and of programmes."""
TAG = "shape"
"""The key that says which of several outlines is meant."""


class Weekday(StrEnum):
    """Days of the week in the order of their numbers, 0 = Monday."""

    MONDAY = "monday"
    TUESDAY = "tuesday"
    WEDNESDAY = "wednesday"
    THURSDAY = "thursday"
    FRIDAY = "friday"
    SATURDAY = "saturday"
    SUNDAY = "sunday"


@dataclass(frozen=True, slots=True, kw_only=True)
class Money:
    """The table `[money]`."""

    currency: str = _DEFAULTS.currency
    labour_money_per_h: float = _DEFAULTS.labour_money_per_h
    furniture_wear_money_per_shelf: float = _DEFAULTS.furniture_wear_money_per_shelf


@dataclass(frozen=True, slots=True, kw_only=True)
class ShiftTable:
    """One entry of `[[calendar.shifts]]`."""

    days: tuple[Weekday, ...]
    start: time
    end: time
    crew_people: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarTable:
    """The table `[calendar]`."""

    time_zone: str = "UTC"
    unattended_firing: bool = False
    shifts: tuple[ShiftTable, ...] = ()

    def model_shifts(self) -> tuple[Shift, ...]:
        """Return one shift for each day named."""
        numbers = {day: number for number, day in enumerate(Weekday)}
        return tuple(
            Shift(weekday=numbers[day], start=shift.start, end=shift.end, crew_people=shift.crew_people)
            for shift in self.shifts
            for day in shift.days
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyTable:
    """The table `[supply]`."""

    drying_places_pieces: int | None = None
    glazing_pieces_per_hour: float | None = None
    rack_places_pieces: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WorksFile:
    """works.toml as a whole."""

    name: str
    now: datetime
    money: Money = Money()
    settings: WorksSettings = _DEFAULTS
    calendar: CalendarTable = CalendarTable()
    supply: SupplyTable = SupplyTable()

    @property
    def all_settings(self) -> WorksSettings:
        """The settings with the money of the works in them."""
        return replace(self.settings, **{key: getattr(self.money, key) for key in MONEY_KEYS})


@dataclass(frozen=True, slots=True, kw_only=True)
class Coded:
    """Items of a TOML file: those that are sound, and all codes named; `codes` is None where nothing could be read."""

    items: tuple[Any, ...]
    codes: frozenset[str] | None
    whole: bool


def read_toml(folder: Path, name: str) -> tuple[dict[str, Any] | None, list[Finding]]:
    """Return the plain data of a TOML file, or what keeps it from being read."""
    try:
        return plain_toml(decoded(bytes_of(folder / name, MOST_TOML_BYTES))), []
    except FileNotFoundError:
        return None, [_finding(name, Fault(place="", found="no such file", wanted="this file; every works has one"))]
    except (OSError, UnicodeDecodeError) as fault:
        said = getattr(fault, "strerror", None) or "bytes that are no text"
        return None, [_finding(name, Fault(place="", found=said, wanted="a text file in UTF-8"))]
    except TooLarge as fault:
        return None, [_finding(name, Fault(place="", found=str(fault), wanted=fault.wanted))]
    except NoToml as fault:
        return None, [Finding(file=name, row=fault.line, field=fault.place, found=fault.found, wanted=fault.wanted)]


def _finding(file: str, fault: Fault) -> Finding:
    return Finding(file=file, row=None, field=fault.place, found=fault.found, wanted=fault.wanted)


def read_works_file(folder: Path) -> tuple[WorksFile | None, list[Finding]]:
    """Return works.toml, or None with every finding."""
    plain, findings = read_toml(folder, "works.toml")
    if plain is None:
        return None, findings
    value, faults = decode(plain, WorksFile, tag=TAG)
    faults = [*faults, *_misplaced_money(plain), *(_value_faults(value) if value else ())]
    findings = [_finding("works.toml", fault) for fault in faults]
    return (None if findings else value), findings


def _value_faults(value: WorksFile) -> Iterator[Fault]:
    yield from bound_faults(value, "")
    if value.now.tzinfo is not None:
        wanted = "a moment without an offset; the calendar's time zone says which time is meant"
        yield Fault(place="now", found=value.now.isoformat(), wanted=wanted)
    if not FIRST_YEAR <= value.now.year <= LAST_YEAR:
        yield Fault(place="now", found=value.now.isoformat(), wanted=f"a year from {FIRST_YEAR} to {LAST_YEAR}")


def _misplaced_money(plain: dict[str, Any]) -> Iterator[Fault]:
    settings = plain.get("settings")
    for key in MONEY_KEYS:
        if isinstance(settings, dict) and key in settings:
            yield Fault(place=f"settings.{key}", found=shown(settings[key]), wanted="this key under [money]")


def read_kilns(folder: Path, settings: WorksSettings) -> tuple[Coded, list[Finding]]:
    """Return the kilns of kilns.toml, and every finding."""

    def prepare(kiln: dict[str, Any]) -> Iterator[Fault]:
        for one in kiln.get("offsets", ()) if isinstance(kiln.get("offsets"), list) else ():
            if isinstance(one, dict):
                one.setdefault("spread_k", settings.offset_spread_k)
                if "readings" in one:
                    yield Fault(place="offsets.readings", found="readings", wanted="readings in the table offsets")

    return _coded(folder, "kilns", Kiln, prepare)


def read_programmes(folder: Path) -> tuple[Coded, list[Finding]]:
    """Return the programmes of programmes.toml, and every finding."""

    def prepare(programme: dict[str, Any]) -> Iterator[Fault]:
        if programme.get("segments") == []:
            yield Fault(place="segments", found="an empty list", wanted="at least one segment")

    return _coded(folder, "programmes", Programme, prepare)


def _coded(folder: Path, key: str, kind: type[_Item], prepare: _Prepare) -> tuple[Coded, list[Finding]]:
    name = f"{key}.toml"
    plain, findings = read_toml(folder, name)
    if plain is None:
        return Coded(items=(), codes=None, whole=False), findings
    entries = plain.get(key)
    faults = [
        Fault(place=other, found="an unknown key", wanted=f"entries [[{key}]] only") for other in plain if other != key
    ]
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        faults.append(Fault(place=key, found="no list of them", wanted=f"entries [[{key}]], or {key} = []"))
        entries = []
    if len(entries) > MOST_ENTRIES:
        faults.append(Fault(place=key, found=f"{len(entries)} of them", wanted=f"at most {MOST_ENTRIES}"))
        entries = []
    items: list[_Item] = []
    codes: list[str] = []
    for number, entry in enumerate(entries, start=1):
        item, more = _entry(entry, number, key, kind, prepare)
        faults += more
        code = entry.get("code")
        if isinstance(code, str) and code in codes:
            faults.append(Fault(place=f"{key}[{code}].code", found=code, wanted="a code of its own; it is there twice"))
        elif isinstance(code, str):
            codes.append(code)
            items += [item] if item else []
    faults += [
        Fault(place=f"{key}[{code}].code", found=code, wanted=alike_wanted(code, other))
        for code, other in alike_in(codes)
    ]
    findings = [_finding(name, fault) for fault in faults]
    return Coded(items=tuple(items), codes=frozenset(codes), whole=not findings), findings


def _entry(
    entry: dict[str, Any], number: int, key: str, kind: type[_Item], prepare: _Prepare
) -> tuple[Any, list[Fault]]:
    code = entry.get("code")
    place = f"{key}[{code if isinstance(code, str) and code else number}]"
    if isinstance(code, str):
        entry.setdefault("name", code)
    faults = [replace(fault, place=f"{place}.{fault.place}") for fault in prepare(entry)]
    item, typed = decode(entry, kind, place=place, tag=TAG)
    faults += typed or bound_faults(item, place)
    if isinstance(code, str) and (wanted := code_fault(code)):
        faults.append(Fault(place=f"{place}.code", found=code, wanted=wanted))
    return (None if faults else item), faults
