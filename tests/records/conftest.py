"""Records to test on: a new file for every test, and in the long tests a new data base of a real server."""

from __future__ import annotations

import shutil
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from sqlalchemy import create_engine, text

from kilnpack.records.address import records_url
from kilnpack.records.store import init_records, open_records
from kilnpack.records.works_values import put_works
from tests.records.server import server
from tests.rules.small_audit import small_works

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sqlalchemy import URL

    from kilnpack.records.store import Records

_NUMBERS = count(1)


@pytest.fixture(scope="session")
def postgresql() -> Iterator[str]:
    """Return the address of a server that lives as long as the tests."""
    with server() as address:
        yield address


@pytest.fixture(params=["file", pytest.param("server", marks=[pytest.mark.long, pytest.mark.postgresql])])
def place(request: pytest.FixtureRequest) -> str:
    """Return the address of the server, or nothing for a file."""
    return str(request.getfixturevalue("postgresql")) if request.param == "server" else ""


@pytest.fixture
def url(place: str, tmp_path: Path) -> URL:
    """Return where records may be made: a file, or an empty data base of a server."""
    return new_data_base(tmp_path, place, "template1") if place else records_url(tmp_path)


def new_data_base(folder: Path, address: str, template: str) -> URL:
    """Make a data base of a server as a copy of another."""
    name = f"kilnpack{next(_NUMBERS)}"
    engine = create_engine(records_url(folder, address), isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name} TEMPLATE {template}"))
    engine.dispose()
    return records_url(folder, address).set(database=name)


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> dict[str, URL]:
    """Return records without a works, made once for every place and then copied."""
    return {"": made_once(records_url(tmp_path_factory.mktemp("made")))}


def made_once(url: URL) -> URL:
    """Make records and close them."""
    init_records(url).close()
    return url


@pytest.fixture
def records(place: str, tmp_path: Path, made: dict[str, URL]) -> Iterator[Records]:
    """Return records without a works."""
    if place:
        if place not in made:
            made[place] = made_once(new_data_base(tmp_path, place, "template1"))
        own = new_data_base(tmp_path, place, str(made[place].database))
    else:
        own = records_url(tmp_path)
        Path(str(own.database)).parent.mkdir()
        shutil.copy(str(made[place].database), str(own.database))
    opened = open_records(own)
    yield opened
    opened.close()


@pytest.fixture
def kept(records: Records) -> Records:
    """Return records that hold the small works."""
    with records.writing("import") as session:
        put_works(session, small_works())
    return records
