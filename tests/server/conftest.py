"""Offer a server over a small invented daybook."""

from __future__ import annotations

import importlib.util
import shutil
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
import uvicorn
from fastapi import FastAPI

from wherestood.daybook import Daybook
from wherestood.daybook.keep_answer import KeptAnswer, keep_answer
from wherestood.daybook.question import read_plate
from wherestood.notebook import LocatedPlate
from wherestood.server.app import make_app
from wherestood.server.desk import Desk
from wherestood.server.guard import Guard, GuardSettings, new_token
from wherestood.server.serve import listen


@pytest.fixture(scope="session")
def valley() -> Any:
    """Return the module that invents the ground and its plate."""
    path = Path(__file__).with_name("invented_valley.py")
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[path.stem] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def invented_plan() -> Any:
    """Return the module that invents an old plan of that ground."""
    path = Path(__file__).with_name("invented_plan.py")
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[path.stem] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def laid_out(tmp_path_factory: pytest.TempPathFactory, valley: Any) -> Path:
    """Return a daybook with one plate, its scan, its ground and a named summit."""
    return Path(valley.lay_out(tmp_path_factory.mktemp("served")))


@pytest.fixture(scope="session")
def located(tmp_path_factory: pytest.TempPathFactory) -> LocatedPlate:
    """Return a fix of an invented plate whose truth is known; nothing is searched."""
    path = Path(__file__).parents[1] / "record" / "scene.py"
    spec = importlib.util.spec_from_file_location("scene_of_records", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return LocatedPlate(*module.scene(tmp_path_factory.mktemp("scene")))


@pytest.fixture(scope="session")
def answered(
    tmp_path_factory: pytest.TempPathFactory, laid_out: Path, located: LocatedPlate
) -> tuple[Path, KeptAnswer]:
    """Return a daybook that keeps that fix as its plate's own: drawing is slow."""
    place = tmp_path_factory.mktemp("answered") / "valley"
    shutil.copytree(laid_out, place)
    with Daybook.open(place) as book:
        read = read_plate(book, "1987.12")
        return place, keep_answer(book, read, located, "Ada Moss", "first run")


@pytest.fixture
def planned(
    answered: tuple[Path, KeptAnswer], tmp_path: Path, valley: Any, invented_plan: Any
) -> Path:
    """Return a daybook whose fix looks over the ground of an old plan."""
    place = Path(shutil.copytree(answered[0], tmp_path / "planned"))
    invented_plan.stand_in_valley(place, valley)
    invented_plan.add_posts(place, valley)
    return place


@pytest.fixture
def folder(laid_out: Path, tmp_path: Path) -> Path:
    """Return a copy of the daybook, to be written in."""
    return Path(shutil.copytree(laid_out, tmp_path / "valley"))


@pytest.fixture
def desk(folder: Path, tmp_path: Path, valley: Any) -> Iterator[Desk]:
    """Return a desk with the daybook open."""
    made = Desk(valley.PERSON, tmp_path / "passing")
    made.open(folder)
    yield made
    made.close()


@pytest.fixture(scope="session")
def routes(tmp_path_factory: pytest.TempPathFactory) -> FastAPI:
    """Return the application, which is slow to make; its desk is set for each test."""
    return make_app(Desk("nobody", tmp_path_factory.mktemp("nowhere")))


@pytest.fixture
def served(desk: Desk, routes: FastAPI) -> Iterator[GuardSettings]:
    """Serve the daybook on a free port of loopback, behind the guard."""
    routes.state.desk = desk
    with listen(0) as listening:
        guard = GuardSettings(listening.getsockname()[1], new_token())
        server = uvicorn.Server(
            uvicorn.Config(Guard(routes, guard), log_level="error", lifespan="off")
        )
        thread = threading.Thread(target=server.run, args=([listening],), daemon=True)
        thread.start()
        yield guard
        server.should_exit = True
        thread.join(20.0)


@pytest.fixture
def client(served: GuardSettings) -> Iterator[httpx.Client]:
    """Return a browser that the server has let in."""
    address = f"http://127.0.0.1:{served.port}"
    with httpx.Client(base_url=address, timeout=600.0) as made:
        assert made.get("/", params={"token": served.token}).status_code == 200
        yield made


@pytest.fixture
def plate_id(client: httpx.Client) -> str:
    """Return the plate's id."""
    cards = client.get("/api/plates").json()["cards"]
    return str(cards[0]["id"])


@pytest.fixture
def scan_id(client: httpx.Client) -> str:
    """Return the scan's id."""
    return str(client.get("/api/plates").json()["cards"][0]["scan_id"])
