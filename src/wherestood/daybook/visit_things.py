"""Find what readings of a visit are of, and how a plate shows it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import shape
from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.camera.model import bearing_elevation
from wherestood.daybook.camera_of_fix import FixedCamera, fixed_camera
from wherestood.daybook.main_scan import main_scan
from wherestood.daybook.tables import Detail, Feature, FeatureName, Mark, Plate
from wherestood.earth.frame import Frame
from wherestood.errors import InputError
from wherestood.visit.read_on_spot import Reading, Visit
from wherestood.visit.spot_found import GapPair

__all__ = ["MARK_SD_PX", "ThingKnown", "Things", "middle_of"]

#: Where a feature tells no doubt of its place it is taken to be so far off [m].
_UNTOLD_SD_M = 5.0
#: Of a mark whose doubt nobody told, on the scan [px].
MARK_SD_PX = 3.0


@dataclass(frozen=True)
class ThingKnown:
    """Hold a thing that a reading names.

    Attributes
    ----------
    feature : Feature
    place_m : (east, north)
        In the visit's frame [m].
    sd_m : float
    """

    feature: Feature
    place_m: tuple[float, float]
    sd_m: float


class Things:
    """Look up the things that readings name, by key or by name."""

    def __init__(self, session: Session, plate: Plate, frame: Frame) -> None:
        self._session, self._plate, self._frame = session, plate, frame
        try:
            self.camera: FixedCamera | None = fixed_camera(session, plate)
        except InputError:
            self.camera = None

    def known(self, name: str, where: str = "") -> ThingKnown:
        """Return a thing that stands at a point.

        Raises
        ------
        InputError
            If there is none of that name, several, or one without a place.
        """
        at = f"{where}: " if where else ""
        feature = self.feature(name, where)
        if feature is None:
            raise InputError(
                f"{at}There is no feature {name!r} in this daybook.",
                "Name it by its key or name as the list of features shows it, or say "
                "where it stands with a row that begins with thing.",
            )
        if not feature.geometry:
            raise InputError(
                f"{at}Nobody has said where {name!r} stands.",
                "Give it a place first, or read one on the spot.",
            )
        place = shape(feature.geometry).centroid
        east, north = self._frame.from_lonlat(np.array([place.x]), np.array([place.y]))
        sd_m = _UNTOLD_SD_M if feature.sd_m is None else feature.sd_m
        return ThingKnown(feature, (float(east[0]), float(north[0])), sd_m)

    def feature(self, name: str, where: str = "") -> Feature | None:
        """Return the feature of a key or a name, None if there is none."""
        by_key = select(Feature).where(
            Feature.key == name, Feature.removed.is_(False), Feature.withdrawn.is_(None)
        )
        found = self._session.scalars(by_key).first()
        if found is not None:
            return found
        by_name = (
            select(Feature)
            .join(FeatureName, FeatureName.feature_id == Feature.id)
            .where(
                FeatureName.name == name,
                FeatureName.removed.is_(False),
                Feature.removed.is_(False),
                Feature.withdrawn.is_(None),
            )
        )
        several = list({one.id: one for one in self._session.scalars(by_name)}.values())
        if len(several) > 1:
            at = f"{where}: " if where else ""
            keys = ", ".join(one.key for one in several)
            raise InputError(
                f"{at}Several features are called {name!r}: {keys}.",
                "Name it by its key.",
            )
        return several[0] if several else None

    def pairs(
        self, read: Sequence[Reading], on_plate: Sequence[Reading]
    ) -> tuple[list[GapPair], list[str]]:
        """Return pairs whose gap is known there and on the plate, and what is not.

        Parameters
        ----------
        read, on_plate : sequence of Reading
            Gaps of both kinds. What the picture has is taken from the plate's marks
            where no reading tells it.
        """
        told = {(one.thing, one.other): one for one in on_plate}
        found, left = [], []
        for one in read:
            far, near = (
                self.known(one.thing, one.where),
                self.known(one.other, one.where),
            )
            if (one.thing, one.other) in told:
                same = told[one.thing, one.other]
                gap = math.radians(same.value or 0.0), math.radians(same.sd or 0.05)
            else:
                marked = self._marked_gap(far.feature, near.feature)
                if marked is None:
                    left.append(
                        f"Nothing tells the gap of {one.thing} and {one.other} on the "
                        "picture: mark both on the plate, or write it down as gap on "
                        "plate. What a sheet says of it is only the fix's own word."
                    )
                    continue
                gap = marked
            pair = GapPair(
                far.place_m, near.place_m, far.sd_m, near.sd_m,
                math.radians(one.value or 0.0), gap[0],
                math.radians(one.sd or 0.1), gap[1],
            )  # fmt: skip
            found.append(pair)
        return found, left

    def marked(self, feature: Feature) -> Mark | None:
        """Return the mark of a feature on the plate's main scan, if there is one."""
        scan = main_scan(self._session, self._plate)
        here = {None, scan.id if scan else None}
        wanted = select(Mark).where(
            Mark.plate_id == self._plate.id,
            Mark.removed.is_(False),
            Mark.withdrawn.is_(None),
        )
        for mark in self._session.scalars(wanted.order_by(Mark.key)):
            if mark.scan_id not in here or len(mark.points_px or ()) != 1:
                continue
            named = [one["feature"] for one in mark.features or ()]
            if not named and mark.detail_id is not None:
                detail = self._session.get_one(Detail, mark.detail_id)
                if detail.feature_id == feature.id and not detail.removed:
                    return mark
            if named == [feature.key]:
                return mark
        return None

    def _marked_gap(self, far: Feature, near: Feature) -> tuple[float, float] | None:
        """Return how far right of the near thing the far one is marked [rad]."""
        marks = [self.marked(far), self.marked(near)]
        if self.camera is None or None in marks:
            return None
        camera = self.camera.camera
        points = [list(one.points_px[0]) for one in marks if one and one.points_px]
        if self.camera.places is not None:
            points = self.camera.places(points)
        x, y = np.array(points, dtype=np.float64).T
        bearing, _ = bearing_elevation(camera, x, y)
        gap = float((bearing[0] - bearing[1] + math.pi) % (2.0 * math.pi) - math.pi)
        reading = math.hypot(*(MARK_SD_PX if one is None or one.sd_px is None
                               else one.sd_px for one in marks))  # fmt: skip
        # A lens that is so much too long makes each gap so much too small.
        sd = math.hypot(
            reading / camera.principal_distance_px, gap * self.camera.doubt.log_distance
        )
        return gap, sd


def middle_of(session: Session, visit: Visit) -> tuple[float, float]:
    """Return a place near all readings, for a grid of metres about it [deg].

    Parameters
    ----------
    session : Session
    visit : Visit

    Raises
    ------
    InputError
        If a thing that alone would tell it is not known.
    """
    for one in visit.readings:
        if one.lon_deg is not None and one.lat_deg is not None:
            return one.lon_deg, one.lat_deg
    for one in visit.readings:
        if not one.thing:
            continue
        named = select(FeatureName.feature_id).where(FeatureName.name == one.thing)
        wanted = select(Feature).where(
            (Feature.key == one.thing) | Feature.id.in_(named)
        )
        for feature in session.scalars(wanted):
            if feature.west_deg is not None and feature.south_deg is not None:
                return feature.west_deg, feature.south_deg
            if feature.geometry and feature.geometry.get("type") == "Point":
                lon, lat = feature.geometry["coordinates"][:2]
                return float(lon), float(lat)
        raise InputError(
            f"{one.where + ': ' if one.where else ''}There is no feature "
            f"{one.thing!r} in this daybook, or it has no place.",
            "Name it by its key or name as the list of features shows it.",
        )
    return 0.0, 0.0
