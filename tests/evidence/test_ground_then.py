from __future__ import annotations

import math

import pytest
import shapely

from wherestood.earth.frame import Frame
from wherestood.errors import EvidenceError
from wherestood.evidence.ground_then import (
    chance_then,
    changes_of,
    check_date,
    ground_states,
)
from wherestood.evidence.items import ChangedGround, Evidence
from wherestood.evidence.noise import SkylineNoise

SQUARE = shapely.box(8.50, 46.10, 8.51, 46.11)
FRAME = Frame.local(8.5, 46.1)


def heap(**more):
    return ChangedGround(SQUARE, "raise", by_m=20.0, id="heap", **more)


@pytest.mark.parametrize(
    ("existed_from", "existed_to", "date", "chance"),
    [
        ("", "1910", "1875", 1.0),
        ("", "1910", "1910", 1.0),
        ("", "1910", "1911", 0.0),
        ("1890", "", "1875", 0.0),
        ("1890", "1910", "1890/1910", 1.0),
        # Of ten years the last five count.
        ("1880", "", "1875/1884", 0.5),
        # Begun in one of 1880, 1881, 1882, 1883, as likely as another: by 1880 one of
        # four times.
        ("1880/1883", "", "1880", 0.25),
        # Ended in one of 1880 to 1883: still there in 1883 one of four times.
        ("", "1880/1883", "1883", 0.25),
        # About 1880 is 1875 to 1885: begun by 1879 five of eleven times.
        ("1880~", "", "1879", 5.0 / 11.0),
        ("", "187X", "1875", 0.5),
        ("1850", "", "1860/..", 1.0),
        ("", "1850", "../1840", 1.0),
    ],
)
def test_chance_is_the_share_of_years_in_which_the_state_held(
    existed_from, existed_to, date, chance
):
    item = heap(existed_from=existed_from, existed_to=existed_to)
    found, why = chance_then(item, date)
    assert found == pytest.approx(chance)
    assert bool(why) == (chance < 1.0)


def test_what_is_not_dated_may_or_may_not_have_held():
    for item, date in ((heap(), "1875"), (heap(existed_to="1900"), "")):
        chance, why = chance_then(item, date)
        assert chance == 0.5
        assert "not dated" in why


def test_years_may_be_plain_numbers():
    assert chance_then(heap(existed_to=1900), "1875") == (1.0, "")


@pytest.mark.parametrize("words", ["", "1875", "1875~", "1870/1880", "1870/..", "187X"])
def test_dates_that_can_be_read_are_taken(words):
    check_date(words)


def test_a_date_that_cannot_be_read_is_refused():
    with pytest.raises(EvidenceError, match="'about 1875' cannot be read"):
        check_date("about 1875")


def test_only_what_may_have_held_changes_the_ground():
    evidence = Evidence(
        changed_ground=(
            heap(existed_from="1900"),
            ChangedGround(SQUARE, "cut", id="dam", existed_to="1900", trust=0.8),
        ),
        date="1875",
    )
    states = ground_states(evidence)
    assert [state.chance for state in states] == [0.0, 1.0]
    (only,) = changes_of(states, FRAME, SkylineNoise.usual("ground"), "ground")
    assert (only.name, only.change, only.trust) == ("dam", "cut", 0.8)


def test_states_of_which_one_ends_before_the_other_begins_exclude_each_other():
    evidence = Evidence(
        changed_ground=(
            heap(existed_to="1875"),
            ChangedGround(SQUARE, "flatten", height_m=400.0, existed_from="1875"),
        ),
        date="1870/1880",
    )
    one, other = changes_of(
        ground_states(evidence), FRAME, SkylineNoise.usual("ground"), "ground"
    )
    assert one.excludes == {other.name}
    assert other.excludes == {one.name}


@pytest.mark.parametrize(
    ("surface", "then_m", "now_m", "amount_m"),
    [
        # Over bare ground 8 m of trees are allowed for everywhere.
        ("ground", 0.0, 18.0, -8.0),
        ("ground", 20.0, None, 12.0),
        # A model of tree tops has today's trees in it, and nothing is allowed for.
        ("top", 0.0, 18.0, -18.0),
        ("top", 20.0, 0.0, 20.0),
        ("top", 15.0, 15.0, 0.0),
    ],
)
def test_trees_raise_by_what_differs_from_those_allowed_for(
    surface, then_m, now_m, amount_m
):
    noise = SkylineNoise.usual(surface)
    item = ChangedGround(
        SQUARE, "cover", cover_then_m=then_m, cover_now_m=now_m, existed_to="1900"
    )
    states = ground_states(Evidence(changed_ground=(item,), date="1875"))
    (change,) = changes_of(states, FRAME, noise, surface)
    assert change.amount_m == pytest.approx(amount_m)


def test_trees_of_which_nothing_is_told_in_a_model_of_tops_are_very_doubtful():
    item = ChangedGround(SQUARE, "cover", cover_then_m=0.0, existed_to="1900")
    states = ground_states(Evidence(changed_ground=(item,), date="1875"))
    for surface in ("top", "unknown"):
        noise = SkylineNoise.usual(surface)
        (change,) = changes_of(states, FRAME, noise, surface)
        assert change.sd_m > 15.0


def test_mean_cover_has_the_sign_of_the_surface():
    """What stands above bare ground is more than what stands above tree tops."""
    means = [SkylineNoise.usual(kind).cover_mean_m for kind in ("ground", "top")]
    assert means[0] > 0.0
    assert means[1] <= 0.0
    between = SkylineNoise.usual("unknown").cover_mean_m
    assert means[1] < between < means[0]
    assert math.isfinite(between)
