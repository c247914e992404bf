"""Check the map between pixels and plate millimetres."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wherestood.errors import PlateError
from wherestood.plate.frame import frame_from_corners, frame_from_scale

A_NANOMETRE_MM = 1e-6


def test_centre_is_the_origin_and_y_points_up():
    frame = frame_from_scale(2000, 1000, (10.0, 10.0))
    assert frame.to_mm([1000.0, 500.0]) == pytest.approx([0.0, 0.0])
    assert frame.to_mm([2000.0, 0.0]) == pytest.approx([100.0, 50.0])


@given(st.lists(st.floats(-40, 40), min_size=8, max_size=8))
def test_marked_corners_map_to_the_plate_corners_and_back(shifts):
    square = np.array([[100, 100], [900, 100], [900, 700], [100, 700]], float)
    corners = square + np.array(shifts).reshape(4, 2)
    frame = frame_from_corners(corners, 200.0, 150.0)
    plate = np.array([[-100, 75], [100, 75], [100, -75], [-100, -75]], float)
    assert np.abs(frame.to_mm(corners) - plate).max() < A_NANOMETRE_MM
    assert np.abs(frame.to_px(plate) - corners).max() < A_NANOMETRE_MM


def test_straight_lines_stay_straight_under_four_corners():
    corners = ((90, 120), (930, 80), (880, 720), (110, 690))
    frame = frame_from_corners(corners, 200.0, 150.0)
    along = np.linspace([200, 200], [800, 600], 5)
    mm = frame.to_mm(along)
    way, off = mm[-1] - mm[0], mm - mm[0]
    assert np.abs(off[:, 0] * way[1] - off[:, 1] * way[0]).max() < A_NANOMETRE_MM


def test_corners_out_of_order_are_refused():
    with pytest.raises(PlateError, match="do not go round"):
        frame_from_corners(((0, 0), (100, 80), (100, 0), (0, 80)), 200.0, 150.0)
