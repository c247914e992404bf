"""Give the named things of a daybook that stand nearest to a place."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
from shapely.geometry import Point
from sqlalchemy import select

from wherestood.daybook.book import Daybook
from wherestood.daybook.keep_visit import TRIPOD
from wherestood.daybook.tables import Feature, FeatureName, Plate
from wherestood.daybook.visit_things import MARK_SD_PX, Things
from wherestood.earth.frame import Frame
from wherestood.record.mapped_features import MapFeature

__all__ = ["near_things"]

#: Pairs are looked for among so many things, the nearest: each asks all cameras.
_MOST = 60


def near_things(
    book: Daybook, frame: Frame, station: Mapping[str, Any], plate_id: str
) -> list[MapFeature]:
    """Return named points of the daybook, the nearest to a station.

    Parameters
    ----------
    book : Daybook
    frame : Frame
        In whose metres they are told.
    station : mapping
        Of a published fix: lon, lat.
    plate_id : str
        On whose main scan they may be marked.
    """
    with book.reading() as session:
        called = (
            select(FeatureName.name, Feature)
            .join(Feature, FeatureName.feature_id == Feature.id)
            .where(
                FeatureName.removed.is_(False),
                Feature.removed.is_(False),
                Feature.withdrawn.is_(None),
                Feature.geometry.is_not(None),
                (Feature.what.is_(None)) | (Feature.what != TRIPOD),
            )
            .order_by(FeatureName.key)
        )
        points = {
            name: (feature, feature.geometry["coordinates"][:2])
            for name, feature in session.execute(called)
            if feature.geometry and feature.geometry.get("type") == "Point"
        }
        if not points:
            return []
        names = list(points)
        features = [feature for feature, _ in points.values()]
        lon, lat = np.array([at for _, at in points.values()], dtype=np.float64).T
        away = np.hypot(
            (lon - station["lon"]) * math.cos(math.radians(station["lat"])),
            lat - station["lat"],
        )
        order = np.argsort(away)[:_MOST]
        east, north = frame.from_lonlat(lon[order], lat[order])
        things = Things(session, session.get_one(Plate, plate_id), frame)
        return [
            MapFeature(
                Point(float(e), float(n)), names[k], features[k].sd_m,
                _marked(things, features[k]),
            )
            for k, e, n in zip(order, east, north, strict=True)
            if np.isfinite(e)
        ]  # fmt: skip


def _marked(things: Things, feature: Feature) -> tuple[float, float, float] | None:
    """Return where a feature is marked on the plate, and how surely [px]."""
    mark = things.marked(feature)
    if mark is None or not mark.points_px:
        return None
    x, y = mark.points_px[0][:2]
    return float(x), float(y), MARK_SD_PX if mark.sd_px is None else mark.sd_px
