"""Records to test on: a new file for every test, and in the long tests a new data base of a real server."""

from __future__ import annotations

from itertools import count
from typing import TYPE_CHECKING

import pytest
from sqlalchemy import create_engine, text

from kilnpack.records.address import records_url
from kilnpack.records.store import init_records
from kilnpack.records.works_values import put_works
from tests.records.server import server
from tests.rules.small_audit import small_works

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from sqlalchemy import URL

    from kilnpack.records.store import Records

_NUMBERS = count(1)


@pytest.fixture(scope="session")
def postgresql() -> Iterator[str]:
    """Return the address of a server that lives as long as the tests."""
    with server() as address:
        yield address


@pytest.fixture(params=["file", pytest.param("server", marks=[pytest.mark.long, pytest.mark.postgresql])])
def url(request: pytest.FixtureRequest, tmp_path: Path) -> URL:
    """Return where records may be made: a file, or an empty data base of a server."""
    if request.param == "file":
        return records_url(tmp_path)
    address = request.getfixturevalue("postgresql")
    name = f"kilnpack{next(_NUMBERS)}"
    engine = create_engine(records_url(tmp_path, address), isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name}"))
    engine.dispose()
    return records_url(tmp_path, address).set(database=name)


@pytest.fixture
def records(url: URL) -> Iterator[Records]:
    """Return records without a works."""
    made = init_records(url)
    yield made
    made.close()


@pytest.fixture
def kept(records: Records) -> Records:
    """Return records that hold the small works."""
    with records.writing("import") as session:
        put_works(session, small_works())
    return records
