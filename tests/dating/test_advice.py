"""Check what is said to narrow a date most."""

from __future__ import annotations

import pytest

from wherestood.dating.advice import Standing, advise_date
from wherestood.dating.items import Bound, Exposed
from wherestood.dating.months import month_of, span_of
from wherestood.dating.weigh import weigh

FIRST, LAST = month_of(1870, 1), month_of(1879, 12)


def test_a_thing_built_midway_halves_the_time_when_looked_for() -> None:
    # 120 months alike, built at the beginning of 1875: whichever way it is, 60 stay.
    whole = weigh([], FIRST, LAST)
    offers = advise_date([], whole, [Standing("the mill", span_of("1875-01"), None)])
    assert len(offers) == 1
    assert offers[0].months_now == 108
    assert offers[0].months_expected == pytest.approx(54.0, abs=0.5)


def test_a_thing_that_stood_all_the_time_is_not_offered() -> None:
    whole = weigh([], FIRST, LAST)
    assert advise_date([], whole, [Standing("the rock", span_of("1800"), None)]) == ()


def test_the_widest_doubt_comes_first() -> None:
    wide = Bound("hall", "the hall was built", "not before", span_of("1870/1878"))
    narrow = Bound(
        "gate", "the gate was built", "not before", span_of("1872-01/1872-06")
    )
    whole = weigh([wide, narrow], FIRST, LAST)
    offers = advise_date([wide, narrow], whole)
    assert offers[0].what == "find the exact date of the hall was built"
    assert all(offer.gain_months >= 0.5 for offer in offers)


def test_settling_a_doubtful_caption_is_weighed_by_both_answers() -> None:
    caption = Exposed("caption", "1875", span_of("1875"), trust=0.5)
    whole = weigh([caption], FIRST, LAST)
    (offer,) = advise_date([caption], whole)
    # Right leaves 11 of 12 months; wrong leaves 1870 to 1874 and 1876 to 1879, of
    # whose 108 months the narrowest run with 97.2 reaches across the year between:
    # 98 of them, and 12.
    assert offer.months_expected == pytest.approx(0.5 * 11 + 0.5 * 110)
