"""Test that gaps read beside the spot tell the step to it, and how sure that is."""

from __future__ import annotations

import numpy as np
import pytest

from wherestood.visit.spot_found import GapPair, combined_place, step_by_gaps

READ, PLATE = np.radians(0.1), np.radians(0.05)
#: Invented: near things and far ones, east and north of the camera [m].
THINGS = {
    "gate": (-8.0, 26.0), "boulder": (6.0, 34.0), "well": (14.0, 22.0),
    "church": (-90.0, 700.0), "rock": (210.0, 900.0), "mill": (420.0, 800.0),
}  # fmt: skip
PAIRS = [("church", "gate"), ("rock", "boulder"), ("mill", "well")]
#: 90% of 120, a binomial's 3 standard errors below and above.
LEAST_HELD, MOST_HELD = 98, 118


def gap(far, near, at):
    one, other = (np.arctan2(*(np.array(thing) - at)) for thing in (far, near))
    return (one - other + np.pi) % (2 * np.pi) - np.pi


def told(rng, tripod, thing_sd_m, count=3):
    pairs = []
    for far, near in PAIRS[:count]:
        true = [np.array(THINGS[name]) for name in (far, near)]
        on_map = [place + rng.normal(0.0, thing_sd_m, 2) for place in true]
        pairs.append(
            GapPair(
                tuple(on_map[0]), tuple(on_map[1]), thing_sd_m, thing_sd_m,
                gap(*true, tripod) + rng.normal(0.0, READ),
                gap(*true, np.zeros(2)) + rng.normal(0.0, PLATE), READ, PLATE,
            )
        )  # fmt: skip
    about = tripod + rng.normal(0.0, 8.0, 2)
    return step_by_gaps(pairs, (float(about[0]), float(about[1])))


def test_the_step_is_known_better_than_the_map_and_its_doubt_holds():
    """Things are 3 m off on the map; the step is told to half of that."""
    rng = np.random.default_rng(61)
    off, held = [], 0
    for _ in range(120):
        tripod = rng.normal(0.0, 6.0, 2)
        step = told(rng, tripod, 3.0)
        left = np.array([step.east_m, step.north_m]) + tripod
        off.append(np.hypot(*left))
        # A chi-squared of two unknowns holds 9 in 10 within 4.605.
        held += left @ np.linalg.solve(step.covariance_m2, left) < 4.605
    assert np.median(off) < 1.7
    assert LEAST_HELD <= held <= MOST_HELD


def test_one_pair_tells_no_step():
    assert told(np.random.default_rng(1), np.array([2.0, 1.0]), 0.3, count=1) is None
    assert step_by_gaps([], (0.0, 0.0)) is None


def test_receivers_that_err_alike_are_no_surer_than_the_best():
    place = combined_place([(0.0, 0.0, 5.0), (4.0, 0.0, 5.0), (2.0, 0.0, 50.0)])
    assert place.east_m == pytest.approx(2.0)
    assert place.sd_m == pytest.approx(5.0)


def test_light_like_the_plates_comes_on_its_own_day():
    """On 3 June, at the same mean time, the sun stands where it stood in 1874."""
    from datetime import date

    from wherestood.visit.like_light import light_sentences, like_light, sun_said

    bearing, elevation = sun_said("1874-06-03T09:40", 8.5, 46.1)
    runs = like_light(bearing, elevation, 8.5, 46.1, date(2027, 5, 1))
    assert runs[0].first <= date(2027, 6, 3) <= runs[0].last
    assert runs[0].off_deg < 0.2
    assert abs(runs[0].best.hour * 60 + runs[0].best.minute - (9 * 60 + 6)) < 15
    never = light_sentences(10.0, 60.0, 8.5, 46.1, date(2027, 5, 1))
    assert "never comes" in never[0]


@pytest.mark.parametrize(
    ("hills_deg", "said"),
    [(10.0, "is clear of it"), (70.0, "in its shadow"), (53.0, "just touches")],
)
def test_hills_between_sun_and_spot_are_told(hills_deg: float, said: str) -> None:
    """The sun of the third of June, 1874, stood some 53 degrees high."""
    from datetime import date

    from wherestood.visit.like_light import light_sentences, sun_said

    sun = sun_said("1874-06-03T09:40", 8.5, 46.1)
    told = light_sentences(*sun, 8.5, 46.1, date(2027, 5, 1), hills_deg)
    assert f"{hills_deg:.0f}° high" in told[1]
    assert said in told[1]
