"""TOML to plain data; what is no TOML is said in our own words, with its line and column."""

from __future__ import annotations

import re
import tomllib
from typing import Any

WANTED = "TOML as shown in docs/formats.md"
MOST_KEY_PARTS = 32
"""Of a key with dots, such as `a.b.c`: the library takes ever longer over each further part."""
_LONG_KEY = re.compile(
    r"(?<![\w-])(?:(?:[\w-]+|\"[^\"\n]*\"|'[^'\n]*')[ \t]*\.[ \t]*){" + str(MOST_KEY_PARTS) + r"}[\w\"'-]"
)
_AT = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")
_SAID = (
    (r"Cannot (declare|overwrite|mutate|redefine)|Duplicate", "a key or a table that is there already"),
    (r"Unterminated string|Expected \"'|Expected '\"", "a text whose quote is not closed"),
    (r"Unclosed|Expected '\]'|Expected '\]\]'", "a bracket that is not closed"),
    (r"Expected '='|Invalid initial character|Invalid statement|Empty", "a line that is no key = value"),
    (r"Expected newline or end of document", "something behind a value where its line should end"),
    (r"Invalid date", "a day or an hour that there is not"),
    (r"Unescaped|Escaped|Invalid hex", "a backslash in a text that means nothing; write two, or single quotes"),
    (r"Illegal|Found invalid character", "a sign that may not stand here"),
    (r"Invalid value", "no value; a text stands in quotes, a number has a digit before and behind its point"),
)
"""What the library says, by how it begins, and what we say for it."""
_OTHERWISE = "no TOML from here on"


class NoToml(Exception):
    """A text that is no TOML: line from 1 (None where the whole text is meant), place in it, found, wanted."""

    def __init__(self, found: str, *, line: int | None = None, column: int | None = None, wanted: str = WANTED) -> None:
        self.found, self.line, self.wanted = found, line, wanted
        self.place = f"column {column}" if column else ""
        super().__init__(found)


def plain_toml(text: str) -> dict[str, Any]:
    """Return the plain data of a TOML text.

    Raises
    ------
    NoToml
        It is none, or none that can be read.
    """
    if long := _LONG_KEY.search(text):
        line, column = _place(text, long.start())
        wanted = f"a key of at most {MOST_KEY_PARTS} parts"
        raise NoToml("a key with more dots than can be meant", line=line, column=column, wanted=wanted)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise _in_our_words(text, str(fault)) from fault
    except RecursionError as fault:
        raise NoToml("lists in lists without an end") from fault
    except ValueError as fault:  # whole numbers that the library cannot even read
        raise NoToml("a number of thousands of digits") from fault


def _place(text: str, at: int) -> tuple[int, int]:
    return text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at)


def _in_our_words(text: str, said: str) -> NoToml:
    """Return the fault of the library in our words, at the place it names."""
    found = next((words for begins, words in _SAID if re.match(begins, said)), _OTHERWISE)
    at = _AT.search(said)
    if at is None or at[1] is None:
        line, column = _place(text, len(text))
        return NoToml(f"{found}, at the end of the file", line=line, column=column)
    return NoToml(found, line=int(at[1]), column=int(at[2]))
