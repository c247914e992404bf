"""Shade the ground under a map of what is handed out, in longitude and latitude."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.terrain.model import Terrain
from wherestood.terrain.resample import sample_bilinear

__all__ = ["MapBox", "ShadedMap", "boxes_about", "shaded_map"]

_M_A_DEGREE = 111_195.0
#: Ground shown about every place [m]; places nearer than twice that share a map.
ABOUT_M = 5000.0
LONGEST_PX = 1100
#: Of 255: level ground, and how far slopes go from it.
LEVEL, SPREAD = 222.0, 105.0
#: Of 255: ground whose height is not known; nothing else is as white.
UNKNOWN = 255


@dataclass(frozen=True)
class MapBox:
    """Be the ground that a map shows [deg]."""

    west_deg: float
    south_deg: float
    east_deg: float
    north_deg: float

    @property
    def wide_m(self) -> float:
        """Return how wide it is in its middle [m]."""
        middle = math.radians((self.south_deg + self.north_deg) / 2.0)
        return (self.east_deg - self.west_deg) * _M_A_DEGREE * math.cos(middle)

    @property
    def high_m(self) -> float:
        """Return how high it is [m]."""
        return (self.north_deg - self.south_deg) * _M_A_DEGREE

    @property
    def centre_deg(self) -> tuple[float, float]:
        """Return longitude and latitude of its middle [deg]."""
        return (
            (self.west_deg + self.east_deg) / 2.0,
            (self.south_deg + self.north_deg) / 2.0,
        )

    def holds(self, lon_deg: float, lat_deg: float) -> bool:
        """Tell whether it shows a place."""
        return (
            self.west_deg <= lon_deg <= self.east_deg
            and self.south_deg <= lat_deg <= self.north_deg
        )


@dataclass(frozen=True)
class ShadedMap:
    """Hold the ground under a map.

    Attributes
    ----------
    box : MapBox
    tones : (rows, columns) uint8 array or None
        Grey, the first row the northernmost; None where no elevation is at hand.
    """

    box: MapBox
    tones: NDArray[np.uint8] | None = None

    @property
    def has_unknown_ground(self) -> bool:
        """Tell whether some of it is white, where no elevation is at hand."""
        return self.tones is not None and bool((self.tones == UNKNOWN).any())


def boxes_about(places: list[tuple[float, float]]) -> list[MapBox]:
    """Return maps that show all of some places, those far apart on maps of their own.

    Parameters
    ----------
    places : list of (lon, lat)
        As they are told, and no closer: a map shows nothing but what lies about them.
    """
    boxes: list[MapBox] = []
    for lon, lat in places:
        high = ABOUT_M / _M_A_DEGREE
        wide = high / max(math.cos(math.radians(lat)), 1e-3)
        box = MapBox(lon - wide, lat - high, lon + wide, lat + high)
        # One that meets others joins them, until it meets no more.
        while met := [one for one in boxes if _meet(one, box)]:
            boxes = [one for one in boxes if one not in met]
            box = _joined([box, *met])
        boxes.append(box)
    return sorted(boxes, key=lambda one: (one.west_deg, one.south_deg))


def _meet(one: MapBox, other: MapBox) -> bool:
    return (
        one.west_deg <= other.east_deg
        and other.west_deg <= one.east_deg
        and one.south_deg <= other.north_deg
        and other.south_deg <= one.north_deg
    )


def _joined(boxes: list[MapBox]) -> MapBox:
    return MapBox(
        min(one.west_deg for one in boxes),
        min(one.south_deg for one in boxes),
        max(one.east_deg for one in boxes),
        max(one.north_deg for one in boxes),
    )


def shaded_map(terrain: Terrain, box: MapBox) -> ShadedMap:
    """Shade a terrain within a box; unknown ground is white, sea pale grey.

    Light from the north-west at 45 degrees: common practice.
    """
    step_m = max(box.wide_m, box.high_m) / LONGEST_PX
    columns, rows = round(box.wide_m / step_m), round(box.high_m / step_m)
    lon = np.linspace(box.west_deg, box.east_deg, columns)
    lat = np.linspace(box.north_deg, box.south_deg, rows)
    east_m, north_m = terrain.frame.from_lonlat(*np.meshgrid(lon, lat))
    heights_m = sample_bilinear(
        terrain.elevation_m,
        (east_m - terrain.west_m) / terrain.cell_m,
        (north_m - terrain.south_m) / terrain.cell_m,
    )
    known = np.isfinite(heights_m)
    if not known.any():
        return ShadedMap(box)
    filled = np.where(known, heights_m, np.nanmean(heights_m))
    down, east = np.gradient(filled, step_m)  # rows run southwards
    # Gentle ground is exaggerated, steep ground left alone, so both can be read.
    relief = float(np.percentile(np.hypot(down, east), 98))
    more = float(np.clip(0.4 / max(relief, 1e-3), 1.0, 4.0))
    tones = np.clip(LEVEL + SPREAD * (_light(more * east, -more * down) - 1.0), 80, 252)
    return ShadedMap(box, np.where(known, tones, UNKNOWN).astype(np.uint8))


def _light(
    east: NDArray[np.float64], north: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return how bright slopes are, level ground being 1; Lambert's cosine law."""
    to_light = -math.sin(math.pi / 4.0), math.cos(math.pi / 4.0)  # east, north, up 1
    facing = 1.0 - east * to_light[0] - north * to_light[1]
    bright: NDArray[np.float64] = facing / np.sqrt(1.0 + east**2 + north**2)
    return bright
