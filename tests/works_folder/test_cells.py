"""Cells as spreadsheets leave them."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilnpack.works_folder.cells import CellFault, code_of, is_empty, number_of, read_cell
from kilnpack.works_folder.columns import Column, Kind
from kilnpack.works_folder.writer import cell_text


def column(kind: Kind, **more: object) -> Column:
    """Return a column of a kind."""
    return Column(heading="x", kind=kind, says="x", **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("kind", "cell", "value"),
    [
        (Kind.NUMBER, "12,5", 12.5),
        (Kind.NUMBER, " 12.5 ", 12.5),
        (Kind.NUMBER, ",5", 0.5),
        (Kind.NUMBER, "1e-3", 0.001),
        (Kind.NUMBER, "+7", 7.0),
        (Kind.NUMBER, 7, 7.0),
        (Kind.WHOLE, 24.0, 24),
        (Kind.WHOLE, "24.0", 24),
        (Kind.WHOLE, "24,00", 24),
        (Kind.SHARE, "8 %", 0.08),
        (Kind.SHARE, "12,5%", 0.125),
        (Kind.SHARE, 0.08, 0.08),
        (Kind.CODE, 24.0, "24"),
        (Kind.CODE, "007", "007"),
        (Kind.CODE, "3-4", "3-4"),
        (Kind.CODE, "1001/1", "1001/1"),
        (Kind.CODE, " CUP.W_2 ", "CUP.W_2"),
        (Kind.TEXT, 24.0, "24"),
        (Kind.TEXT, " Inn ", "Inn"),
        (Kind.YES_NO, "Yes", True),
        (Kind.YES_NO, 0.0, False),
        (Kind.YES_NO, True, True),
        (Kind.YES_NO, "FALSE", False),
        (Kind.DATE, "2026-12-01", date(2026, 12, 1)),
        (Kind.DATE, "01.12.2026", date(2026, 12, 1)),
        (Kind.DATE, "1.2.2026", date(2026, 2, 1)),
        (Kind.DATE, date(2026, 12, 1), date(2026, 12, 1)),
        (Kind.DATE, datetime(2026, 12, 1), date(2026, 12, 1)),
        (Kind.MOMENT, "01.12.2026 07:30", datetime(2026, 12, 1, 7, 30)),
        (Kind.MOMENT, "2026-12-01T07:30:15", datetime(2026, 12, 1, 7, 30, 15)),
        (Kind.MOMENT, "2026-12-01", datetime(2026, 12, 1)),
        (Kind.MOMENT, datetime(2026, 12, 1, 7, 29, 59, 999_990), datetime(2026, 12, 1, 7, 30)),
        (Kind.CODES, "ST1 | ST2", ("ST1", "ST2")),
        (Kind.CODES, 7.0, ("7",)),
        (Kind.POINTS, "65 65 | 415,5 65", ((65.0, 65.0), (415.5, 65.0))),
    ],
)
def test_what_people_type_is_read(kind: Kind, cell: object, value: object) -> None:
    """Guards the ways of typing that are allowed."""
    refers = "supports" if kind is Kind.CODES else None
    found = read_cell(cell, column(kind, refers=refers))
    assert found == value
    assert type(found) is type(value)


@pytest.mark.parametrize(
    ("kind", "cell", "wanted"),
    [
        (Kind.NUMBER, True, "a number"),
        (Kind.NUMBER, date(2026, 3, 4), "made a date of it"),
        (Kind.NUMBER, timedelta(hours=3), "made a date of it"),
        (Kind.NUMBER, "1 234", "thousands"),
        (Kind.NUMBER, "1'234", "thousands"),
        (Kind.NUMBER, "1e999", "finite"),
        (Kind.NUMBER, float("nan"), "finite"),
        (Kind.WHOLE, "1,234", "whole number"),
        (Kind.SHARE, "many %", "a number"),
        (Kind.CODE, date(2026, 4, 3), "made a date of it"),
        (Kind.CODE, datetime(2026, 4, 3), "made a date of it"),
        (Kind.CODE, time(3, 4), "made a date of it"),
        (Kind.CODE, "Apr 26", "made a date of it"),
        (Kind.CODE, "3-Apr", "made a date of it"),
        (Kind.CODE, "2026-04-03 00:00:00", "made a date of it"),
        (Kind.CODE, 3.5, "made a number of it"),
        (Kind.CODE, True, "letters, digits"),
        (Kind.CODE, "a;b", "letters, digits"),
        (Kind.CODE, "-7", "letters, digits"),
        (Kind.YES_NO, 2.0, "yes or no"),
        (Kind.DATE, 46357.0, "format the cell as a date"),
        (Kind.DATE, time(7, 30), "such as"),
        (Kind.CODES, "A | A", "each entry once"),
    ],
)
def test_what_cannot_be_meant_is_refused(kind: Kind, cell: object, wanted: str) -> None:
    """Guards the remedies in words."""
    with pytest.raises(CellFault, match=wanted):
        read_cell(cell, column(kind, refers="supports"))


def test_a_mark_says_none() -> None:
    """Guards the mark that overrules what follows from other columns."""
    assert read_cell(" - ", column(Kind.NUMBER, none_mark=True)) == "-"
    with pytest.raises(CellFault):
        read_cell("-", column(Kind.NUMBER))


CELLS = st.one_of(
    st.text(max_size=20),
    st.floats(),
    st.integers(),
    st.booleans(),
    st.dates(),
    st.datetimes(),
    st.times(),
    st.timedeltas(),
    st.none(),
)


@given(cell=CELLS, kind=st.sampled_from(list(Kind)))
def test_no_cell_breaks_the_reader(cell: object, kind: Kind) -> None:
    """Guards against tracebacks: any cell is a value or a fault with a remedy."""
    if is_empty(cell):
        return
    wanted = ""
    try:
        value = read_cell(cell, column(kind, choices=("a", "b"), refers="codes"))
    except CellFault as fault:
        value, wanted = None, str(fault)
    assert (value is None) == bool(wanted)


@given(number=st.floats(-1e9, 1e9).filter(lambda number: number == 0 or abs(number) >= 1e-9))
def test_numbers_survive_writing(number: float) -> None:
    """Guards the round trip of numbers to the last bit, with a point and with a comma."""
    text = cell_text(number)
    assert number_of(text) == number
    assert number_of(text.replace(".", ",")) == number


@given(share=st.decimals(min_value=0, max_value=100, places=3))
def test_per_cent_is_the_share_as_typed(share: object) -> None:
    """Guards shares in per cent: 12.3 % is the same float as 0.123."""
    assert read_cell(f"{share} %", column(Kind.SHARE)) == float(f"{share}e-2")


@given(moment=st.datetimes(min_value=datetime(1990, 1, 1), max_value=datetime(2200, 12, 31)))
def test_moments_survive_writing(moment: datetime) -> None:
    """Guards the round trip of dates and times."""
    assert read_cell(cell_text(moment), column(Kind.MOMENT)) == moment
    assert read_cell(cell_text(moment.date()), column(Kind.DATE)) == moment.date()


@given(whole=st.integers(min_value=0, max_value=10**9))
def test_whole_numbers_are_codes_without_a_point(whole: int) -> None:
    """Guards codes that a spreadsheet keeps as numbers: 24.0 is 24."""
    assert code_of(float(whole)) == str(whole)
