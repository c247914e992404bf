"""Check that advice foretells what knowing more really does to the ground."""

from __future__ import annotations

from dataclasses import dataclass, replace
from types import ModuleType

import numpy as np
import pytest
import shapely

from wherestood.evidence.items import Evidence, Feature, Mark
from wherestood.fix.advice import advise
from wherestood.fix.answers import answer_for
from wherestood.fix.checked import Advice
from wherestood.fix.kept_ground import keep_ground
from wherestood.fix.posterior import find_places, posterior_of
from wherestood.fix.problem import set_up
from wherestood.fix.search import search
from wherestood.fix.settings import LocateSettings
from wherestood.progress import SILENT

SETTINGS = LocateSettings(surface="ground", reversed=False)
#: Areas foretold are averages over what may be read; one reading's own differs by
#: this factor at most.
FACTOR = 2.0
DOUBTFUL_M = 30.0


@dataclass(frozen=True)
class Told:
    """Hold what evidence leaves of the ground, and what is advised."""

    held_m2: float
    advice: tuple[Advice, ...]

    def about(self, what: str, *subjects: str) -> Advice:
        (found,) = (
            one for one in self.advice if one.what == what and one.subjects == subjects
        )
        return found


@pytest.fixture(scope="module")
def asked(plate, land, area_of, marked: ModuleType):
    east, north = marked.STATION_M
    area = area_of(
        land, shapely.box(east - 100.0, north - 80.0, east + 80.0, north + 100.0)
    )

    def made(evidence: Evidence, *, advised: bool = True) -> Told:
        problem = set_up(plate, land, None, area, SETTINGS, evidence)
        posterior = posterior_of(search(problem, SILENT))
        place = find_places(posterior, SETTINGS.near_enough_m, 1)[0]
        chosen = answer_for(problem, posterior, place)
        whole = keep_ground(problem, posterior).weigh(problem, SILENT)
        rng = np.random.default_rng(1)
        advice = advise(problem, evidence, chosen, whole, rng) if advised else ()
        return Told(whole.held_m2(), advice)

    return made


@pytest.fixture(scope="module")
def four(land, marked) -> Evidence:
    """Return four marks, the nearest of a thing whose place is doubtful."""
    evidence = marked.evidence_of(land)
    first, *others = evidence.features
    east, north = marked.STATION_M
    turn = np.radians(marked.BEARING_DEG)
    lon, lat = land.frame.to_lonlat(
        np.array([east - 800.0 * np.sin(turn)]),
        np.array([north - 800.0 * np.cos(turn)]),
    )
    shed = Feature((float(lon[0]), float(lat[0])), id="shed behind", sd_m=2.0)
    return replace(
        evidence,
        features=(replace(first, sd_m=DOUBTFUL_M), *others, shed),
        marks=(*evidence.marks[:4], Mark(500.0, 700.0, id="C")),
    )


@pytest.fixture(scope="module")
def told(asked, four) -> Told:
    return asked(four)


def test_ten_things_at_most_the_best_first(told: Told) -> None:
    after = [one.area_after_m2 for one in told.advice]
    assert 3 < len(after) <= 10
    assert after == sorted(after)
    assert after[-1] < told.held_m2 == told.advice[0].area_before_m2


def test_marking_a_feature_does_what_was_foretold(
    told: Told, asked, four, marked, land
) -> None:
    foretold = told.about("mark", "thing 5")
    more = replace(four, marks=(*four.marks, marked.evidence_of(land).marks[5]))
    found = asked(more, advised=False).held_m2
    assert foretold.area_after_m2 / FACTOR < found < FACTOR * foretold.area_after_m2
    assert found < 0.5 * told.held_m2
    assert foretold.distance_m == pytest.approx(np.hypot(2300.0, 700.0), rel=0.05)


def test_finding_where_a_thing_stood_does_what_was_foretold(
    told: Told, asked, four
) -> None:
    foretold = told.about("place", "mark 0", "thing 0")
    assert foretold.to == 5.0
    first, *others = four.features
    surveyed = replace(four, features=(replace(first, sd_m=5.0), *others))
    found = asked(surveyed, advised=False).held_m2
    assert foretold.area_after_m2 / FACTOR < found < FACTOR * foretold.area_after_m2


def test_a_detail_of_unknown_place_is_worth_finding(told: Told) -> None:
    assert told.about("detail", "C").area_after_m2 < 0.7 * told.held_m2


def test_what_the_picture_does_not_take_in_is_not_to_be_marked(told: Told) -> None:
    assert not any(one.subjects == ("shed behind",) for one in told.advice)
