"""Carry points of a plate to the ground, each with its doubt."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wherestood.ground.ellipse import Ellipses, ellipses_about
from wherestood.ground.mapping import Mapping
from wherestood.ground.raised import meet_as_modelled, meet_raised
from wherestood.terrain.ground import height_m
from wherestood.terrain.meet import BEYOND, GROUND, HOLE, NEAR, SKY, Meetings

__all__ = ["GRAZING", "UNSURE", "WHAT", "GroundPoints", "ground_points"]

Array = NDArray[np.float64]
#: Beside what becomes of single rays: it meets the ground too flatly to tell where;
#: some likely cameras meet ground there that the model tells and others do not.
GRAZING, UNSURE = 5, 6
WHAT = {
    GROUND: "ground",
    SKY: "sky",
    BEYOND: "beyond the terrain",
    NEAR: "nearer than the terrain tells",
    HOLE: "ground of unknown height",
    GRAZING: "grazing",
    UNSURE: "the likely cameras differ",
}
#: Such a share of the cameras must meet ground for an ellipse to hold 9 in 10.
_MUST_MEET = 0.95
#: A gap in distance of this ratio between draws, this share at least on either side,
#: means that it may be one hill or another.
_TORN, _EITHER = 1.15, 0.05
#: Points that are carried at once: 300 cameras each, some 50 MB.
_AT_ONCE = 2000


@dataclass(frozen=True)
class GroundPoints:
    """Hold points of the plate on the ground.

    Attributes
    ----------
    x_px, y_px : (n,) float64 array
        On the scan [px].
    what : (n,) int8 array
        A key of `WHAT`; there is a place only where it is `GROUND`.
    east_m, north_m, height_m : (n,) float64 array
        The place, on the elevation model [m]; NaN where there is none.
    distance_m, nearest_m, farthest_m : (n,) float64 array
        From the camera, and between what it lies in 9 of 10 cases; told for grazing
        rays too [m].
    bearing_rad : (n,) float64 array
        Grid bearing from the camera [rad].
    angle_rad : (n,) float64 array
        Between the ray and the ground [rad].
    height_sd_m : (n,) float64 array
        Standard error of the height [m].
    ellipses : Ellipses
        Holds 9 in 10; its middle is the mean, not the place itself.
    met : (n,) float64 array
        Share of the cameras that look at ground there.
    torn : (n,) bool array
        Whether it may be on a nearer or a farther hill.
    """

    x_px: Array
    y_px: Array
    what: NDArray[np.int8]
    east_m: Array
    north_m: Array
    height_m: Array
    distance_m: Array
    nearest_m: Array
    farthest_m: Array
    bearing_rad: Array
    angle_rad: Array
    height_sd_m: Array
    ellipses: Ellipses
    met: Array
    torn: NDArray[np.bool_]

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self.x_px)


def ground_points(
    mapping: Mapping,
    x_px: ArrayLike,
    y_px: ArrayLike,
    rng: np.random.Generator,
) -> GroundPoints:
    """Return where points of the plate lie on the ground.

    Parameters
    ----------
    mapping : Mapping
        Cameras, terrain and doubts.
    x_px, y_px : (n,) array_like of float
        Points of the scan [px].
    rng : numpy.random.Generator
        Where chance comes from.

    Returns
    -------
    GroundPoints
        The place of each is the drawn one most in the middle: a place on the ground
        before a possible camera.

    Notes
    -----
    Every drawn camera looks through the point, moved by an error of reading, at ground
    raised by an error of the model; where its ray meets that is a place possible. The
    error goes, near the camera, with that of the ground it stands on.
    """
    x, y = (np.atleast_1d(np.asarray(part, dtype=np.float64)) for part in (x_px, y_px))
    parts = [
        _some(mapping, x[at : at + _AT_ONCE], y[at : at + _AT_ONCE], rng)
        for at in range(0, max(x.size, 1), _AT_ONCE)
    ]
    return parts[0] if len(parts) == 1 else _joined(parts)


def _some(
    mapping: Mapping, x: Array, y: Array, rng: np.random.Generator
) -> GroundPoints:
    draws, doubts = mapping.cameras.draws, mapping.doubts
    shape = (len(draws), x.size)
    off = rng.normal(0.0, doubts.reading_sd_px, (2, *shape))
    bearing, tangent = mapping.cameras.directions(x + off[0], y + off[1])
    # First on the model as it is: how far off it is says how wrong it may be there.
    first = meet_as_modelled(mapping, bearing, tangent)
    raised_m = mapping.ground_off_m(
        np.where(first.what == SKY, doubts.farthest_m, first.distance_m), rng
    )
    met = meet_raised(mapping, bearing, tangent, first, raised_m)
    east = draws.east_m[:, None] + met.distance_m * np.sin(bearing)
    north = draws.north_m[:, None] + met.distance_m * np.cos(bearing)
    ellipses = ellipses_about(east, north)
    column = np.arange(x.size)
    middle = ellipses.central, column
    share = np.mean(met.what == GROUND, axis=0)
    angle = _quantile(met.grazing_rad, 0.5)
    what = _what(met, share, angle, doubts.least_angle_rad)
    told = what == GROUND
    ground = height_m(mapping.ground.model.terrain, east, north).astype(np.float64)
    spread = _standard_error(ground + raised_m)

    def placed(values: Array) -> Array:
        return np.where(told, values[middle], np.nan)

    somewhere = told | (what == GRAZING)

    def far(share_within: float) -> Array:
        return np.where(somewhere, _quantile(met.distance_m, share_within), np.nan)

    return GroundPoints(
        x,
        y,
        what,
        placed(east),
        placed(north),
        placed(ground),
        placed(met.distance_m),
        far(0.05),
        far(0.95),
        np.where(somewhere, bearing[middle] % (2.0 * np.pi), np.nan),
        np.where(somewhere, angle, np.nan),
        np.where(told, spread, np.nan),
        ellipses,
        share,
        _torn(met.distance_m) & somewhere,
    )


def _what(
    met: Meetings, share: Array, angle: Array, least_angle_rad: float
) -> NDArray[np.int8]:
    """Return what becomes of points by what becomes of their rays."""
    kinds = np.array([SKY, BEYOND, NEAR, HOLE])
    counts = np.array([(met.what == kind).mean(axis=0) for kind in kinds])
    usual = kinds[counts.argmax(axis=0)]
    none = np.where(share < 1.0 - _MUST_MEET, usual, UNSURE)
    flat = np.where(angle < least_angle_rad, GRAZING, GROUND)
    return np.where(share >= _MUST_MEET, flat, none).astype(np.int8)


def _quantile(values: Array, share: float) -> Array:
    """Return a quantile over draws that have a value; NaN where none has."""
    ordered = np.sort(values, axis=0)  # NaN last
    count = np.isfinite(ordered).sum(axis=0)
    at = np.clip(np.rint(share * (count - 1)), 0, len(values) - 1).astype(np.int64)
    found = ordered[at, np.arange(values.shape[1])]
    return np.where(count > 0, found, np.nan)


def _standard_error(values: Array) -> Array:
    """Return the standard error over draws that have a value; NaN under two."""
    known = np.isfinite(values)
    count = known.sum(axis=0)
    kept = np.where(known, values, 0.0)
    off = np.where(known, values - kept.sum(axis=0) / np.maximum(count, 1), 0.0)
    found = np.sqrt((off**2).sum(axis=0) / np.maximum(count - 1, 1))
    return np.where(count > 1, found, np.nan)


def _torn(distance_m: Array) -> NDArray[np.bool_]:
    """Say where draws fall into nearer and farther ones with nothing between."""
    ordered = np.sort(distance_m, axis=0)
    count = np.isfinite(ordered).sum(axis=0)
    with np.errstate(invalid="ignore"):
        jump = ordered[1:] / ordered[:-1] > _TORN
    number = np.arange(1, len(distance_m))[:, None]
    least = np.maximum(1.0, _EITHER * count)
    either = (number >= least) & (number <= count - least)
    return np.asarray((jump & either).any(axis=0))


def _joined(parts: list[GroundPoints]) -> GroundPoints:
    def of(name: str) -> NDArray[np.float64]:
        return np.concatenate([getattr(part, name) for part in parts])

    names = [name for name in GroundPoints.__dataclass_fields__ if name != "ellipses"]
    inner = {
        name: np.concatenate([getattr(part.ellipses, name) for part in parts])
        for name in Ellipses.__dataclass_fields__
    }
    columns = {name: of(name) for name in names}
    return GroundPoints(ellipses=Ellipses(**inner), **columns)  # type: ignore[arg-type]
