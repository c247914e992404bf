"""Check that everything read or mapped is taken twice as doubtful when asked."""

from __future__ import annotations

import numpy as np
import pytest

from wherestood.earth.frame import Frame
from wherestood.evidence.item_rows import EDGE
from wherestood.evidence.items import (
    Evidence,
    Feature,
    KnownSize,
    Mark,
    PlumbEdge,
    gather,
)
from wherestood.evidence.mark_table import MarkTable, mark_targets
from wherestood.evidence.placed import place_evidence
from wherestood.evidence.plate_items import ItemTable
from wherestood.evidence.plate_rows import OnPlate
from wherestood.evidence.shared_errors import shared_errors
from wherestood.evidence.stations import Stations

FRAME = Frame.local(8.5, 46.1)
WIDTH_PX, HEIGHT_PX = 4000, 3000
#: The lens's height is none of the features' doubt: it is taken as known.
STATIONS = Stations(
    np.array([0.0, 40.0]), np.zeros(2), np.array([90.0, 95.0]), lens_sd_m=0.0
)
#: Nearness softens variances by s^2 / d^2: of 10 m at 700 m.
SOFTENED = 1e-3
VARIANCES = [2, 3, 4, 9, 10, 11]


def feature(name: str, east_m: float, north_m: float) -> Feature:
    lon, lat = FRAME.to_lonlat(np.array(east_m), np.array(north_m))
    return Feature(
        (float(lon), float(lat)), id=name, sd_m=5.0, height_m=120.0, height_sd_m=2.0
    )


@pytest.fixture
def marked() -> Evidence:
    """Return three marks, two of one feature, an upright edge and a known size."""
    church = feature("church", 200.0, 900.0)
    return gather(
        [
            Mark(1000.0, 900.0, church, id="a"),
            Mark(1400.0, 900.0, church, id="b"),
            Mark(2100.0, 950.0, feature("mill", -100.0, 700.0), id="c"),
            PlumbEdge(((100.0, 500.0), (110.0, 900.0)), id="edge"),
            KnownSize(
                ((300.0, 500.0), (300.0, 700.0)), 12.0, 0.5, feature=church, id="size"
            ),
        ]
    )


@pytest.fixture
def seen(marked: Evidence) -> OnPlate:
    placement = place_evidence(marked, FRAME)
    each = [placement.candidates(mark.id, mark.at) for mark in marked.marks]
    shared = shared_errors(each, placement)
    items = [*marked.plumb_edges, *marked.known_sizes]
    return OnPlate(
        MarkTable.of(marked.marks, placement, WIDTH_PX, HEIGHT_PX, shared),
        ItemTable.of(items, (), placement, shared, WIDTH_PX, HEIGHT_PX, None),
        shared.count,
    )


def test_variances_of_features_grow_fourfold_and_places_stay(seen: OnPlate) -> None:
    usual = mark_targets(seen.marks, STATIONS)
    twice = mark_targets(seen.marks.doubled(), STATIONS)
    np.testing.assert_allclose(
        twice[..., VARIANCES], 4.0 * usual[..., VARIANCES], rtol=SOFTENED, atol=1e-12
    )
    np.testing.assert_array_equal(twice[..., :2], usual[..., :2])
    # What marks share of one feature grows with it, and is not left to each.
    assert (usual[:, 0, 0, 9] < 0.01 * usual[:, 0, 0, 2]).all()
    assert (twice[:, 0, 0, 9] < 0.01 * twice[:, 0, 0, 2]).all()


def test_readings_on_the_plate_have_twice_the_error(seen: OnPlate) -> None:
    twice = seen.doubled()
    np.testing.assert_allclose(twice.marks.plate[:, 2], 2.0 * seen.marks.plate[:, 2])
    others = [0, 1, 3, 4]
    np.testing.assert_array_equal(
        twice.items.points[:, others], seen.items.points[:, others]
    )
    np.testing.assert_allclose(twice.items.points[:, 2], 2.0 * seen.items.points[:, 2])


def test_an_edge_may_lean_twice_as_far_and_sizes_keep_their_numbers(
    seen: OnPlate,
) -> None:
    usual, twice = seen.items.rows, seen.doubled().items.rows
    edge = usual[:, 0] == EDGE
    np.testing.assert_allclose(twice[edge, 5], 2.0 * usual[edge, 5])
    np.testing.assert_array_equal(twice[~edge], usual[~edge])


def test_what_a_size_tells_of_its_distance_is_twice_as_doubtful(seen: OnPlate) -> None:
    usual = seen.items.aims(STATIONS)[..., 1]
    twice = seen.doubled().items.aims(STATIONS)[..., 1]
    np.testing.assert_allclose(twice, 4.0 * usual, rtol=SOFTENED)
