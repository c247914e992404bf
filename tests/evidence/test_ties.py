"""Check what things seen on two plates say of the turn between them."""

from __future__ import annotations

import numpy as np
import pytest

from wherestood.camera import Camera, project, rays
from wherestood.evidence.items.tie import TieMark
from wherestood.evidence.joint_look import joint_index
from wherestood.evidence.ties import TieTable, add_ties, tie_state, turns_by_ties
from wherestood.evidence.unknowns import CAMERA, COUNT

WIDTH_PX, HEIGHT_PX = 2000, 1500
DIAGONAL_PX = float(np.hypot(WIDTH_PX, HEIGHT_PX))
C_PX = 2300.0
#: Two places computed by another module agree to this [rad].
A_MILLIONTH = 1e-6
LEFT = Camera(1.0, 0.02, -0.01, C_PX, 60.0, -15.0, 0.005, WIDTH_PX, HEIGHT_PX)
RIGHT = Camera(1.5, -0.01, 0.02, C_PX, 20.0, 10.0, 0.005, WIDTH_PX, HEIGHT_PX)


def unknowns(camera: Camera) -> np.ndarray:
    theta = np.zeros(COUNT)
    theta[:7] = [
        camera.bearing_rad,
        np.log(camera.principal_distance_px / DIAGONAL_PX),
        camera.tilt_rad,
        camera.roll_rad,
        camera.rise_px / DIAGONAL_PX,
        camera.cross_px / DIAGONAL_PX,
        camera.k1,
    ]
    return theta


THETA = np.stack([unknowns(LEFT), unknowns(RIGHT)])


def ties(off_px: float = 0.0, distance_m: float = 1e6, **more) -> TieTable:
    """Return ties of far things that both cameras show, one of them off sideways."""
    x, y = np.meshgrid([1500.0, 1700.0, 1900.0], [300.0, 700.0])
    at = np.column_stack((x.ravel(), y.ravel()))
    there = np.column_stack(project(RIGHT, rays(LEFT, *at.T)))
    there[0, 0] += off_px
    marks = [
        TieMark(
            plates=("a", "b"),
            first_px=tuple(one),
            second_px=tuple(other),
            distance_m=distance_m,
            **more,
        )
        for one, other in zip(at.tolist(), there.tolist(), strict=True)
    ]
    size = (WIDTH_PX, HEIGHT_PX)
    return TieTable.of(marks, [(0, 1)] * len(marks), [size, size])


def added(table: TieTable, theta: np.ndarray):
    """Return squares, log determinant, normal equations and right side."""
    size = 2 * COUNT
    normal, right = np.zeros((size, size)), np.zeros(size)
    held = np.zeros((2, COUNT), dtype=bool)
    square, log_det = add_ties(theta, *table.handed(), 0.0, held, normal, right)
    return square, log_det, normal, right


def test_one_far_thing_is_seen_in_one_direction_by_both_cameras() -> None:
    odds, off = tie_state(ties(), THETA)
    assert np.abs(off).max() < A_MILLIONTH
    assert (odds < 0.0).all()


def test_a_tie_of_two_things_is_a_blunder() -> None:
    odds, _ = tie_state(ties(off_px=80.0), THETA)
    assert (odds > 0.0).tolist() == [True, False, False, False, False, False]


def test_a_blunder_pulls_nothing() -> None:
    _, _, _, right = added(ties(off_px=80.0), THETA)
    # What is left are the exact ties, whose residuals are rounding.
    assert np.abs(right).max() < 1.0


@pytest.mark.parametrize("unknown", range(CAMERA))
@pytest.mark.parametrize("plate", [0, 1])
def test_right_side_is_the_slope_of_half_the_squares(plate: int, unknown: int) -> None:
    # Covariances change with the camera too, but hardly: ties of exact places.
    table, step = ties(sd_px=20.0), 1e-5
    theta = THETA.copy()
    theta[1, 0] += 2e-3
    _, _, _, right = added(table, theta)
    ends = []
    for sign in (1.0, -1.0):
        moved = theta.copy()
        moved[plate, unknown] += sign * step
        ends.append(added(table, moved)[0])
    slope = (ends[0] - ends[1]) / (4.0 * step)
    found = right[joint_index(2, plate, unknown)]
    assert found == pytest.approx(slope, rel=0.05, abs=0.02 * np.abs(right).max())


def test_near_things_say_less_of_the_turn_than_far_ones() -> None:
    near, far = (added(ties(distance_m=d), THETA)[2] for d in (20.0, 20_000.0))
    bearing = joint_index(2, 1, 0)
    assert near[bearing, bearing] < 0.2 * far[bearing, bearing]


def test_turn_by_ties_is_that_between_level_axes() -> None:
    level = [
        Camera(b, 0.0, 0.0, C_PX, 0.0, 0.0, 0.0, WIDTH_PX, HEIGHT_PX)
        for b in (0.2, 0.7)
    ]
    at = np.array([[1600.0, 700.0], [1800.0, 760.0]])
    there = np.column_stack(project(level[1], rays(level[0], *at.T)))
    marks = [
        TieMark(plates=("a", "b"), first_px=tuple(p), second_px=tuple(q))
        for p, q in zip(at.tolist(), there.tolist(), strict=True)
    ]
    size = (WIDTH_PX, HEIGHT_PX)
    # Given the other way round the turn is still from the lower number to the higher.
    flipped = [
        TieMark(plates=("b", "a"), first_px=m.second_px, second_px=m.first_px)
        for m in marks
    ]
    ln_c = np.log(np.array([C_PX / DIAGONAL_PX]))
    for some, pair in ((marks, (0, 1)), (flipped, (1, 0))):
        table = TieTable.of(some, [pair] * 2, [size, size])
        turn = turns_by_ties(table, ln_c)[0, 1][0]
        assert turn == pytest.approx(0.5, abs=0.01)


def test_mirrored_plates_turn_the_other_way() -> None:
    ln_c = np.log(np.array([C_PX / DIAGONAL_PX]))
    table = ties()
    turn = turns_by_ties(table, ln_c)[0, 1][0]
    assert turns_by_ties(table.mirrored(), ln_c)[0, 1][0] == pytest.approx(-turn)
