"""Tell a maker's journeys, and the minutes between plates, as records and a map."""

from __future__ import annotations

from datetime import date
from typing import Any

from wherestood.dating.itinerary import Journey
from wherestood.daybook.makers_journeys import MakersJourneys
from wherestood.daybook.minutes_apart import Apart
from wherestood.record.plain import rounded

__all__ = ["journeys_form", "journeys_map", "minutes_form"]


def journeys_form(found: MakersJourneys) -> dict[str, Any]:
    """Return the record of a maker's journeys."""
    return {
        "maker": found.name,
        "by": found.mode,
        "stops": [
            {
                "plate": one.stop.key,
                "plate_id": one.plate_id,
                "title": one.title,
                "lon_deg": one.stop.lon_deg,
                "lat_deg": one.stop.lat_deg,
                "first_day": date.fromordinal(one.stop.first_day).isoformat(),
                "last_day": date.fromordinal(one.stop.last_day).isoformat(),
                "words": one.date,
                "fits_trip": one.fits,
            }
            for one in found.stops
        ],
        "journeys": [_journey(one) for one in found.journeys],
        "not_both": [
            {"plates": [there.start, there.end], "km": round(there.km, 1),
             "days_needed": round(there.days_needed, 1),
             "days_there": max(there.days_there, back.days_there)}
            for there, back in found.contradict
        ],
        "left_out": list(found.left_out),
    }  # fmt: skip


def _journey(one: Journey) -> dict[str, Any]:
    return {
        "start": one.start, "end": one.end, "km": round(one.km, 1),
        "days_needed": round(one.days_needed, 1), "days_there": one.days_there,
        "possible": one.possible,
    }  # fmt: skip


def journeys_map(found: MakersJourneys) -> dict[str, Any]:
    """Return plates and the way from each to the next as GeoJSON (RFC 7946)."""
    place = {one.stop.key: [one.stop.lon_deg, one.stop.lat_deg] for one in found.stops}
    points = [
        _feature(
            "Point", place[one.stop.key],
            {"order": number, "plate": one.stop.key, "title": one.title,
             "days": one.date, "fits_trip": one.fits},
        )
        for number, one in enumerate(found.stops, 1)
    ]  # fmt: skip
    ways = [
        _feature("LineString", [place[one.start], place[one.end]], _journey(one))
        for one in found.journeys
    ]
    return {"type": "FeatureCollection", "features": [*points, *ways]}


def _feature(kind: str, at: list[Any], properties: dict[str, Any]) -> dict[str, Any]:
    geometry = {"type": kind, "coordinates": at}
    return {"type": "Feature", "geometry": geometry, "properties": properties}


def minutes_form(apart: Apart) -> dict[str, Any]:
    """Return the record of the minutes between two plates."""
    mean, sd = apart.found.mean_sd
    return {
        "first": apart.first,
        "second": apart.second,
        "minutes": rounded(mean, 1),
        "sd_min": rounded(sd, 1),
        "second_later": round(apart.found.second_later, 4),
        "within_cycle": round(apart.found.within_cycle, 4),
        "too_short": round(apart.found.too_short, 4),
        "notes": list(apart.notes),
    }
