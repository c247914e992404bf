"""Check by how much items are said to be off, against angles drawn by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from wherestood.camera.priors import camera_prior
from wherestood.earth.frame import Frame
from wherestood.evidence.camera_free import CameraFree
from wherestood.evidence.items import (
    Feature,
    InLine,
    KnownDistance,
    Order,
    Seen,
    Statement,
    gather,
)
from wherestood.evidence.lean import Lean
from wherestood.evidence.placed import place_evidence
from wherestood.evidence.stations import Stations
from wherestood.evidence.visibility import SightNoise
from wherestood.fix.apart import apart_deg, apart_m

FRAME = Frame.local(8.5, 46.1)
#: Places are kept in degrees; back in metres they are off by far less than this.
A_MILLIMETRE = 1e-3
A_THOUSANDTH_DEG = 1e-3
HERE = Stations(np.zeros(1), np.zeros(1), np.full(1, 2.0))


def at(east_m: float, north_m: float) -> tuple[float, float]:
    lon, lat = FRAME.to_lonlat(np.array([east_m]), np.array([north_m]))
    return float(lon[0]), float(lat[0])


NORTH = Feature(id="north", geometry=at(0.0, 1000.0), height_m=0.0)
EAST = Feature(id="east", geometry=at(1000.0, 1000.0), height_m=0.0)
LINE = InLine(id="line", a=NORTH, b=EAST)
SPACED = InLine(id="spaced", a=NORTH, b=EAST, left_deg=44.0)
ORDER = Order(id="order", a=NORTH, b=EAST)
WRONG = Order(id="wrong", a=NORTH, b=EAST, relation="right of")
ABOVE = Order(id="above", a=NORTH, b=EAST, relation="above")
FAR = KnownDistance(id="far", feature=NORTH, distance_m=1300.0, sd_m=50.0)
INSIDE = Statement(id="inside", feature=NORTH, place="within", within_m=1200.0)
OUTSIDE = Statement(id="outside", feature=NORTH, place="within", within_m=700.0)
SEEN = Seen(id="seen", feature=NORTH)


@pytest.fixture(scope="module")
def free() -> CameraFree:
    items = (LINE, SPACED, ORDER, WRONG, ABOVE, FAR, INSIDE, OUTSIDE, SEEN)
    there = shapely.Point(0.0, 1000.0)
    return CameraFree(
        items,
        {},
        place_evidence(gather(items), FRAME),
        {"inside": there.buffer(1200.0), "outside": there.buffer(700.0, quad_segs=64)},
        shapely.box(-1e3, -1e3, 1e3, 1e3),
        None,  # type: ignore[arg-type]  # no ground is asked for
        Lean.of(camera_prior(4000, 3000, trimmed=False)),
        SightNoise(),
    )


@pytest.mark.parametrize(
    ("item", "off_deg"),
    [(LINE, -45.0), (SPACED, -1.0), (ORDER, 45.0), (WRONG, -45.0)],
)
def test_angles_are_those_of_the_drawing(
    free: CameraFree, item: InLine | Order, off_deg: float
) -> None:
    found = apart_deg(item, free, HERE)
    assert found == pytest.approx(off_deg, abs=A_THOUSANDTH_DEG)


@pytest.mark.parametrize(
    ("item", "off_m"), [(FAR, 300.0), (INSIDE, 0.0), (OUTSIDE, 300.0)]
)
def test_distances_are_those_of_the_drawing(
    free: CameraFree, item: KnownDistance | Statement, off_m: float
) -> None:
    assert apart_m(item, free, HERE) == pytest.approx(off_m, abs=A_MILLIMETRE)


def test_what_has_no_such_measure_has_none(free: CameraFree) -> None:
    for item in (SEEN, ABOVE):
        assert apart_deg(item, free, HERE) is None
        assert apart_m(item, free, HERE) is None


def test_of_things_that_may_be_several_the_nearest_pair_counts(
    free: CameraFree,
) -> None:
    road = Feature(
        id="road",
        geometry=shapely.LineString([at(-1000.0, 2000.0), at(1000.0, 2000.0)]),
        height_m=0.0,
    )
    item = InLine(id="over the road", a=NORTH, b=road)
    placed = replace(free, placement=place_evidence(gather([item]), FRAME))
    found = apart_deg(item, placed, HERE)
    assert found is not None
    # Somewhere the road passes behind it; points of a line stand 50 m or so apart.
    assert abs(found) < np.degrees(np.arctan2(100.0, 2000.0))
