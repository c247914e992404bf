"""Read from a published fix what it takes to go from its plate to the map."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import numpy as np

from wherestood.earth.curvature import curvature_radius_m
from wherestood.errors import InputError, TerrainError
from wherestood.fix.camera_draws import CameraDraws
from wherestood.fix.settings import FootingHeight, LocateSettings
from wherestood.ground.cameras import PlateCameras
from wherestood.ground.mapping import Doubts, KnownPlace, Mapping
from wherestood.plate.straight import straight_by_corners
from wherestood.record.draws_json import read_draws
from wherestood.terrain.ground import smoothed_ground_m
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.meet import SolidGround
from wherestood.terrain.model import Terrain

__all__ = ["mapping_of_fix", "station_of"]

#: Cameras made up for a fix that tells of none.
_MADE_UP = 300
#: How far such a one's lens may be off above the ground it stands on [m].
_LENS_SD_M = 2.5


def mapping_of_fix(
    form: dict[str, Any],
    land: Terrain,
    doubts: Doubts | None = None,
    model: HorizonModel | None = None,
) -> Mapping:
    """Return cameras and terrain of a fix in its published form.

    Parameters
    ----------
    form : dict
        As `wherestood.record.fix_json.read_fix` reads it.
    land : Terrain
        The ground that the camera saw; it need not be the one searched.
    doubts : Doubts, optional
        How far readings and the ground may be off.
    model : HorizonModel, optional
        That ground made ready already.

    Raises
    ------
    InputError
        If the fix is of a panorama.
    TerrainError
        If the terrain does not hold the camera's places.

    Notes
    -----
    Where the fix holds no drawn cameras they are made up from single doubts, the
    sight's in place of the lens axis's: the mapping then says that it is rough.
    """
    if "camera" not in form:
        raise InputError(
            "This fix is of a panorama, whose plates are not carried to the map yet.",
            "Look for it in a daybook: there each plate has an answer of its own.",
        )
    scan = form["inputs"]["scan"]
    size = (int(scan["width_px"]), int(scan["height_px"]))
    straight = None
    if scan["corners_px"]:
        corners = tuple((float(x), float(y)) for x, y in scan["corners_px"])
        mm = tuple(scan["size_mm"]) if scan["size_mm"] else None
        straight = straight_by_corners(corners, mm)  # type: ignore[arg-type]
        size = (straight.width_px, straight.height_px)
    answers = [form, *form["alternatives"]]
    places = tuple(_place(one, land, form) for one in answers)
    draws = (
        read_draws(form["draws"], land.frame)
        if "draws" in form
        else _made_up(form, land, places[0])
    )
    _require_ground(land, places[0], form)
    height = _lens_height(form["settings"])
    if model is None:
        model = HorizonModel.of(land, curvature_radius_m(form["station"]["lat"]))
    return Mapping(
        SolidGround.of(model),
        PlateCameras(draws, *size, straight),
        (int(scan["width_px"]), int(scan["height_px"])),
        places,
        form["verdict"],
        doubts or Doubts(),
        rough="draws" not in form,
        made_up=lambda number: _made_up(answers[number - 1], land, places[number - 1]),
        lens_height_m=height.mean_m,
        lens_height_sd_m=height.sd_m,
    )


def station_of(form: dict[str, Any], place: int) -> dict[str, Any]:
    """Return the station of one place of a published fix, from 1; 0 for the first."""
    answers = [form, *form.get("alternatives", ())]
    station: dict[str, Any] = answers[max(place, 1) - 1]["station"]
    return station


def _lens_height(settings: dict[str, Any]) -> FootingHeight:
    """Return how high the lens stood, as the search took it."""
    known = {field.name for field in fields(LocateSettings)}
    return LocateSettings(
        **{name: value for name, value in settings.items() if name in known}
    ).lens_height


def _place(one: dict[str, Any], land: Terrain, form: dict[str, Any]) -> KnownPlace:
    station = one["station"]
    east, north = land.frame.from_lonlat(
        np.array([station["lon"]]), np.array([station["lat"]])
    )
    share = one.get("probability", form.get("near_enough_share") or 0.0)
    return KnownPlace(float(east[0]), float(north[0]), float(share))


def _require_ground(land: Terrain, place: KnownPlace, form: dict[str, Any]) -> None:
    rows, columns = land.elevation_m.shape
    row = (place.north_m - land.south_m) / land.cell_m
    column = (place.east_m - land.west_m) / land.cell_m
    if not (0 <= row <= rows - 1 and 0 <= column <= columns - 1):
        station = form["station"]
        raise TerrainError(
            "The elevation model does not reach the camera's place, longitude "
            f"{station['lon']:.4f}, latitude {station['lat']:.4f}.",
            "Give the elevation files that the fix was made with.",
        )


def _made_up(form: dict[str, Any], land: Terrain, place: KnownPlace) -> CameraDraws:
    """Make cameras of single doubts: what makes up for another is held fixed."""
    rng = np.random.default_rng(1)
    station, camera, sd = form["station"], form["camera"], form["camera"]["sd"]
    turn_deg = land.frame.convergence_deg(station["lon"], station["lat"])

    def about(value: float, sd: float | None) -> np.ndarray[Any, Any]:
        return value + rng.normal(0.0, sd or 0.0, _MADE_UP)

    level = np.zeros(_MADE_UP)
    east_m = about(place.east_m, station["sd_east_m"])
    north_m = about(place.north_m, station["sd_north_m"])
    lens_m = about(station["height_m"], _LENS_SD_M)
    # A camera stands on the ground of its place, as far as that is known.
    ground_m = smoothed_ground_m(
        land, np.append(east_m, place.east_m), np.append(north_m, place.north_m)
    ).astype(np.float64)
    lens_m = lens_m + np.nan_to_num(ground_m[:-1] - ground_m[-1])
    c_px = about(camera["principal_distance_px"], sd.get("principal_distance_px"))
    least = 0.2 * camera["principal_distance_px"]
    return CameraDraws(
        east_m=east_m,
        north_m=north_m,
        lens_m=lens_m,
        # The axis's own doubt is its cross's and rise's; the sight's is what is seen.
        bearing_rad=np.radians(
            about(camera["bearing_deg"] - turn_deg, sd.get("sight_bearing_deg"))
        ),
        tilt_rad=np.radians(about(camera["tilt_deg"], sd.get("sight_elevation_deg"))),
        roll_rad=np.radians(about(camera["roll_deg"], sd.get("roll_deg"))),
        principal_distance_px=np.maximum(c_px, least),
        rise_px=level + camera["rise_px"],
        cross_px=level + camera["cross_px"],
        k1=about(camera["k1"], sd.get("k1")),
        vertical_scale=level,
        warp_two_px=level,
        warp_three_px=level,
        reversed=np.full(_MADE_UP, camera["reversed"]),
    )
