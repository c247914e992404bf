"""Tell in which ground each plate's camera stood, as its newest fix has it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import shapely
from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from wherestood.daybook.tables import Fix

__all__ = ["MOST_DRAWN", "DrawnRegion", "regions_drawn"]

#: Where more plates are chosen, their regions would be dots: none are told.
MOST_DRAWN = 300
#: Of a region's own extent: its outline strays by no more than this.
_OFF_SHARE = 0.005
Ring = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class DrawnRegion:
    """Be the ground that holds a camera with some probability.

    Attributes
    ----------
    plate_id : str
        Of which plate.
    probability : float
        That the camera stood in it.
    rings_deg : tuple of rings of (lon, lat)
        Its outlines, outer and inner [deg].
    """

    plate_id: str
    probability: float
    rings_deg: tuple[Ring, ...]


def regions_drawn(session: Session, ids: Sequence[str]) -> list[DrawnRegion]:
    """Return the largest region of the newest fix of each plate.

    Parameters
    ----------
    session : Session
    ids : sequence of str
        The plates; of more than `MOST_DRAWN` none is told.
    """
    if len(ids) > MOST_DRAWN:
        return []
    later = aliased(Fix)
    newer = select(later.id).where(
        later.plate_id == Fix.plate_id, later.made > Fix.made, later.removed.is_(False)
    )
    wanted = select(Fix.plate_id, Fix.answer["regions"]["features"]).where(
        Fix.removed.is_(False), Fix.plate_id.in_(ids), ~newer.exists()
    )
    told = []
    for plate_id, features in session.execute(wanted):
        largest = max(features or (), key=_probability, default=None)
        if largest is not None:
            rings = _rings(largest["geometry"])
            told.append(DrawnRegion(plate_id, _probability(largest), rings))
    return told


def _probability(feature: dict[str, Any]) -> float:
    return float(feature["properties"]["probability"])


def _rings(geometry: dict[str, Any]) -> tuple[Ring, ...]:
    shape = shapely.geometry.shape(geometry)
    west, south, east, north = shape.bounds
    thinned = shape.simplify(_OFF_SHARE * max(east - west, north - south))
    parts = getattr(thinned, "geoms", [thinned])
    return tuple(
        tuple((round(lon, 6), round(lat, 6)) for lon, lat in ring.coords)
        for part in parts
        for ring in (part.exterior, *part.interiors)
    )
