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
from wherestood.daybook.tables import Feature, FeatureName
from wherestood.earth.frame import Frame
from wherestood.record.mapped_features import MapFeature

__all__ = ["near_things"]

#: Pairs are looked for among so many things, the nearest: each asks all cameras.
_MOST = 60


def near_things(
    book: Daybook, frame: Frame, station: Mapping[str, Any]
) -> list[MapFeature]:
    """Return named points of the daybook, the nearest to a station.

    Parameters
    ----------
    book : Daybook
    frame : Frame
        In whose metres they are told.
    station : mapping
        Of a published fix: lon, lat.
    """
    with book.reading() as session:
        called = (
            select(FeatureName.name, Feature.geometry)
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
            name: shape["coordinates"][:2]
            for name, shape in session.execute(called)
            if shape and shape.get("type") == "Point"
        }
    if not points:
        return []
    names = list(points)
    lon, lat = np.array([points[name] for name in names], dtype=np.float64).T
    away = np.hypot(
        (lon - station["lon"]) * math.cos(math.radians(station["lat"])),
        lat - station["lat"],
    )
    order = np.argsort(away)[:_MOST]
    east, north = frame.from_lonlat(lon[order], lat[order])
    return [
        MapFeature(Point(float(e), float(n)), names[k])
        for k, e, n in zip(order, east, north, strict=True)
        if np.isfinite(e)
    ]
