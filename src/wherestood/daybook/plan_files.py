"""Take old plans in that say themselves where they lie on the ground."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import rasterio
from rasterio.errors import NotGeoreferencedWarning, RasterioError
from rasterio.warp import transform
from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.book import TERRAIN, Daybook
from wherestood.daybook.originals.names import refuse_controls, safe_name
from wherestood.daybook.originals.passing import arrive, sweep
from wherestood.daybook.originals.take import named_files
from wherestood.daybook.tables import Plan, TerrainLayer
from wherestood.daybook.trouble import told_plainly
from wherestood.errors import InputError
from wherestood.progress import SILENT, Progress
from wherestood.terrain.checksum import file_sha256

__all__ = ["PlanTaken", "take_plan"]

_FOLDER = "old plans"
LARGEST_PX = 2_000_000_000
_PIN_IT = (
    "Pin it to the ground in a mapping program and save it as a GeoTIFF, or send the "
    "world file and the reference system with it."
)


@dataclass(frozen=True)
class PlanTaken:
    """Hold a plan that was taken in.

    Attributes
    ----------
    id, key : str
        What it is called by.
    box_deg : (west, south, east, north)
        What it covers [deg].
    """

    id: str
    key: str
    box_deg: tuple[float, float, float, float]


def take_plan(
    daybook: Daybook,
    path: Path,
    person: str,
    *,
    title: str | None = None,
    why: str = "",
    progress: Progress = SILENT,
) -> PlanTaken:
    """Take in a plan that is pinned to the ground already.

    Parameters
    ----------
    daybook : Daybook
        Where.
    path : Path
        A raster with its reference system and place: a GeoTIFF.
    person, why : str
        Who takes it in, and why.
    title : str, optional
        Its title; its file's name unless told.
    progress : Progress
        Told how far it has come.

    Raises
    ------
    InputError
        If it is no raster, does not say where it lies, or is there already.

    Notes
    -----
    Its four corners become its pins, so that the record says where it lies without
    the file.
    """
    refuse_controls(path.name)
    pins, box, fit = _where_it_lies(path)
    sha256 = file_sha256(path, progress)
    with daybook.reading() as session:
        wanted = select(Plan).where(Plan.sha256 == sha256, Plan.removed.is_(False))
        there = session.scalars(wanted).first()
        home = _home(session)
    if there is not None:
        raise InputError(
            f"The plan {path.name!r} is in the daybook already, as {there.key}.",
            "Nothing needs doing.",
        )

    def has_row(file: str) -> bool:
        return file in named_files(daybook)

    with told_plainly(daybook.folder):
        sweep(daybook.folder, has_row)
        with (
            arrive(
                daybook.folder,
                path,
                home,
                safe_name(path.name),
                has_row,
                expected_sha256=sha256,
                progress=progress,
            ) as arrival,
            daybook.writing(person, why) as session,
        ):
            plan = Plan(
                title=title or path.stem,
                file=arrival.file,
                sha256=sha256,
                pins=pins,
                fit=fit,
                note="Its pins are the corners that its file gives.",
            )
            session.add(plan)
            session.flush()
            return PlanTaken(plan.id, plan.key, box)


def _home(session: Session) -> str:
    """Return the folder of plans; a layer of that name is a folder of its own."""
    layers = session.scalars(select(TerrainLayer.files))
    taken = {str(record.get("file")) for files in layers for record in files or ()}
    number, home = 1, f"{TERRAIN}/{_FOLDER}"
    while any(file.startswith(f"{home}/") for file in taken):
        number += 1
        home = f"{TERRAIN}/{_FOLDER} ({number})"
    return home


@contextmanager
def _quietly_opened(path: Path) -> Iterator[Any]:
    """Open a raster; that it may not say where it lies is told in our own words."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        with rasterio.open(path) as raster:
            yield raster


def _where_it_lies(
    path: Path,
) -> tuple[list[dict[str, Any]], tuple[float, float, float, float], str]:
    try:
        with _quietly_opened(path) as raster:
            if raster.count < 1 or raster.width * raster.height > LARGEST_PX:
                raise InputError(
                    f"The plan {path.name!r} has "
                    f"{raster.width * raster.height / 1e6:.0f} megapixels; at most "
                    f"{LARGEST_PX // 10**6} are taken in.",
                    "Make a smaller copy.",
                )
            if raster.crs is None or raster.transform.is_identity:
                raise InputError(
                    f"The plan {path.name!r} does not say where it lies on the ground.",
                    _PIN_IT,
                )
            corners = [
                (0, 0),
                (raster.width, 0),
                (raster.width, raster.height),
                (0, raster.height),
            ]
            places = [raster.transform @ corner for corner in corners]
            lon, lat = transform(
                raster.crs, "EPSG:4326", [p[0] for p in places], [p[1] for p in places]
            )[:2]
    except RasterioError as error:
        raise InputError(
            f"The plan {path.name!r} cannot be read as a raster.",
            "A GeoTIFF was expected.",
        ) from error
    pins = [
        {
            "x_px": float(x),
            "y_px": float(y),
            "lon_deg": round(float(e), 8),
            "lat_deg": round(float(n), 8),
        }
        for (x, y), e, n in zip(corners, lon, lat, strict=True)
    ]
    return pins, (min(lon), min(lat), max(lon), max(lat)), "affine"
