"""From a cell to a value: numbers with a comma, dates of several kinds, codes that a spreadsheet spoilt."""

from __future__ import annotations

import math
import re
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

from kilnpack.words import listed, nearest, text_fault, unguarded
from kilnpack.works_folder.columns import Kind
from kilnpack.works_folder.letters import letters_fault

if TYPE_CHECKING:
    from collections.abc import Callable

    from kilnpack.model.geometry import Point
    from kilnpack.works_folder.columns import Column

NONE_MARK = "-"
"""Stands in a cell for "none, whatever would follow from other columns"."""

_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)(e[+-]?\d+)?", re.I)
_THOUSANDS = re.compile(r"[+-]?\d{1,3}([.,'\u2019\s]\d{3})+([.,]\d+)?")
_CODE = re.compile(r"[^\W_][\w./+-]*")
_SIGNS = "a code of letters, digits and . _ - / + without spaces, beginning with a letter or digit"
_MONTHS = (
    "jan|feb|mar|mrz|m\u00e4r|apr|mai|may|jun|jul|aug|sep|sept|oct|okt|nov|dec|dez"  # English and German spreadsheets
)
_LIKE_DATE = re.compile(
    rf"\d{{1,2}}[./]\d{{1,2}}[./]\d{{2,4}}|\d{{4}}-\d\d-\d\d([ T]\d\d:\d\d(:\d\d)?)?"
    rf"|\d{{1,2}}(?:[-. ]|\. )({_MONTHS})\.?([-. ]\d{{2,4}})?|({_MONTHS})\.?[-. ]\d{{2,4}}",
    re.I,
)
_ISO_DAY = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[ T](.+))?")
_DOTTED_DAY = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4})(?:[ T](.+))?")
_CLOCK = re.compile(r"(\d{1,2}):(\d\d)(?::(\d\d)(\.\d+)?)?")
_YES = {"yes": True, "y": True, "true": True, "1": True, "no": False, "n": False, "false": False, "0": False}
FIRST_YEAR, LAST_YEAR = 1990, 2200
MOST_NUMBER, LEAST_NUMBER = 1e9, 1e-9
"""Nothing of a works is larger or, where it is not nought, smaller: a slip of the pen, whatever the unit."""
MOST_CODE = 80
MOST_WHOLE = 1_000_000
"""Pieces, posts, firings: no small works counts further."""


class CellFault(ValueError):
    """A cell that cannot be read; the text says what is wanted."""


def is_empty(cell: object) -> bool:
    """Tell whether a cell holds nothing."""
    return cell is None or (isinstance(cell, str) and not cell.strip())


def read_cell(cell: object, column: Column) -> object:
    """Return the value of a cell that is not empty.

    Raises
    ------
    CellFault
        The cell does not hold what the column wants.
    """
    if column.none_mark and isinstance(cell, str) and cell.strip() == NONE_MARK:
        return NONE_MARK
    return _READERS[column.kind](cell, column)


def number_of(cell: object) -> float:
    """Return the number of a cell; a comma may stand for the point.

    Raises
    ------
    CellFault
        It is none, or not finite, or has a mark for thousands.
    """
    value = float(cell) if isinstance(cell, int | float) and not isinstance(cell, bool) else _number_of_text(cell)
    if not math.isfinite(value):
        raise CellFault("a finite number")
    if wanted := size_fault(value):
        raise CellFault(wanted)
    return value


def size_fault(value: float) -> str:
    """Return what is wanted of a number that is too large or too small to be meant, nothing where it is not."""
    if abs(value) > MOST_NUMBER:
        return f"a number of at most {MOST_NUMBER:.0f}"
    return f"0, or a number of at least {LEAST_NUMBER:.9f}" if 0 < abs(value) < LEAST_NUMBER else ""


def _number_of_text(cell: object) -> float:
    if isinstance(cell, date | time | timedelta):
        raise CellFault("a number; the spreadsheet made a date of it: format the cell as a number and type it anew")
    text = str(cell).strip()
    if _NUMBER.fullmatch(text):
        return float(text.replace(",", "."))
    if _THOUSANDS.fullmatch(text):
        raise CellFault("a number without a mark for thousands")
    if text.lower().lstrip("+-") in ("nan", "inf", "infinity"):
        raise CellFault("a finite number")
    if re.match(_NUMBER, text):
        raise CellFault("a number alone; the unit stands in the heading")
    raise CellFault("a number")


def _bounded(value: float, column: Column) -> float:
    low = column.above is not None and value <= column.above
    low = low or (column.least is not None and value < column.least)
    if low or (column.most is not None and value > column.most):
        raise CellFault(f"a {column.kind} {column.bounds}")
    return value


def _number(cell: object, column: Column) -> float:
    return _bounded(number_of(cell), column)


def _whole(cell: object, column: Column) -> int:
    value = number_of(cell)
    if not value.is_integer():
        raise CellFault("a whole number, without a mark for thousands")
    if abs(value) > MOST_WHOLE:
        raise CellFault(f"a whole number of at most {MOST_WHOLE}")
    return int(_bounded(value, column))


