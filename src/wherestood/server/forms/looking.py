"""Define what is read off a plate: skyline, letters, ties."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

__all__ = [
    "AsRead",
    "CameraGiven",
    "Lettered",
    "LineRun",
    "OfferedFeature",
    "RidgeTold",
    "SaidOfPlace",
    "SkylineGiven",
    "SkylineTold",
    "SnapAsked",
    "SnappedLine",
    "Tied",
    "TraceAsked",
    "Unrolled",
    "UnrolledRun",
]

Point = tuple[float, float]


class _Given(BaseModel):
    model_config = ConfigDict(extra="forbid")


class CameraGiven(_Given):
    """Say how a camera is held, as ``fix.json`` does."""

    bearing_deg: float = Field(description="True bearing of the lens axis [deg].")
    tilt_deg: float = 0.0
    roll_deg: float = 0.0
    principal_distance_px: float = Field(gt=0)
    rise_px: float = 0.0
    cross_px: float = 0.0
    k1: float = 0.0
    reversed: bool = False


class LineRun(_Given):
    """Be a piece of a line without a gap, x rising [px]."""

    x_px: list[float]
    y_px: list[float]
    sd_px: list[float] | None = Field(
        default=None, description="As usual for a hand if none."
    )


class RidgeTold(BaseModel):
    """Be a ridge line below the skyline."""

    evidence_id: str
    key: str
    trust: float | None
    revision: int
    by_machine: bool = Field(description="Whether no person has touched it yet.")
    runs: list[LineRun]


class SkylineTold(BaseModel):
    """Be the traced skyline of a plate; gaps lie between its runs."""

    evidence_id: str | None
    revision: int | None = Field(description="Of the item that holds it.")
    by_hand: bool = Field(description="Whether a person has mended or drawn it.")
    runs: list[LineRun]
    ridges: list[RidgeTold]
    more: int = Field(description="Other skylines on the plate, which count too.")


class AsRead(_Given):
    """Say which line was on the screen; none where there was none."""

    evidence_id: str | None = None
    revision: int | None = None


class SkylineGiven(_Given):
    """Save a skyline that a person mended or drew."""

    runs: list[LineRun]
    scan_id: str | None = None
    read: AsRead | None = Field(
        default=None,
        description="What was drawn upon; refused if another one is there by now.",
    )


class TraceAsked(_Given):
    """Ask for lines traced by the machine."""

    what: Literal["skyline", "ridge lines"] = "skyline"
    scan_id: str | None = None
    pins: list[Point] = Field(default=[], description="Points it passes through [px].")
    barriers: list[list[Point]] = Field(
        default=[], description="Lines it must not cross; closed ones make gaps [px]."
    )


class SnapAsked(_Given):
    """Ask for the edge between points that a person set."""

    points: list[Point] = Field(min_length=2, max_length=200)
    reach_px: float = Field(
        default=40.0, gt=0, le=2000, description="How far it may stray."
    )


class SnappedLine(BaseModel):
    """Be the edge that was found."""

    x_px: list[float]
    y_px: list[float]
    sd_px: list[float]


class Lettered(_Given):
    """Letter a thing seen, and mark it, in one act."""

    what: str | None = None
    note: str | None = None
    key: str | None = Field(
        default=None, description="Its letter; the next one if left out."
    )
    crop_px: tuple[float, float, float, float] | None = None
    points_px: list[Point] | None = None
    shape: Literal["point", "line", "outline"] = "point"
    sd_px: float | None = None
    at: Literal["ground", "top", "water"] | None = None
    feature_id: str | None = None
    identified_by: str | None = None


class SaidOfPlace(_Given):
    """Keep what a source says of the place, and where on the map that is."""

    words: str = Field(min_length=1, max_length=20_000)
    geometry: dict[str, Any] = Field(description="GeoJSON, longitude, latitude.")
    what: str | None = Field(default=None, description="What the place is.")
    place: Literal["inside", "within", "along", "on top of", "from"] = "inside"
    within_m: float | None = Field(default=None, ge=0)
    weight: float | None = Field(default=None, ge=0, le=1)


class Tied(_Given):
    """Tie a mark to a feature, there already or made in the same act."""

    feature_id: str | None = None
    lon_deg: float | None = None
    lat_deg: float | None = None
    what: str | None = None
    name: str | None = None
    sd_m: float | None = None
    height_m: float | None = None
    object_height_m: float | None = None
    at: Literal["ground", "top", "water"] | None = None
    untie: bool = False
    revision: int | None = Field(
        default=None, description="The mark's, as it was read; refused if older."
    )


class OfferedFeature(BaseModel):
    """Be a feature that may show on a plate, by its date."""

    feature_id: str
    key: str
    names: list[str]
    what: str | None
    standing: Literal["stood", "may have stood", "did not stand", "not known"]
    sentence: str


class UnrolledRun(BaseModel):
    """Be a piece of the skyline over bearing."""

    bearing_deg: list[float]
    elevation_deg: list[float]


class Unrolled(BaseModel):
    """Be the traced skyline over true bearing, through one camera."""

    runs: list[UnrolledRun]
    edges_deg: tuple[float, float] = Field(description="Bearings of the frame's sides.")
