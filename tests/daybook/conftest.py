"""Offer empty daybooks, on SQLite and on PostgreSQL."""

from __future__ import annotations

import os
import shutil
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path

import psycopg
import pytest

from wherestood.daybook import Daybook

SERVER = "WHERESTOOD_TEST_POSTGRESQL"
NewDaybook = Callable[[], Daybook]


@pytest.fixture(scope="session")
def empty_daybook(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of an empty daybook, to be copied: making one is slow."""
    folder = tmp_path_factory.mktemp("empty") / "daybook"
    Daybook.create(folder).close()
    return folder


@pytest.fixture(
    params=[
        "sqlite",
        pytest.param("postgresql", marks=pytest.mark.outside_program("postgresql")),
    ]
)
def new_daybook(
    request: pytest.FixtureRequest, tmp_path: Path, empty_daybook: Path
) -> Iterator[NewDaybook]:
    """Return what makes an empty daybook, each in its own folder and schema."""
    made: list[Daybook] = []
    schemas: list[str] = []

    def make() -> Daybook:
        folder = tmp_path / f"Tal der Mühle {len(made)} 谷"
        if request.param == "sqlite":
            shutil.copytree(empty_daybook, folder)
            made.append(Daybook.open(folder))
            return made[-1]
        schemas.append(f"test_{uuid.uuid4().hex}")
        with psycopg.connect(plain_address(), autocommit=True) as server:
            server.execute(f'CREATE SCHEMA "{schemas[-1]}"')
        url = f"{os.environ[SERVER]}?options=-csearch_path%3D{schemas[-1]}"
        made.append(Daybook.create(folder, url=url))
        return made[-1]

    yield make
    for daybook in made:
        daybook.close()
    for schema in schemas:
        with psycopg.connect(plain_address(), autocommit=True) as server:
            server.execute(f'DROP SCHEMA "{schema}" CASCADE')


def plain_address() -> str:
    """Return the server's address as PostgreSQL itself writes it."""
    return os.environ[SERVER].replace("postgresql+psycopg:", "postgresql:")


@pytest.fixture
def daybook(new_daybook: NewDaybook) -> Daybook:
    """Return an empty daybook."""
    return new_daybook()
