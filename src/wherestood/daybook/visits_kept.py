"""Tell how tripods of visits stood to where a fix says that the camera did."""

from __future__ import annotations

import math

import pyproj
from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.keep_visit import TRIPOD
from wherestood.daybook.tables import Feature, Fix, Source
from wherestood.record.doubt import give_or_take, way_in_words

__all__ = ["tripods_told"]

_WGS84 = pyproj.Geod(ellps="WGS84")


def tripods_told(session: Session, fix: Fix) -> tuple[str, ...]:
    """Return how far and which way each tripod was off, in sentences, the last first.

    Parameters
    ----------
    session : Session
    fix : Fix
        With its answer; its plate's visits are told of.
    """
    if not fix.answer:
        return ()
    station = fix.answer["station"]
    fix_sd_m = math.hypot(station["sd_east_m"] or 0.0, station["sd_north_m"] or 0.0)
    wanted = (
        select(Feature, Source)
        .join(Source, Feature.source_id == Source.id)
        .where(
            Feature.what == TRIPOD,
            Feature.removed.is_(False),
            Feature.withdrawn.is_(None),
        )
        .order_by(Feature.key.desc())
    )
    found = []
    for feature, source in session.execute(wanted):
        visit = (feature.imported or {}).get("visit", {})
        if visit.get("plate") != fix.plate_id or not feature.geometry:
            continue
        lon, lat = feature.geometry["coordinates"][:2]
        azimuth, _, away_m = _WGS84.inv(station["lon"], station["lat"], lon, lat)
        way = way_in_words(
            math.sin(math.radians(azimuth)), math.cos(math.radians(azimuth))
        )
        sd_m = math.hypot(fix_sd_m / math.sqrt(2.0), feature.sd_m or 0.0)
        found.append(
            f"{source.citation}: the tripod stood {give_or_take(away_m, sd_m, ' m')} "
            f"{way} of the likeliest spot by {fix.key}, as its place was read there; "
            f"{feature.note or 'not matched'}."
        )
    return tuple(found)
