"""Write a whole plate on the ground: distances in its own frame, and as a map."""

from __future__ import annotations

import math
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
import rasterio.errors
from affine import Affine
from numpy.typing import NDArray
from rasterio.windows import Window
from scipy import ndimage

from wherestood.errors import InputError
from wherestood.ground.mapping import Mapping
from wherestood.ground.standing import central_standing
from wherestood.ground.viewshed import viewshed_from
from wherestood.ground.whole_plate import whole_plate
from wherestood.plate.scan import Plate
from wherestood.progress import SILENT, Progress
from wherestood.terrain.ground import height_m
from wherestood.terrain.sight_lines import in_sight

__all__ = ["write_distances", "write_rectified"]

Array = NDArray[np.float64]
_TILE = 512
_MOST_CELLS = 25_000_000
_FINER_THAN_TERRAIN = 10.0
_COMMON = {
    "driver": "GTiff", "dtype": "float32", "nodata": float("nan"), "tiled": True,
    "blockxsize": 256, "blockysize": 256, "compress": "deflate", "zlevel": 1,
    "predictor": 3, "BIGTIFF": "IF_SAFER",
}  # fmt: skip


def write_distances(
    path: Path,
    mapping: Mapping,
    *,
    positions: bool = False,
    progress: Progress = SILENT,
) -> None:
    """Write how far away every pixel of the plate lies, in the scan's own frame.

    Parameters
    ----------
    path : Path
        Ends in .tif.
    mapping : Mapping
        Cameras, terrain and doubts.
    positions : bool
        Whether to write its place too: metres east and north in the terrain's grid.
    progress : Progress
        Told of each stripe.

    Raises
    ------
    InputError
        If the file cannot be written.
    """
    width, height = mapping.scan_px
    names = ["distance along the ground, m", "angle between ray and ground, deg"]
    scale = mapping.ground.model.terrain.frame.scale
    if positions:
        names += ["east in the terrain's grid, m", "north in the terrain's grid, m"]
    passing = _passing(path)
    progress.stage("Following every pixel to the ground", math.ceil(height / 256))
    try:
        with _opened(passing, width=width, height=height, count=len(names)) as file:
            for stripe in whole_plate(mapping):
                rows = len(stripe.distance_m)
                window = Window(0, stripe.first_row, width, rows)
                bands = [stripe.distance_m, np.degrees(stripe.angle_rad)]
                if positions:
                    bands += [stripe.east_m * scale, stripe.north_m * scale]
                for number, band in enumerate(bands, start=1):
                    file.write(band.astype(np.float32), number, window=window)
                progress.advance()
            _describe(file, names, mapping)
        passing.replace(path)
    except (rasterio.errors.RasterioError, OSError) as error:
        raise _cannot(path, error) from error
    finally:
        passing.unlink(missing_ok=True)


def write_rectified(
    path: Path,
    mapping: Mapping,
    plate: Plate,
    *,
    cell_m: float | None = None,
    farthest_m: float | None = None,
    progress: Progress = SILENT,
) -> float:
    """Lay the plate on the map: its tones where the camera sees the ground.

    Parameters
    ----------
    path : Path
        Ends in .tif.
    mapping : Mapping
        Cameras, terrain and doubts; the camera in the middle of all is used.
    plate : Plate
        The scan.
    cell_m : float, optional
        Cell of the map [m]; a tenth of the terrain's unless told, and larger where
        there would be more than 25 million.
    farthest_m : float, optional
        How far from the camera [m].
    progress : Progress
        Told of each tile.

    Returns
    -------
    float
        The cell used [m].

    Raises
    ------
    InputError
        If the scan is of another size, nothing of the ground shows, or the file cannot
        be written.
    """
    if (plate.width_px, plate.height_px) != mapping.scan_px:
        raise InputError(
            f"The scan is {plate.width_px} x {plate.height_px} px, and the fix was "
            f"made with one of {mapping.scan_px[0]} x {mapping.scan_px[1]} px.",
            "Name the scan that the fix was made with.",
        )
    reach_m = min(farthest_m or np.inf, mapping.doubts.farthest_m)
    camera = central_standing(mapping)
    terrain = camera.ground.model.terrain
    west, south, east, north = _box(camera, reach_m)
    wanted = cell_m or terrain.cell_m / _FINER_THAN_TERRAIN
    cell = max(wanted, math.sqrt((east - west) * (north - south) / _MOST_CELLS))
    columns = max(1, math.ceil((east - west) / cell))
    rows = max(1, math.ceil((north - south) / cell))
    scale = terrain.frame.scale
    corner = Affine(cell * scale, 0.0, west * scale, 0.0, -cell * scale, north * scale)
    tiles = [(r, c) for r in range(0, rows, _TILE) for c in range(0, columns, _TILE)]
    progress.stage("Laying the plate on the map", len(tiles))
    passing = _passing(path)
    try:
        with _opened(
            passing, width=columns, height=rows, count=1, crs=terrain.frame.crs,
            transform=corner,
        ) as file:  # fmt: skip
            for row, column in tiles:
                high, wide = min(_TILE, rows - row), min(_TILE, columns - column)
                at_north = north - (row + np.arange(high) + 0.5) * cell
                at_east = west + (column + np.arange(wide) + 0.5) * cell
                at = np.meshgrid(at_east, at_north)
                tones = _tile(camera, plate, at[0], at[1], reach_m)
                if tones is not None:
                    file.write(tones, 1, window=Window(column, row, wide, high))
                progress.advance()
            _describe(file, ["tone of the plate, 0 black to 1 white"], mapping)
        passing.replace(path)
    except (rasterio.errors.RasterioError, OSError) as error:
        raise _cannot(path, error) from error
    finally:
        passing.unlink(missing_ok=True)
    return cell


