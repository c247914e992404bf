"""Write the invented plate, its terrain, its area to a folder."""

from __future__ import annotations

import json
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

import numpy as np
import pyvips
import rasterio
from numpy.typing import NDArray

from wherestood.demo.ageing import aged_plate
from wherestood.demo.degrade import ModelSettings, degrade_ground
from wherestood.demo.hearths import HEARTHS_FILE, write_hearths
from wherestood.demo.picture import Exposure, expose
from wherestood.demo.place import CRS, PLACE_NAME, Stage, named_hills
from wherestood.demo.truth import PX_PER_MM, DemoScene, DemoTruth, build_scene, truth_of

__all__ = ["DemoFiles", "write_demo"]

_MODEL_CELL_M = 30.0
_AREA_SIDE_M = 5000.0
_AREA_OFF_CENTRE_M = (-640.0, 815.0)
_PICTURE_SEED, _MODEL_SEED, _AGEING_SEED = 3, 7, 4


@dataclass(frozen=True)
class DemoFiles:
    """Hold what the demo wrote, and the truth that only the demo knows.

    Attributes
    ----------
    plate, terrain, area, readme, hearths : Path
        The scan, the elevation model, the ground searched, the story, and evidence
        that was found later.
    plate_size : str
        Name of the plate's size.
    truth : DemoTruth
        Where the plate was taken.
    exposure : Exposure
        Light on the plate, with the true skyline.
    """

    plate: Path
    terrain: Path
    area: Path
    readme: Path
    hearths: Path
    plate_size: str
    truth: DemoTruth
    exposure: Exposure


def write_demo(folder: Path) -> DemoFiles:
    """Make the invented plate and write all that a researcher would be handed.

    Parameters
    ----------
    folder : Path
        Where to write; made if missing, files of the same name replaced.

    Notes
    -----
    The same every time. About 10 s on one core.
    """
    folder.mkdir(parents=True, exist_ok=True)
    scene = build_scene()
    exposure = expose(
        scene.world,
        scene.eye_m,
        scene.camera,
        scene.props,
        scene.lighting,
        np.random.default_rng(_PICTURE_SEED),
    )
    files = DemoFiles(
        folder / "plate.tif",
        folder / "terrain.tif",
        folder / "area.geojson",
        folder / "README.txt",
        folder / HEARTHS_FILE,
        "whole plate",
        truth_of(scene),
        exposure,
    )
    tone = aged_plate(exposure.light, np.random.default_rng(_AGEING_SEED))
    _write_plate(files.plate, tone)
    _write_terrain(files.terrain, scene)
    _write_area(files.area, scene)
    write_hearths(files.hearths, scene, PLACE_NAME)
    files.readme.write_text(_story(scene.stage), encoding="utf-8")
    return files


def _write_plate(path: Path, tone: NDArray[np.uint8]) -> None:
    """Write an 8-bit grey TIFF that states its resolution."""
    rows, columns = tone.shape
    image = pyvips.Image.new_from_memory(tone.tobytes(), columns, rows, 1, "uchar")
    image = image.copy(interpretation="b-w", xres=PX_PER_MM, yres=PX_PER_MM)
    image.tiffsave(
        str(path),
        compression="deflate",
        predictor="horizontal",
        resunit="inch",
        xres=PX_PER_MM,
        yres=PX_PER_MM,
    )


def _write_terrain(path: Path, scene: DemoScene) -> None:
    """Write a map-maker's elevation model of the true ground, north at the top."""
    world, stage = scene.world, scene.stage
    model = ModelSettings(
        cell_m=_MODEL_CELL_M,
        error_sd_m=2.0,
        error_reach_m=350.0,
        white_sd_m=0.4,
        smoothing_cells=0.4,
        shift_east_cells=0.1,
        shift_north_cells=-0.1,
    )
    height_m = degrade_ground(
        world.bare_m,
        world.canopy_m,
        world.cell_m,
        model,
        np.random.default_rng(_MODEL_SEED),
        water_level_m=stage.ground.water_level_m,
    )
    cell_m = _MODEL_CELL_M * stage.scale
    west_m, south_m = stage.to_map(world.west_m, world.south_m)
    north_m = south_m + (height_m.shape[0] - 1) * cell_m
    # Heights belong to the middle of a cell; the corner lies half a cell out.
    transform = rasterio.Affine(
        cell_m, 0.0, west_m - cell_m / 2.0, 0.0, -cell_m, north_m + cell_m / 2.0
    )
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        height=height_m.shape[0],
        width=height_m.shape[1],
        count=1,
        dtype="float32",
        crs=CRS,
        transform=transform,
        compress="deflate",
        predictor=3,
    ) as target:
        target.write(np.round(height_m[::-1], 1).astype(np.float32), 1)
        target.update_tags(
            TIFFTAG_IMAGEDESCRIPTION=f"{PLACE_NAME}: an invented place",
            surface="bare ground",
            height="metres above the level of the invented water",
        )


def _write_area(path: Path, scene: DemoScene) -> None:
    """Write the ground searched: a square with the station off its middle."""
    east_m = float(scene.eye_m[0]) + _AREA_OFF_CENTRE_M[0]
    north_m = float(scene.eye_m[1]) + _AREA_OFF_CENTRE_M[1]
    half_m = _AREA_SIDE_M / 2.0
    corners = [(-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)]
    ring = [
        [
            round(value, 7)
            for value in scene.stage.to_lonlat(
                east_m + a * half_m, north_m + b * half_m
            )
        ]
        for a, b in corners
    ]
    feature = {
        "type": "Feature",
        "properties": {"name": f"Shores of {PLACE_NAME} (invented)"},
        "geometry": {"type": "Polygon", "coordinates": [ring]},
    }
    collection = {"type": "FeatureCollection", "features": [feature]}
    path.write_text(json.dumps(collection, indent=1) + "\n", encoding="utf-8")


def _story(stage: Stage) -> str:
    """Return the README that lies beside the files."""
    template = resources.files("wherestood.demo").joinpath("story.txt")
    hills = []
    for hill in named_hills(stage.ground):
        east_m, north_m = stage.to_map(hill.east_m, hill.north_m)
        hills.append(
            f"  {hill.name:<14} {hill.height_m:4.0f} m   "
            f"{east_m:8.0f} E {north_m:9.0f} N"
        )
    text = template.read_text(encoding="utf-8")
    return text.format(place=PLACE_NAME, crs=CRS, hills="\n".join(hills))
