"""What a column and a sheet of a works folder are; the headings themselves stand in `headings_*`."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """How the cells of a column are read. The values are the words that docs and findings use."""

    CODE = "code"
    TEXT = "text"
    NUMBER = "number"
    WHOLE = "whole number"
    SHARE = "share"
    YES_NO = "yes or no"
    DATE = "date"
    MOMENT = "date and time"
    CHOICE = "choice"
    CODES = "list"
    POINTS = "points"


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a sheet.

    `needed` columns must be there and filled. An empty cell of any other column gives `default`; where that is None
    `else_says` tells what the reader does instead. `refers` names the sheet or file whose codes the cells must hold.
    `above`, `least` and `most` bound numbers (`above` itself is not allowed). `none_mark` columns take ``-`` for
    "none, whatever would follow from other columns".
    """

    heading: str
    kind: Kind
    says: str
    needed: bool = False
    default: str | float | bool | None = None
    else_says: str = ""
    choices: tuple[str, ...] = ()
    refers: str | None = None
    above: float | None = None
    least: float | None = None
    most: float | None = None
    none_mark: bool = False

    @property
    def bounds(self) -> str:
        """The bounds in words, empty where there are none."""
        words = (("above", self.above), ("at least", self.least), ("at most", self.most))
        return " and ".join(f"{word} {bound:g}" for word, bound in words if bound is not None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One table of a works folder: `NAME.csv`, `NAME.xlsx`, or the sheet NAME of `works.xlsx`.

    `key` is the column whose codes must differ, or None.
    """

    name: str
    says: str
    columns: tuple[Column, ...]
    key: str | None = None


def code(heading: str, says: str, *, refers: str | None = None) -> Column:
    """Return a needed column of codes."""
    return Column(heading=heading, kind=Kind.CODE, says=says, needed=True, refers=refers)


def measure(heading: str, says: str, *, above: float | None = None, least: float | None = None) -> Column:
    """Return a needed column of numbers; without a bound named the number must be above 0."""
    bound = 0.0 if above is None and least is None else above
    return Column(heading=heading, kind=Kind.NUMBER, says=says, needed=True, above=bound, least=least)


def count(heading: str, says: str, *, least: int = 0) -> Column:
    """Return a needed column of whole numbers."""
    return Column(heading=heading, kind=Kind.WHOLE, says=says, needed=True, least=least)


def name_column() -> Column:
    """Return the column of names for people."""
    return Column(heading="name", kind=Kind.TEXT, says="name for people", else_says="the code")