def _share(cell: object, column: Column) -> float:
    text = cell.strip() if isinstance(cell, str) else ""
    # Decimal digits are shifted in the text, so that 12.3 % is the same float as 0.123.
    value = number_of(f"{number_of(text[:-1].strip()):.15g}e-2") if text.endswith("%") else number_of(cell)
    try:
        return _bounded(value, column)
    except CellFault as fault:
        raise CellFault(f"{fault}; 10 % is 0.1") from None


def _code(cell: object, _column: Column) -> str:
    return code_of(cell)


def code_of(cell: object) -> str:
    """Return the code in a cell.

    Raises
    ------
    CellFault
        It is none, or a spreadsheet made a date or a fraction of it.
    """
    text = str(cell).strip() if isinstance(cell, str) else ""
    if isinstance(cell, date | time | timedelta) or _LIKE_DATE.fullmatch(text):
        raise CellFault("a code; the spreadsheet made a date of it: format the column as text and type it anew")
    if isinstance(cell, float | int) and not isinstance(cell, bool):
        if not float(cell).is_integer():
            raise CellFault("a code; the spreadsheet made a number of it: format the column as text and type it anew")
        text = f"{cell:.0f}"
    if wanted := code_fault(text):
        raise CellFault(wanted)
    return text


def code_fault(code: str) -> str:
    """Return what is wanted of what is no code, too long or in letters that look like others, else nothing."""
    if len(code) > MOST_CODE:
        return f"a code of at most {MOST_CODE} characters"
    if wanted := letters_fault(code):
        return wanted
    return "" if _CODE.fullmatch(code) else _SIGNS


def _text(cell: object, _column: Column) -> str:
    if isinstance(cell, float) and cell.is_integer():
        return f"{cell:.0f}"
    text = unguarded(str(cell).strip())
    if wanted := text_fault(text):
        raise CellFault(wanted)
    return text


def _yes_no(cell: object, _column: Column) -> bool:
    if isinstance(cell, bool):
        return cell
    text = f"{cell:g}" if isinstance(cell, float | int) else str(cell).strip().lower()
    if text not in _YES:
        raise CellFault("yes or no")
    return _YES[text]


def _choice(cell: object, column: Column) -> str:
    text = " ".join(str(cell).lower().replace("_", " ").split())
    if text not in column.choices:
        raise CellFault(f"one of {listed(column.choices)}{nearest(text, column.choices)}")
    return text


def _moment(cell: object, _column: Column) -> datetime:
    if isinstance(cell, datetime):
        moment = cell + timedelta(microseconds=500_000)  # spreadsheets keep times as parts of a day
        moment = moment.replace(microsecond=0)
    elif isinstance(cell, date):
        moment = datetime(cell.year, cell.month, cell.day)
    else:
        moment = _moment_of_text(cell)
    if not FIRST_YEAR <= moment.year <= LAST_YEAR:
        raise CellFault(f"a year from {FIRST_YEAR} to {LAST_YEAR}")
    return moment


def _moment_of_text(cell: object) -> datetime:
    wanted = "a date such as 2026-12-01 or 01.12.2026, where a time is asked for with 07:30 after it"
    text = str(cell).strip()
    if iso := _ISO_DAY.fullmatch(text):
        year, month, day, clock = iso.groups()
    elif dotted := _DOTTED_DAY.fullmatch(text):
        day, month, year, clock = dotted.groups()
    elif isinstance(cell, float | int):
        raise CellFault(f"{wanted}; the spreadsheet shows the number behind it: format the cell as a date")
    else:
        raise CellFault(wanted)
    hands = _CLOCK.fullmatch(clock.strip()) if clock else None
    if clock and not hands:
        raise CellFault(wanted)
    try:
        hour, minute, second, part = hands.groups() if hands else ("0", "0", None, None)
        micro = round(float(part or 0) * 1_000_000)
        return datetime(int(year), int(month), int(day), int(hour), int(minute), int(second or 0), micro)
    except ValueError:
        raise CellFault("a day and a time that there are") from None


def _date(cell: object, column: Column) -> date:
    moment = _moment(cell, column)
    if moment.time() != time():
        raise CellFault("a date without a time")
    return moment.date()


def _codes(cell: object, column: Column) -> tuple[str, ...]:
    parts = [part.strip() for part in unguarded(cell.strip()).split("|")] if isinstance(cell, str) else [cell]
    if "" in parts or len(set(parts)) < len(parts):
        raise CellFault("a list separated by bars, each entry once")
    return tuple(str(part) if column.refers is None else code_of(part) for part in parts)


def _points(cell: object, _column: Column) -> tuple[Point, ...]:
    points = []
    for part in str(cell).split("|"):
        numbers = part.split()
        if len(numbers) != 2:
            raise CellFault("points as x y, separated by bars, such as 0 0 | 40 0 | 20 30")
        points.append((number_of(numbers[0]), number_of(numbers[1])))
    return tuple(points)


_READERS: dict[Kind, Callable[[object, Column], object]] = {
    Kind.CODE: _code,
    Kind.TEXT: _text,
    Kind.NUMBER: _number,
    Kind.WHOLE: _whole,
    Kind.SHARE: _share,
    Kind.YES_NO: _yes_no,
    Kind.DATE: _date,
    Kind.MOMENT: _moment,
    Kind.CHOICE: _choice,
    Kind.CODES: _codes,
    Kind.POINTS: _points,
}
