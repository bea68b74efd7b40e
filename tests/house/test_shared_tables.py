"""Guards the one reader of the published tables: what it gives, and what it says of a table that is not there."""

from __future__ import annotations

import pytest

from kilnpack.shared_tables import sources, table, table_names


def test_every_table_has_rows_that_name_a_source() -> None:
    """Each table found by name can be read, and every row carries the key of a source there is."""
    assert table_names()
    for name in table_names():
        rows = table(name)
        assert rows, name
        assert {row["source"] for row in rows} <= set(sources()), name


def test_the_two_keys_for_what_has_no_source_are_there() -> None:
    """Facts of the trade and values from memory are marked as such, by keys of their own."""
    assert {"common-practice", "memory"} <= set(sources())


def test_a_table_that_is_not_there_is_answered_with_those_that_are() -> None:
    """A wrong name is told the right ones."""
    with pytest.raises(LookupError, match=table_names()[0]):
        table("no such table")
