from __future__ import annotations

import numpy as np
import pytest

from wherestood.plate.copies.warp import Kind, Warp, derivatives, frame_of

# Far below what anybody can mark; double precision leaves some 1e-10.
ONE_MILLIONTH_PX = 1e-6
FRAMES = frame_of(640, 480), frame_of(900, 700)
TERMS: dict[Kind, list[float]] = {
    "similarity": [0.7, 0.2, 0.1, -0.05],
    "affine": [0.7, -0.1, 0.1, 0.15, 0.8, -0.05],
    "projective": [0.7, -0.1, 0.1, 0.15, 0.8, -0.05, 0.12, -0.08],
    "projective and radial": [0.7, -0.1, 0.1, 0.15, 0.8, -0.05, 0.12, -0.08, 0.06],
}


def _warp(kind: Kind, mirrored: bool = False) -> Warp:
    return Warp(kind, np.array(TERMS[kind]), mirrored, *FRAMES)


@pytest.mark.parametrize("kind", TERMS)
@pytest.mark.parametrize("mirrored", [False, True])
def test_backward_undoes_forward(kind: Kind, mirrored: bool) -> None:
    warp = _warp(kind, mirrored)
    points = np.random.default_rng(1).uniform(0, (640, 480), (50, 2))
    back = warp.backward(warp.forward(points))
    assert np.abs(back - points).max() < ONE_MILLIONTH_PX


@pytest.mark.parametrize("kind", TERMS)
@pytest.mark.parametrize("mirrored", [False, True])
def test_derivatives_are_those_of_finite_differences(
    kind: Kind, mirrored: bool
) -> None:
    n = np.random.default_rng(2).uniform(-0.8, 0.8, (6, 2))
    terms = np.array(TERMS[kind])
    by_point, by_term = derivatives(kind, terms, mirrored, n)
    step = 1e-6

    def target(terms: np.ndarray, n: np.ndarray) -> np.ndarray:
        warp = Warp(kind, terms, mirrored, *FRAMES)
        seen = warp.forward(FRAMES[0].outwards(n))
        return FRAMES[1].inwards(seen)

    for axis, move in enumerate(np.eye(2) * step):
        slope = (target(terms, n + move) - target(terms, n - move)) / (2 * step)
        np.testing.assert_allclose(by_point[:, :, axis], slope, atol=1e-8)
    for term, move in enumerate(np.eye(len(terms)) * step):
        slope = (target(terms + move, n) - target(terms - move, n)) / (2 * step)
        np.testing.assert_allclose(by_term[:, :, term], slope, atol=1e-8)


def test_a_mirrored_similarity_keeps_shapes_and_turns_them_over() -> None:
    warp = _warp("similarity", mirrored=True)
    turn = warp.jacobian(np.array([100.0, 80.0]))
    scale = np.sqrt(abs(np.linalg.det(turn)))
    np.testing.assert_allclose(turn.T @ turn, np.eye(2) * scale**2, atol=1e-12)
    assert np.linalg.det(turn) < 0.0


def test_points_beyond_the_map_s_own_horizon_are_nan() -> None:
    warp = _warp("projective")
    assert np.isnan(warp.forward(np.array([-1e5, 0.0]))).all()


def test_radial_term_is_that_of_the_conventions() -> None:
    # docs/conventions.md: what is seen at (x, y) stands at (x, y) (1 + k1 r^2), r in
    # half-diagonals; 0.05 at the corner of a 640 x 480 scan is 0.05 x 400 px.
    terms = np.array([1.0, 0, 0, 0, 1.0, 0, 0, 0, 0.05])
    warp = Warp("projective and radial", terms, False, FRAMES[0], FRAMES[0])
    corner = warp.forward(np.array([640.0, 480.0]))
    np.testing.assert_allclose(corner, [640.0 + 16.0, 480.0 + 12.0])
