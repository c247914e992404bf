"""Check the tables of periods and signs, and a person's own."""

from __future__ import annotations

import numpy as np
import pytest

from wherestood.dating.items import Bound, Exposed, InUse
from wherestood.dating.months import month_of, months_between, span_of
from wherestood.dating.periods import known_periods, period_item, read_periods
from wherestood.dating.signs import (
    in_season,
    known_signs,
    read_signs,
    season_item,
)
from wherestood.dating.weigh import weigh
from wherestood.errors import EvidenceError

ALL = months_between(month_of(1839), month_of(1955, 12))
JUNE, DECEMBER = month_of(1871, 6), month_of(1871, 12)


def test_every_period_says_where_its_years_are_from() -> None:
    for period in known_periods().values():
        assert period.mark in ("seen", "common practice", "from memory"), period.name
        assert period.source, period.name


def test_processes_prints_mounts_and_formats_have_periods() -> None:
    kinds = {period.kind for period in known_periods().values()}
    assert kinds == {"process", "print", "mount", "format"}


def test_what_came_before_glass_leaves_no_month_of_dry_plates() -> None:
    for name in ("daguerreotype", "paper negative"):
        agrees = period_item("p", name).agrees(ALL)
        assert agrees[month_of(1845, 6) - ALL[0]] == 1.0
        assert not agrees[month_of(1873) - ALL[0] :].any()


def test_wet_plates_are_dated_by_the_trade_s_years() -> None:
    """SOURCE: collodion was announced in March 1851; wet plates gave way to dry ones by
    about 1890 (common practice).
    """
    wet = period_item("p", "wet collodion negative")
    assert isinstance(wet, InUse)
    agrees = dict(zip(ALL.tolist(), wet.agrees(ALL), strict=True))
    assert agrees[month_of(1850, 12)] == 0.0
    assert agrees[month_of(1865)] == 1.0
    assert 0.0 < agrees[month_of(1889)] < 0.5
    assert agrees[month_of(1893)] == 0.0


def test_a_mount_dates_the_print_and_so_only_the_late_side() -> None:
    mount = period_item("m", "cabinet mount")
    assert isinstance(mount, Bound)
    # The negative may be older than the mount's first year.
    assert mount.agrees(np.array([month_of(1860)]))[0] == 1.0
    assert mount.agrees(np.array([month_of(1916)]))[0] == 0.0


def test_own_rows_are_read_and_wrong_ones_refused_by_name() -> None:
    own = """[[period]]
    name = "wet collodion negative"
    kind = "process"
    dates = "exposure"
    first = 1858
    general_from = 1860
    general_to = 1885
    last = 1899
    """
    period = read_periods(own, "own.toml")["wet collodion negative"]
    assert period.span.rise_from == month_of(1858)
    with pytest.raises(EvidenceError, match=r"own\.toml.*'x'.*whole years"):
        read_periods(
            '[[period]]\nname="x"\ndates="print"\nfirst=1870\ngeneral_from=1860',
            "own.toml",
        )
    with pytest.raises(EvidenceError, match="mean nothing: frist"):
        read_periods('[[period]]\nname="x"\ndates="print"\nfrist=1870', "own.toml")
    with pytest.raises(EvidenceError, match="cannot be read as TOML"):
        read_periods("[[period", "own.toml")


def test_unknown_periods_are_answered_by_near_names() -> None:
    with pytest.raises(EvidenceError, match="wet collodion negative"):
        period_item("p", "wet colodion")


def test_leaf_is_of_summer_in_both_hemispheres() -> None:
    north, south = season_item("s", "leaf", 46.0), season_item("s", "leaf", -43.0)
    months = np.array([JUNE, DECEMBER])
    assert north.agrees(months) == pytest.approx([1.0, 0.0])
    assert south.agrees(months) == pytest.approx([0.0, 1.0])


def test_leaf_counts_nothing_within_the_tropics() -> None:
    with pytest.raises(EvidenceError, match="within the tropics"):
        season_item("s", "leaf", 10.0)


@pytest.mark.parametrize(
    ("edtf", "lat_deg", "best"),
    [
        ("1871-21", 46.0, {3, 4, 5}),
        ("1871-24", 46.0, {12, 1, 2}),
        ("1871-21", -43.0, {9, 10, 11}),
        ("1871-26", -43.0, {6, 7, 8}),  # 26 is the northern summer wherever it is said
        ("1871-32", 46.0, {6, 7, 8}),  # 32 the southern winter
    ],
)
def test_seasons_of_dates_have_their_hemisphere(
    edtf: str, lat_deg: float, best: set[int]
) -> None:
    season = in_season(Exposed("s", "", span_of(edtf)), edtf, lat_deg)
    assert season.shares is not None
    assert {n + 1 for n, share in enumerate(season.shares) if share == 1.0} == best


def test_a_season_of_neither_hemisphere_is_refused() -> None:
    with pytest.raises(EvidenceError, match="which hemisphere"):
        in_season(Exposed("s", "", span_of("1871-21")), "1871-21", None)
    for edtf in ("1871-05", "1870-21/1874-24"):  # a span is of no one season
        whole = Exposed("s", "", span_of(edtf))
        assert in_season(whole, edtf, None) == whole


def test_a_season_and_its_year_are_right_or_wrong_as_one() -> None:
    """By hand: months of spring 1, either side 0.4, so that April holds 0.9 / 3.8."""
    spring = in_season(Exposed("s", "", span_of("1871-21"), trust=0.9), "1871-21", 46.0)
    found = weigh([spring])
    of = dict(zip(found.months.tolist(), found.probability, strict=True))
    assert of[month_of(1871, 4)] == pytest.approx(0.9 / 3.8, abs=1e-3)
    assert sum(of[month_of(1871, m)] for m in range(2, 7)) == pytest.approx(
        0.9, abs=2e-3
    )


def test_a_winter_is_of_either_end_of_its_year() -> None:
    winter = in_season(Exposed("s", "", span_of("1871-24")), "1871-24", 46.0)
    months = [month_of(1870, 12), month_of(1871, 1), month_of(1871, 12),
              month_of(1872, 2), month_of(1872, 4)]  # fmt: skip
    assert winter.agrees(np.array(months)).tolist() == [0.0, 1.0, 1.0, 1.0, 0.0]


def test_signs_of_a_person_s_own_are_read_for_their_hemisphere() -> None:
    text = (
        '[[sign]]\nname="flax"\nhemisphere="south"\n'
        "shares=[1.0,0,0,0,0,0,0,0,0,0,0.5,1.0]"
    )
    sign = read_signs(text, "own.toml")
    south = season_item("s", "flax", -43.0, sign)
    assert south.agrees(np.array([month_of(1871, 1)]))[0] == 1.0
    with pytest.raises(EvidenceError, match="twelve shares"):
        read_signs('[[sign]]\nname="x"\nshares=[1.0]', "own.toml")


def test_leaf_and_bare_leave_no_month_without_either() -> None:
    signs = known_signs()
    both = np.add(signs["leaf"].shares, signs["bare"].shares)
    assert both.min() > 0.65
