"""Check which journeys are possible. Places and dates are invented."""

from __future__ import annotations

from datetime import date

import pytest

from wherestood.dating.itinerary import (
    WAY_OVER_CROW,
    Stop,
    cannot_both_be,
    fits_trip,
    in_order,
    way_km,
)
from wherestood.errors import EvidenceError

#: A degree of latitude at 45 N on the WGS 84 ellipsoid, by tables: 111.13 km.
A_DEGREE_KM = 111.13


def stop(key: str, lat_deg: float, first: date, last: date | None = None) -> Stop:
    last = first if last is None else last
    return Stop(key, 8.0, lat_deg, first.toordinal(), last.toordinal())


MAY_3, MAY_4, MAY_9 = date(1871, 5, 3), date(1871, 5, 4), date(1871, 5, 9)


def test_the_way_is_longer_than_the_crow_s() -> None:
    km = way_km(stop("a", 44.5, MAY_3), stop("b", 45.5, MAY_3))
    assert km == pytest.approx(A_DEGREE_KM * WAY_OVER_CROW, abs=0.1)


def test_two_places_a_day_apart_and_far_cannot_both_be_by_cart_but_by_rail() -> None:
    stops = [stop("a", 45.0, MAY_3), stop("b", 46.0, MAY_4)]
    ((there, back),) = cannot_both_be(stops, "cart")
    assert there.words == (
        "a to b: 144 km, 3.2 days on the way, 1 between at most: not possible"
    )
    assert not back.possible
    assert cannot_both_be(stops, "railway") == ()


def test_wide_dates_rule_nothing_out() -> None:
    stops = [stop("a", 45.0, MAY_3, MAY_9), stop("b", 46.0, MAY_3, MAY_9)]
    assert cannot_both_be(stops) == ()


def test_a_chain_of_stops_uses_up_its_days() -> None:
    # 0.5 deg each: 72 km, 1.6 days by cart; three legs from 3 to 6 May.
    stops = [
        stop("a", 45.0, MAY_3),
        stop("b", 45.5, MAY_3, date(1871, 5, 5)),
        stop("c", 46.0, date(1871, 5, 5)),
    ]
    assert [journey.possible for journey in in_order(stops)] == [True, True]
    late = [*stops[:2], stop("c", 48.0, date(1871, 5, 5))]
    assert [journey.possible for journey in in_order(late)] == [True, False]


def test_a_plate_fits_a_trip_only_where_it_can_be_reached_and_left() -> None:
    trip = [stop("a", 45.0, MAY_3), stop("b", 45.6, MAY_9)]
    anyday = (date(1871, 5, 1), date(1871, 5, 31))
    assert fits_trip(stop("x", 45.3, *anyday), trip)
    assert not fits_trip(stop("y", 47.5, *anyday), trip)
    assert not fits_trip(stop("z", 45.3, date(1872, 1, 1)), trip)
    with pytest.raises(EvidenceError, match="no stop"):
        fits_trip(stop("x", 45.3, MAY_3), [])


def test_bad_stops_and_modes_are_refused() -> None:
    with pytest.raises(EvidenceError, match="end before they begin"):
        stop("a", 45.0, MAY_9, MAY_3)
    with pytest.raises(EvidenceError, match="Choose one of: on foot"):
        cannot_both_be([], "broomstick")