def _box(camera: Mapping, reach_m: float) -> tuple[float, float, float, float]:
    """Return west, south, east and north of the nodes in sight and in the frame [m]."""
    terrain, draws = camera.ground.model.terrain, camera.cameras.draws
    place = (float(draws.east_m[0]), float(draws.north_m[0]), float(draws.lens_m[0]))
    seen = viewshed_from(camera.ground, place, farthest_m=reach_m)
    row, column = np.nonzero(seen)
    east = terrain.west_m + column.astype(np.float64) * terrain.cell_m
    north = terrain.south_m + row.astype(np.float64) * terrain.cell_m
    height = terrain.elevation_m[row, column].astype(np.float64)
    x, y = _shown(camera, east, north, height)
    inside = _inside(camera, x, y)
    if not inside.any():
        raise InputError(
            "No ground of the elevation model shows within the plate's frame.",
            "Check the fix, or give an elevation model that reaches farther.",
        )
    margin = terrain.cell_m
    return (
        float(east[inside].min()) - margin,
        float(north[inside].min()) - margin,
        float(east[inside].max()) + margin,
        float(north[inside].max()) + margin,
    )


def _tile(
    camera: Mapping, plate: Plate, east: Array, north: Array, reach_m: float
) -> NDArray[np.float32] | None:
    """Return tones of one tile of the map; None where nothing of it shows."""
    draws = camera.cameras.draws
    height = height_m(camera.ground.model.terrain, east, north).astype(np.float64)
    x, y = _shown(camera, east.ravel(), north.ravel(), height.ravel())
    x, y = x.reshape(east.shape), y.reshape(east.shape)
    inside = _inside(camera, x, y)
    if not inside.any():
        return None
    place = (float(draws.east_m[0]), float(draws.north_m[0]), float(draws.lens_m[0]))
    shows = np.zeros(east.shape, dtype=np.bool_)
    shows[inside] = in_sight(
        camera.ground, place, east[inside], north[inside], height[inside],
        farthest_m=reach_m,
    )  # fmt: skip
    if not shows.any():
        return None
    left, top = max(0, int(x[shows].min()) - 2), max(0, int(y[shows].min()) - 2)
    right = min(plate.width_px, int(x[shows].max()) + 3)
    foot = min(plate.height_px, int(y[shows].max()) + 3)
    piece = plate.window(left, top, right - left, foot - top)
    tones = np.full(east.shape, np.nan, dtype=np.float32)
    tones[shows] = ndimage.map_coordinates(
        piece, [y[shows] - top - 0.5, x[shows] - left - 0.5], order=1, mode="nearest"
    )
    return tones


def _shown(
    camera: Mapping, east: Array, north: Array, height: Array
) -> tuple[Array, Array]:
    draws = camera.cameras.draws
    off_east, off_north = east - draws.east_m[0], north - draws.north_m[0]
    distance = np.maximum(np.hypot(off_east, off_north), 1e-6)
    drop = camera.ground.model.curvature_per_m * distance**2
    tangent = (height - draws.lens_m[0] - drop) / distance
    x, y = camera.cameras.pixels(np.arctan2(off_east, off_north)[None], tangent[None])
    return x[0], y[0]


def _inside(camera: Mapping, x: Array, y: Array) -> NDArray[np.bool_]:
    width, height = camera.scan_px
    with np.errstate(invalid="ignore"):
        return np.asarray((x >= 0) & (x <= width) & (y >= 0) & (y <= height))


def _opened(path: Path, **form: Any) -> Any:
    with warnings.catch_warnings():
        # Distances lie in the plate's own frame, which is nowhere on the earth.
        warnings.simplefilter("ignore", rasterio.errors.NotGeoreferencedWarning)
        return rasterio.open(path, "w", **_COMMON, **form)


def _describe(file: Any, names: list[str], mapping: Mapping) -> None:
    for number, name in enumerate(names, start=1):
        file.set_band_description(number, name)
    file.update_tags(
        caution=mapping.caution(),
        camera="the one in the middle of all that the fix leaves possible",
    )


def _passing(path: Path) -> Path:
    if path.suffix.lower() not in (".tif", ".tiff"):
        raise InputError(
            f"A raster is not written as {path.suffix or path.name!r}.",
            "End the name in .tif.",
        )
    return path.with_name(f".{path.stem}-passing.tif")


def _cannot(path: Path, error: Exception) -> InputError:
    return InputError(
        f"The file {path.name!r} cannot be written: {error}.",
        "Choose a folder that can be written.",
    )
