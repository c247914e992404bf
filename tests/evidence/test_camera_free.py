from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from wherestood.camera.priors import camera_prior
from wherestood.earth.frame import Frame
from wherestood.evidence.camera_free import CameraFree, camera_free
from wherestood.evidence.items import (
    Evidence,
    Feature,
    Hidden,
    InLine,
    KnownDistance,
    Order,
    Seen,
    Statement,
)
from wherestood.evidence.lean import Lean
from wherestood.evidence.stations import Stations
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.model import Terrain

FRAME = Frame.local(8.5, 46.1)
GROUND = shapely.box(-1000.0, -1000.0, 1000.0, 1000.0)
LEAN = Lean.of(camera_prior(4000, 3000, trimmed=False))
ROUNDING = 1e-9


def feature(name: str, east_m: float, north_m: float) -> Feature:
    lon, lat = FRAME.to_lonlat(np.array(east_m), np.array(north_m))
    return Feature((float(lon), float(lat)), id=name, sd_m=3.0, object_height_m=15.0)


EVIDENCE = Evidence(
    features=(
        feature("spire", 100.0, 700.0),
        feature("mill", 100.0, 1900.0),
        feature("barn", -500.0, 900.0),
    ),
    in_lines=(InLine("spire", "mill", id="line"),),
    orders=(Order("barn", "spire", id="order"),),
    seen=(Seen("spire", id="seen"),),
    hidden=(Hidden("barn", id="hidden"),),
    known_distances=(KnownDistance("spire", 650.0, 80.0, id="distance"),),
    statements=(
        Statement("spire", "within", id="caption", within_m=800.0),
        Statement("spire", "within", id="copy", derived_from=("caption",)),
    ),
)


def stations() -> Stations:
    steps = np.arange(-900.0, 901.0, 100.0)
    east, north = (part.ravel() for part in np.meshgrid(steps, steps))
    return Stations(east, north, np.full(east.size, 2.0), side_m=100.0)


@pytest.fixture(scope="module")
def ready() -> CameraFree:
    heights = np.zeros((201, 201), dtype=np.float32)
    model = HorizonModel.of(Terrain(heights, -2000.0, -2000.0, 20.0, FRAME))
    return camera_free(EVIDENCE, model, GROUND, LEAN)


def test_copied_caption_is_not_weighed_again(ready: CameraFree) -> None:
    assert "copy" not in [item.id for item in ready.items]
    assert "caption" in ready.repeated["copy"]


def test_one_in_line_adds_to_the_rest(ready: CameraFree) -> None:
    found = ready.weigh(stations())
    np.testing.assert_allclose(
        found.log_likelihood, found.each.sum(axis=1), atol=ROUNDING
    )
    assert found.ids == ("line", "order", "seen", "hidden", "distance", "caption")


def test_item_left_out_is_what_it_added(ready: CameraFree) -> None:
    whole = ready.weigh(stations())
    without = ready.weigh(stations(), leaving_out={"order"})
    column = whole.ids.index("order")
    np.testing.assert_allclose(
        whole.log_likelihood - without.log_likelihood,
        whole.each[:, column],
        atol=ROUNDING,
    )


def test_likeliest_station_agrees_with_all_that_was_made_there(
    ready: CameraFree,
) -> None:
    """All items hold at (100, 0): in line, barn to the left, 700 m from the spire."""
    places = stations()
    found = ready.weigh(places)
    best = int(np.argmax(found.log_likelihood))
    assert places.east_m[best] == 100.0
    assert abs(places.north_m[best]) <= 100.0
    blunders = dict(zip(found.ids, found.blunder_log_odds[best], strict=True))
    assert all(odds < 0.0 for odds in blunders.values())


def test_blunder_is_named_and_hardly_moves_the_fix(ready: CameraFree) -> None:
    wrong = KnownDistance("spire", 5000.0, 50.0, id="wrong")
    spoiled = replace(ready, items=(*ready.items, wrong))
    places = stations()
    before, after = ready.weigh(places), spoiled.weigh(places)
    best = int(np.argmax(after.log_likelihood))
    assert best == int(np.argmax(before.log_likelihood))
    assert after.blunder_log_odds[best, after.ids.index("wrong")] > math.log(1000.0)


def test_hidden_says_little_until_the_picture_is_known(ready: CameraFree) -> None:
    places = stations()
    column = ready.weigh(places).ids.index("hidden")
    unknown = ready.weigh(places).each[:, column]
    known = ready.weigh(places, in_picture={"hidden": np.ones(places.count)}).each[
        :, column
    ]
    assert np.ptp(unknown) < 0.2
    assert np.min(known) < np.min(unknown) - 0.5
