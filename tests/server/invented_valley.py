"""Invent a plain with one round hill, and a plate of it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import pyvips
import rasterio
from numpy.typing import NDArray

from wherestood.daybook import Daybook
from wherestood.daybook.originals import take_in
from wherestood.daybook.tables import Feature, FeatureName
from wherestood.daybook.terrain_layers import LayerDetails, take_terrain

PERSON = "Ada Moss"
CRS = "EPSG:32632"
WEST_M, NORTH_M, CELL_M, NODES = 400_000.0, 5_110_000.0, 50.0, 200
WIDTH_PX, HEIGHT_PX = 640, 480
PLAIN_M, HILL_M, HILL_SD_M, HILL_NORTH_M = 100.0, 700.0, 900.0, 2500.0


def hill_heights() -> NDArray[np.float32]:
    """Return a plain at 100 m with one round hill north of its middle."""
    step = np.arange(NODES) * CELL_M
    east, down = np.meshgrid(step, step)
    middle = NODES * CELL_M / 2.0
    off = np.hypot(east - middle, down - middle + HILL_NORTH_M)
    return (PLAIN_M + HILL_M * np.exp(-((off / HILL_SD_M) ** 2))).astype(np.float32)


def write_terrain(path: Path) -> Path:
    """Write the plain and its hill as a GeoTIFF."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=NODES,
        height=NODES,
        count=1,
        dtype="float32",
        crs=CRS,
        transform=rasterio.Affine(CELL_M, 0.0, WEST_M, 0.0, -CELL_M, NORTH_M),
    ) as target:
        target.write(hill_heights(), 1)
    return path


def picture() -> NDArray[np.uint8]:
    """Return a plate: bright sky above a hill, dark land below, some grain."""
    rng = np.random.default_rng(5)
    x, y = np.meshgrid(np.arange(WIDTH_PX) + 0.5, np.arange(HEIGHT_PX) + 0.5)
    tone = np.where(y < skyline_px(x), 215.0, 90.0) + rng.normal(0.0, 4.0, x.shape)
    return np.clip(tone, 0, 255).astype(np.uint8)


def skyline_px(x_px: Any) -> Any:
    """Return the true skyline of the picture [px]."""
    return 300.0 - 140.0 * np.exp(-(((x_px - WIDTH_PX / 2) / 120.0) ** 2))


def write_scan(path: Path, pixels: NDArray[np.uint8] | None = None) -> Path:
    """Write a scan as a PNG."""
    grey = picture() if pixels is None else pixels
    image = pyvips.Image.new_from_memory(
        np.ascontiguousarray(grey).tobytes(), grey.shape[1], grey.shape[0], 1, "uchar"
    )
    image.write_to_file(str(path))
    return path


def lonlat(east_m: float = 0.0, north_m: float = 0.0) -> tuple[float, float]:
    """Return longitude and latitude of a point off the terrain's middle [deg]."""
    turn = pyproj.Transformer.from_crs(CRS, 4326, always_xy=True)
    half = NODES * CELL_M / 2.0
    lon, lat = turn.transform(
        WEST_M + half + CELL_M / 2 + east_m, NORTH_M - half - CELL_M / 2 + north_m
    )
    return float(lon), float(lat)


def lay_out(folder: Path) -> Path:
    """Make a daybook with one plate, its scan, its ground and a named summit."""
    lon, lat = lonlat()
    place = folder / "daybook"
    with Daybook.create(place) as book:
        take_in(
            book,
            "1987.12",
            write_scan(folder / "mill.png"),
            PERSON,
            new_plate={
                "title": "The mill",
                "size": "whole plate",
                "ground_searched": f"{lon:.6f},{lat:.6f},1km",
            },
        )
        details = LayerDetails(title="hill", surface="ground", credit="Invented")
        take_terrain(book, write_terrain(folder / "hill.tif"), PERSON, details=details)
        with book.writing(PERSON) as session:
            feature = Feature(
                key="summit",
                what="summit",
                geometry={
                    "type": "Point",
                    "coordinates": list(lonlat(0.0, HILL_NORTH_M)),
                },
            )
            session.add(feature)
            session.flush()
            session.add(FeatureName(feature_id=feature.id, name="Round Hill"))
    return place
