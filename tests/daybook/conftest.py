"""Offer empty daybooks, on SQLite and on PostgreSQL."""

from __future__ import annotations

import os
import shutil
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import make_url

from wherestood.daybook import Daybook
from wherestood.daybook.book import ADDRESS_FILE

SERVER = "WHERESTOOD_TEST_POSTGRESQL"
NewDaybook = Callable[[], Daybook]


@pytest.fixture(scope="session")
def empty_daybook(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of an empty daybook, to be copied: making one is slow."""
    folder = tmp_path_factory.mktemp("empty") / "daybook"
    Daybook.create(folder).close()
    return folder


@pytest.fixture(scope="session")
def empty_on_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Return the folder of an empty daybook of a PostgreSQL server, to be copied."""
    folder = tmp_path_factory.mktemp("empty on server") / "daybook"
    name = new_name()
    on_server(f'CREATE DATABASE "{name}"')
    Daybook.create(folder, url=address_of(name)).close()
    yield folder
    on_server(f'DROP DATABASE "{name}"')


@pytest.fixture(
    params=[
        "sqlite",
        pytest.param("postgresql", marks=pytest.mark.outside_program("postgresql")),
    ]
)
def new_daybook(
    request: pytest.FixtureRequest, tmp_path: Path, empty_daybook: Path
) -> Iterator[NewDaybook]:
    """Return what makes an empty daybook, each in its own folder and database."""
    made: list[Daybook] = []
    databases: list[str] = []

    def make() -> Daybook:
        folder = tmp_path / f"Tal der Mühle {len(made)} 谷"
        if request.param == "sqlite":
            shutil.copytree(empty_daybook, folder)
        else:
            shutil.copytree(request.getfixturevalue("empty_on_server"), folder)
            databases.append(new_name())
            empty = make_url((folder / ADDRESS_FILE).read_text("utf-8").strip())
            copy_database(str(empty.database), databases[-1])
            address = address_of(databases[-1])
            (folder / ADDRESS_FILE).write_text(f"{address}\n", encoding="utf-8")
        made.append(Daybook.open(folder))
        return made[-1]

    yield make
    for daybook in made:
        daybook.close()
    for database in databases:
        on_server(f'DROP DATABASE "{database}"')


def new_name() -> str:
    """Return a name that no database has."""
    return f"test_{uuid.uuid4().hex}"


def address_of(database: str) -> str:
    """Return the address of a database of the server."""
    address = make_url(os.environ[SERVER]).set(database=database)
    return address.render_as_string(hide_password=False)


def on_server(words: str) -> None:
    """Have the server do something."""
    plain = os.environ[SERVER].replace("postgresql+psycopg:", "postgresql:")
    with psycopg.connect(plain, autocommit=True) as server:
        server.execute(words.encode())


def copy_database(one: str, other: str) -> None:
    """Copy a database as files: less work than to make it, or to copy it by the log."""
    on_server(f'CREATE DATABASE "{other}" TEMPLATE "{one}" STRATEGY FILE_COPY')


@pytest.fixture
def daybook(new_daybook: NewDaybook) -> Daybook:
    """Return an empty daybook."""
    return new_daybook()
