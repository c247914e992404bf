"""Offer small problems and hand-made cells to the tests of the search."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from PIL import Image

from wherestood.earth.frame import Frame
from wherestood.evidence.unknowns import COUNT
from wherestood.fix.area import Area
from wherestood.fix.cells import Cells
from wherestood.fix.first_cameras import MODES
from wherestood.fix.problem import Problem, set_up
from wherestood.fix.settings import LocateSettings
from wherestood.plate.scan import Plate
from wherestood.plate.skyline import Skyline
from wherestood.terrain.model import Terrain

Array = NDArray[np.float64]
WIDTH_PX, HEIGHT_PX = 1200, 900


def cells_of(
    east_m: Array,
    north_m: Array,
    side_m: float,
    log_density: Array,
    share: Array | NDArray[np.bool_] | None = None,
) -> Cells:
    """Return cells of one hand, with a camera that scores all there is."""
    count = len(east_m)
    score = np.full((count, 1, MODES), -np.inf)
    score[:, 0, 0] = log_density
    return Cells(
        np.asarray(east_m, dtype=np.float64),
        np.asarray(north_m, dtype=np.float64),
        np.full(count, float(side_m)),
        np.ones(count) if share is None else np.asarray(share, dtype=np.float64),
        score[:, :, 0],
        score,
        np.zeros((count, 1, MODES, COUNT)),
        np.zeros((count, 1, MODES, COUNT)),
        np.zeros(count),
    )


@pytest.fixture(scope="session")
def make_cells() -> Callable[..., Cells]:
    """Return the function that makes cells of a density."""
    return cells_of


@pytest.fixture(scope="session")
def area_of() -> Callable[[Terrain, shapely.Geometry], Area]:
    """Return the function that makes an area of a shape in frame metres."""

    def made(land: Terrain, shape: shapely.Geometry) -> Area:
        def lonlat(points: Array) -> Array:
            return np.column_stack(land.frame.to_lonlat(points[:, 0], points[:, 1]))

        return Area(shapely.transform(shape, lonlat), "invented")

    return made


@pytest.fixture(scope="session")
def plate(tmp_path_factory: pytest.TempPathFactory) -> Plate:
    """Return an empty scan: only its size matters here."""
    path = tmp_path_factory.mktemp("plate") / "invented.png"
    Image.new("L", (WIDTH_PX, HEIGHT_PX), 120).save(path)
    return Plate.open(path, negative=False)


@pytest.fixture(scope="session")
def land() -> Terrain:
    """Return invented hills, 8 km square, smooth."""
    at_m = np.arange(-80, 81) * 50.0
    east, north = np.meshgrid(at_m, at_m)
    height_m = 200.0 + 120.0 * np.sin(east / 900.0) * np.cos(north / 1100.0)
    return Terrain(
        height_m.astype(np.float32),
        -4000.0,
        -4000.0,
        50.0,
        Frame.local(-27.5, 41.2),
        "ground",
        50.0,
    )


@pytest.fixture(scope="session")
def wavy_skyline() -> Skyline:
    """Return a skyline like any."""
    x_px = np.arange(0.5, WIDTH_PX, 2.0)
    y_px = 400.0 + 30.0 * np.sin(x_px / 90.0)
    count = len(x_px)
    return Skyline(
        x_px,
        y_px,
        np.ones(count),
        WIDTH_PX,
        HEIGHT_PX,
        np.zeros(count, dtype=bool),
    )


@pytest.fixture(scope="session")
def problem(
    plate: Plate,
    land: Terrain,
    wavy_skyline: Skyline,
    area_of: Callable[[Terrain, shapely.Geometry], Area],
) -> Problem:
    """Return a search of the middle 4 km square of the hills."""
    area = area_of(land, shapely.box(-2000.0, -2000.0, 2000.0, 2000.0))
    return set_up(plate, land, wavy_skyline, area, LocateSettings(surface="ground"))


@pytest.fixture(scope="session")
def marked() -> ModuleType:
    """Return the module that marks things on the hills."""
    path = Path(__file__).with_name("marked.py")
    spec = importlib.util.spec_from_file_location("invented_marks", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
