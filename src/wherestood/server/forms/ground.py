"""Define what is told of the ground: terrain, horizon, the view from a place."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from wherestood.server.forms.looking import CameraGiven, LineRun

__all__ = [
    "BaseMapTold",
    "Contour",
    "Contours",
    "GroundTold",
    "HorizonTold",
    "NamedInView",
    "NeededTold",
    "TransformAsked",
    "Transformed",
    "ViewAsked",
    "ViewTold",
]


class BaseMapTold(BaseModel):
    """Say what the base map is that was set."""

    host: str
    levels: int
    finest_m: float = Field(description="Metres of EPSG:3857 a pixel, finest [m].")
    credit: str


class GroundTold(BaseModel):
    """Tell of an opened terrain, whose metres are the map's."""

    ground: str = Field(description="What it is called by in other routes.")
    proj4: str = Field(description="Its grid, for libraries; times scale.")
    scale: float = Field(description="Grid metres of proj4 to one metre here.")
    centre_deg: tuple[float, float] = Field(description="Longitude, latitude [deg].")
    extent_m: tuple[float, float, float, float] = Field(
        description="West, south, east, north [m]."
    )
    resolutions_m: list[float] = Field(description="Metres a pixel, by level.")
    tile_px: int
    cell_m: float
    lowest_m: float
    highest_m: float
    surface: str
    vertical_datum: str
    notes: list[str]
    credits: list[str]
    searched_m: list[list[tuple[float, float]]] | None = Field(
        description="Outlines of the plate's ground searched [m]."
    )
    searched_covered: bool = Field(
        description="Whether all ground searched has known heights."
    )


class TransformAsked(BaseModel):
    """Ask for points in the other coordinates."""

    model_config = ConfigDict(extra="forbid")
    to: Literal["grid", "lonlat"]
    points: list[tuple[float, float]] = Field(max_length=20_000)


class Transformed(BaseModel):
    """Be points in the other coordinates; null where there are none."""

    points: list[tuple[float, float] | None]


class Contour(BaseModel):
    """Be a line of one height."""

    height_m: float
    points_m: list[tuple[float, float]]


class Contours(BaseModel):
    """Be the contours of a part of the map."""

    interval_m: float
    lines: list[Contour]


class HorizonTold(BaseModel):
    """Be the horizon seen from a place, over true bearing."""

    east_m: float
    north_m: float
    lon_deg: float
    lat_deg: float
    ground_m: float = Field(description="Height of the ground a camera stands on [m].")
    lens_m: float
    turn_deg: float = Field(description="Add to a grid bearing for a true one [deg].")
    from_deg: float
    step_deg: float
    elevation_deg: list[float | None]
    distance_m: list[float | None]


class ViewAsked(BaseModel):
    """Ask what a camera would show from a place."""

    model_config = ConfigDict(extra="forbid")
    east_m: float
    north_m: float
    above_m: float | None = Field(default=None, description="Lens above ground [m].")
    lens_m: float | None = Field(default=None, description="Lens height itself [m].")
    camera: CameraGiven


class NamedInView(BaseModel):
    """Be a hill or feature before the camera."""

    feature_id: str | None
    name: str
    x_px: float
    y_px: float
    distance_m: float
    bearing_deg: float
    elevation_deg: float
    height_m: float
    seen: bool
    hidden_by_m: float = Field(description="How far below the sight line it lies [m].")


class Difference(BaseModel):
    """Be how far the traced skyline lies above the computed one [px]."""

    x_px: list[float]
    up_px: list[float | None]
    rms_px: float | None


class ViewTold(BaseModel):
    """Be what the terrain says that a plate should show, in scan pixels."""

    horizon: list[LineRun]
    distance_m: list[list[float]] = Field(description="Of each point of each run.")
    ridges: list[tuple[float, float, float, float]] = Field(
        description="Short stretches: x and y of both ends [px]."
    )
    names: list[NamedInView]
    difference: Difference | None


class NeededTold(BaseModel):
    """Say which elevation data a search needs."""

    sentences: list[str]
    near: dict[str, Any]
    far: dict[str, Any]
    near_cell_m: float
    far_cell_m: float
    degree_squares: list[str]
    uncovered_share: float = Field(description="Share of far that no layer covers.")
