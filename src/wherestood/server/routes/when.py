"""Answer when a plate was exposed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Annotated

import numpy as np
from fastapi import APIRouter, Query

from wherestood.dating.sun_path import Horizon
from wherestood.daybook import Daybook
from wherestood.daybook.hills import Hills, Sight, hills_at
from wherestood.daybook.shadow_on_map import distance_on, shadows_on_map
from wherestood.daybook.sun_of_plate import SunTold as Reckoned
from wherestood.daybook.sun_told import clock_of, sun_told_form, sun_told_words
from wherestood.daybook.when_exposed import Given, date_of_plate
from wherestood.errors import InputError, TerrainError
from wherestood.record.date_form import date_form
from wherestood.server.desk import Book, Desk, DeskNeeded
from wherestood.server.forms.when import (
    DateTold,
    ShadowLaid,
    SunClockTold,
    SunOnMap,
    SunTold,
)
from wherestood.server.grounds import Ground
from wherestood.server.plate_ground import ground_of
from wherestood.server.routes.items import item_of
from wherestood.server.troubles import NotThereError
from wherestood.terrain.meet import SolidGround

__all__ = ["hills_of_plate", "router"]

router = APIRouter(prefix="/api/plates", tags=["when"])
_Many = Annotated[list[str] | None, Query()]


@router.get("/{plate_id}/when", operation_id="getWhen")
def when(
    desk: DeskNeeded,
    book: Book,
    plate_id: str,
    period: _Many = None,
    sign: _Many = None,
    between: str | None = None,
    shadow: _Many = None,
    slope: str | None = None,
    day: str | None = None,
    hour: str | None = None,
    clock: str = "local mean",
    zone_hours: float | None = None,
) -> DateTold:
    """Tell when a plate was exposed, by all that its daybook holds."""
    with book.reading() as session:
        key = item_of(session, "plates", plate_id).key
    given = Given(
        periods=tuple(period or ()),
        signs=tuple(sign or ()),
        between=between,
        shadows=tuple(shadow or ()),
        slope=slope,
        day=day,
        hour=hour,
        clock=clock,
        zone_hours=zone_hours,
    )
    told = date_of_plate(book, key, given, hills_of_plate(desk, book, plate_id))
    form = date_form(told.whole, told.contributions, told.offers, told.left_out)
    sun = None
    if told.sun is not None:
        sections = sun_told_words(told.sun, zone_hours)
        words = [line for section in sections for line in section.lines]
        sun = SunTold(
            **sun_told_form(told.sun),
            words=words,
            clock=SunClockTold(**clock_of(told.sun)),
            on_map=_laid(desk, book, plate_id, told.sun),
        )
    return DateTold(**form, sun=sun)


def _opened(desk: Desk, book: Daybook, plate_id: str) -> Ground | None:
    """Return the plate's ground; None where there is none that can be used."""
    try:
        return ground_of(desk, book, plate_id)[0]
    except (NotThereError, InputError, TerrainError):
        return None


def hills_of_plate(desk: Desk, book: Daybook, plate_id: str) -> Hills:
    """Return what gives horizons over the plate's ground, which stays warm."""

    def hills(
        lon_deg: float, lat_deg: float, lens_m: float, seen: Sequence[Sight] = ()
    ) -> Horizon | None:
        ground = _opened(desk, book, plate_id)
        if ground is None:
            return None
        try:
            return hills_at(
                ground.model, ground.standing, lon_deg, lat_deg, lens_m, seen
            )
        except TerrainError:
            return None

    return hills


def _laid(desk: Desk, book: Daybook, plate_id: str, sun: Reckoned) -> SunOnMap | None:
    """Lay sun and shadows on the map; None without ground or a sun's bearing."""
    ground = _opened(desk, book, plate_id)
    if ground is None or sun.by.where.horizon is None or sun.by.directions is None:
        return None
    frame, where = ground.terrain.frame, sun.by.where

    def grid_m(place_deg: tuple[float, float]) -> tuple[float, float]:
        lon, lat = (np.array([each]) for each in place_deg)
        east, north = frame.from_lonlat(lon, lat)
        return float(east[0]), float(north[0])

    distance = distance_on(SolidGround.of(ground.model), sun.by)
    shadows = [
        ShadowLaid(
            key=one.key,
            foot_m=grid_m(one.foot_deg),
            tip_m=grid_m(one.tip_deg),
            sun_bearing_deg=one.sun_bearing_deg,
            sun_elevation_deg=one.sun_elevation_deg,
        )
        for one in shadows_on_map(sun.by, distance)
    ]
    bearing = sun.by.directions.bearing_rad
    middle = math.atan2(float(np.sin(bearing).sum()), float(np.cos(bearing).sum()))
    return SunOnMap(
        ground=ground.key,
        camera_m=grid_m((where.lon_deg, where.lat_deg)),
        turn_deg=frame.convergence_deg(where.lon_deg, where.lat_deg),
        sun_bearing_deg=math.degrees(middle) % 360.0,
        shadows=shadows,
    )
