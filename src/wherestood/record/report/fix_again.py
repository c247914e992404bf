"""Make a fix of its published form again, as far as its pictures need it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import zip_longest
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import shape

from wherestood.fix.result import (
    Alternative,
    CameraAnswer,
    Fix,
    Proposed,
    ProposedTold,
    StationAnswer,
)
from wherestood.record.draws_json import read_draws
from wherestood.terrain.model import Terrain

__all__ = ["fix_of_form"]

Array = NDArray[np.float64]
#: Side of the square that stands for a camera drawn from a fix [m].
_DRAWN_SIDE_M = 12.5


def fix_of_form(
    form: Mapping[str, Any], land: Terrain, screen: Mapping[str, Any] | None = None
) -> Fix:
    """Return a fix to draw: what its pictures show, and none of its checks.

    Parameters
    ----------
    form : mapping
        In its published form, of one plate.
    land : Terrain
        The ground it was made on.
    screen : mapping, optional
        As `wherestood.record.screen_form.screen_form` made it: the computed skyline
        and ridges, the horizons of proposed positions, and the cells. Without it no
        computed line is drawn, and dots come from the cameras drawn.
    """
    told = dict(screen or {})
    pixels, distances = _line(told)
    fit = form["fit"]
    return Fix(
        form["verdict"], float(form["near_enough_m"]), _station(form["station"], land),
        _camera(form["camera"]),
        {
            float(one["properties"]["probability"]): shape(one["geometry"])
            for one in form["regions"]["features"]
        },
        float(form["elsewhere"]),
        tuple(_alternative(one, land) for one in form["alternatives"]),
        _number(fit["rms_px"]), _number(fit["chance"]), tuple(fit["evidence"]),
        pixels, distances, _cells(form, land, told), _number(form["near_enough_share"]),
        tuple(form["reasons"]), dict(form["assumptions"]), {},
        _number(form["assumptions"].get("share_when_doubled")),
        _number(form["assumptions"].get("reversed_probability")),
        computed_ridges_px=_ridges(told),
        proposed=tuple(
            _proposed(one, land, shown)
            for one, shown in zip_longest(
                form["proposed"], told.get("proposed", ())[: len(form["proposed"])]
            )
        ),
    )  # fmt: skip


def _number(value: Any) -> float:
    return math.nan if value is None else float(value)


def _station(told: Mapping[str, Any], land: Terrain) -> StationAnswer:
    east, north = land.frame.from_lonlat(
        np.array([told["lon"]]), np.array([told["lat"]])
    )
    return StationAnswer(
        told["lon"], told["lat"], _number(told["height_m"]), _number(told["sd_east_m"]),
        _number(told["sd_north_m"]), _number(told["sd_height_m"]), float(east[0]),
        float(north[0]),
    )  # fmt: skip


def _camera(told: Mapping[str, Any]) -> CameraAnswer:
    sight = told["sight"]
    known = {name: value for name, value in told.items() if name not in ("sight", "sd")}
    return CameraAnswer(
        **known,
        sight_bearing_deg=_number(sight["bearing_deg"]),
        sight_elevation_deg=_number(sight["elevation_deg"]),
        sd={name: _number(value) for name, value in told["sd"].items()},
    )


def _alternative(told: Mapping[str, Any], land: Terrain) -> Alternative:
    return Alternative(
        _station(told["station"], land), _camera(told["camera"]), told["probability"]
    )


def _proposed(
    told: Mapping[str, Any], land: Terrain, screen: Mapping[str, Any] | None
) -> ProposedTold:
    answer = told["answer"]
    place = _alternative(answer, land) if answer else None
    pixels, distance_m = _line(screen or {})
    if place is not None and len(pixels):
        place = replace(
            place, computed_skyline_px=pixels, horizon_distance_m=distance_m
        )
    return ProposedTold(
        Proposed(
            told["name"], told["lon"], told["lat"], told["doubt_m"] or 0.0,
            told["bearing_deg"], reason=told["reason"],
        ),
        told["verdict"], _number(told["log_ratio"]),
        tuple((one["id"], _number(one["log_ratio"])) for one in told["because"]),
        _number(told["bearing_off_sds"]), _number(told["bearing_off_deg"]),
        place, _number(told["apart_m"]),
    )  # fmt: skip


def _line(screen: Mapping[str, Any]) -> tuple[Array, Array]:
    """Return the computed skyline with a gap between its runs."""
    points: list[Array] = []
    distances: list[Array] = []
    runs: Sequence[Mapping[str, Any]] = screen.get("skyline", ())
    for run, away_m in zip(runs, screen.get("skyline_distance_m", ()), strict=True):
        points += [np.column_stack((run["x_px"], run["y_px"])), np.full((1, 2), np.nan)]
        distances += [np.array(away_m, dtype=np.float64), np.array([np.nan])]
    if not points:
        return np.empty((0, 2)), np.empty(0)
    return np.vstack(points), np.concatenate(distances)


def _ridges(screen: Mapping[str, Any]) -> Array:
    told = screen.get("ridges") or ()
    return np.array(told, dtype=np.float64).reshape(-1, 2, 2)


def _cells(form: Mapping[str, Any], land: Terrain, screen: Mapping[str, Any]) -> Array:
    if screen.get("cells_m"):
        return np.array(screen["cells_m"], dtype=np.float64)
    if "draws" not in form:
        return np.empty((0, 4))
    drawn = read_draws(form["draws"], land.frame)
    count = len(drawn)
    return np.column_stack(
        (
            drawn.east_m, drawn.north_m, np.full(count, _DRAWN_SIDE_M),
            np.full(count, 1.0 / count),
        )
    )  # fmt: skip
