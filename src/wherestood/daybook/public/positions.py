"""Tell where cameras stood, as closely as each may be published."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select

from wherestood.daybook.decide import standing_decisions
from wherestood.daybook.journal import DaybookSession
from wherestood.daybook.precision import FREE, Restricted, restricted_plates
from wherestood.daybook.public.coarse import coarse_place
from wherestood.daybook.public.people import unnamed_people
from wherestood.daybook.public.rows import public_names
from wherestood.daybook.tables import Decision, Fix, Plate

__all__ = ["public_positions"]

_ACCEPTED = ("accepted", "accepted with conditions")


def public_positions(session: DaybookSession) -> dict[str, Any]:
    """Return the positions that a person accepted, as GeoJSON (RFC 7946).

    Returns
    -------
    dict
        A FeatureCollection. A place that may be told only roughly is the middle of a
        square; where none may be told the geometry is null. How the camera looked is
        told only where the place is exact.
    """
    restrictions = restricted_plates(session)
    decided = standing_decisions(session)
    called = public_names(session)
    features = []
    plates = select(Plate).where(Plate.removed.is_(False), Plate.withdrawn.is_(None))
    for plate in session.scalars(plates.order_by(Plate.key)):
        decision = decided.get(plate.id)
        if decision is None or decision.conclusion not in _ACCEPTED:
            continue
        fix = session.get(Fix, decision.fix_id) if decision.fix_id else None
        if fix is None or fix.withdrawn or fix.removed or fix.lon_deg is None:
            continue
        limits = restrictions.get(plate.id, FREE)
        features.append(_feature(called[plate.id], fix, decision, limits))
    told = unnamed_people(session).taken_out_of(features)
    return {"type": "FeatureCollection", "features": told}


def _feature(
    plate: str, fix: Fix, decision: Decision, limits: Restricted
) -> dict[str, Any]:
    assert fix.lon_deg is not None
    assert fix.lat_deg is not None
    place = coarse_place(fix.lon_deg, fix.lat_deg, limits.precision)
    told: dict[str, Any] = {
        "plate": plate,
        "precision": limits.precision,
        "decision": decision.conclusion,
        "decided": decision.decided[:10],
    }
    if limits.words:
        told["place"] = limits.words
    if place is not None and place.side_m is not None:
        told["square_side_m"] = place.side_m
    if limits.is_exact:
        told |= _as_known(fix)
    point = None
    if place is not None:
        point = {"type": "Point", "coordinates": [place.lon_deg, place.lat_deg]}
    return {"type": "Feature", "geometry": point, "properties": told}


def _as_known(fix: Fix) -> dict[str, Any]:
    """Return what is told of an answer whose place may be known."""
    told: dict[str, Any] = {
        "verdict": fix.verdict,
        "near_enough_m": fix.near_enough_m,
        "sd_east_m": fix.sd_east_m,
        "sd_north_m": fix.sd_north_m,
        "elsewhere": fix.elsewhere,
    }
    camera = (fix.answer or {}).get("camera") or {}
    bearing = (camera.get("sight") or {}).get("bearing_deg")
    if bearing is not None:
        told["looks_towards_deg"] = round(bearing, 1)
    return {name: value for name, value in told.items() if value is not None}
