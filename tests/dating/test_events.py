"""Check what the date of an event says of the exposure."""

from __future__ import annotations

import numpy as np
import pytest

from wherestood.dating.events import EVENTS, dated_item, event_called
from wherestood.dating.items import Bound, Exposed
from wherestood.dating.months import month_of, months_between
from wherestood.errors import EvidenceError

MONTHS = months_between(month_of(1870), month_of(1880))


def left(event: str, edtf: str) -> tuple[int, int]:
    """Return the first and last month that an event's date leaves."""
    item = dated_item("x", EVENTS[event], edtf, "x")
    assert item is not None
    months = MONTHS[np.flatnonzero(item.agrees(MONTHS))]
    return int(months[0]), int(months[-1])


def test_what_is_printed_or_published_was_exposed_before() -> None:
    for event in ("printed", "published", "mounted", "acquired", "written on it"):
        assert left(event, "1875-06") == (MONTHS[0], month_of(1875, 6)), event


def test_a_newspaper_s_date_is_not_the_event_s() -> None:
    assert left("reported", "1875-06") == (month_of(1875, 4), month_of(1875, 6))


def test_a_contract_let_is_not_a_building_finished() -> None:
    item = dated_item("x", EVENTS["shown, contract let"], "1875-06", "x")
    assert isinstance(item, Bound)
    agrees = dict(zip(MONTHS.tolist(), item.agrees(MONTHS), strict=True))
    assert agrees[month_of(1875, 8)] == 0.0  # two months after: not yet
    assert agrees[month_of(1875, 9)] == pytest.approx(1 / 22)
    assert agrees[month_of(1877, 6)] == 1.0  # after two years


def test_first_mention_does_not_date_what_shows_but_dates_what_is_missing() -> None:
    assert dated_item("x", EVENTS["shown, first mentioned"], "1875", "x") is None
    assert left("missing, first mentioned", "1875") == (MONTHS[0], month_of(1875, 12))


def test_what_moved_dates_both_its_places() -> None:
    assert left("shown, moved here", "1875-06")[0] == month_of(1875, 6)
    assert left("shown, moved away", "1875-06")[1] == month_of(1875, 6)


def test_a_name_dates_nothing() -> None:
    assert dated_item("x", EVENTS["shown, name first used"], "1875", "x") is None


def test_own_date_is_no_bound() -> None:
    item = dated_item("x", EVENTS["exposed"], "1875-05/1875-07", "x")
    assert isinstance(item, Exposed)


def test_open_dates_bound_one_side_only() -> None:
    assert left("shown, built", "1875/..") == (month_of(1875), MONTHS[-1])
    item = dated_item("x", EVENTS["shown, built"], "../1875", "x")
    assert item is not None
    # Built at some time until 1875, nobody knows since when: nothing is excluded.
    assert item.agrees(MONTHS).min() == 1.0


def test_unknown_events_and_dates_are_refused_with_what_is_known() -> None:
    with pytest.raises(EvidenceError, match="shown, built"):
        event_called("erected")
    with pytest.raises(EvidenceError, match="cannot be read as a date"):
        dated_item("x", EVENTS["printed"], "1875-13", "x")
