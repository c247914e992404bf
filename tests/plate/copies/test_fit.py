from __future__ import annotations

import numpy as np
import pytest

from wherestood.plate.copies.fit import fit_warp
from wherestood.plate.copies.warp import Kind, Warp, frame_of

FRAMES = frame_of(800, 600), frame_of(1000, 750)
TRUTHS: dict[Kind, list[float]] = {
    "similarity": [0.8, 0.1, 0.05, -0.02],
    "affine": [0.8, -0.1, 0.05, 0.12, 0.85, -0.02],
    "projective": [0.8, -0.1, 0.05, 0.12, 0.85, -0.02, 0.08, -0.05],
    "projective and radial": [0.8, -0.1, 0.05, 0.12, 0.85, -0.02, 0.08, -0.05, 0.05],
}


def _pairs(
    kind: Kind, rng: np.random.Generator, count: int, sd_px: float, wrong: int = 0
) -> tuple[np.ndarray, np.ndarray, Warp]:
    truth = Warp(kind, np.array(TRUTHS[kind]), False, *FRAMES)
    source = rng.uniform((0, 0), (800, 600), (count, 2))
    target = truth.forward(source) + sd_px * rng.standard_normal((count, 2))
    target[:wrong] = rng.uniform((0, 0), (1000, 750), (wrong, 2))
    return source, target, truth


@pytest.mark.parametrize("kind", TRUTHS)
def test_the_kind_that_made_the_pairs_is_chosen(kind: Kind) -> None:
    rng = np.random.default_rng(5)
    source, target, _ = _pairs(kind, rng, 200, 0.5)
    fit = fit_warp(source, target, np.full(200, 0.5), FRAMES, mirrored=False)
    assert fit is not None
    assert fit.warp.kind == kind


def test_one_pair_in_three_wrong_does_not_move_the_map() -> None:
    rng = np.random.default_rng(6)
    source, target, truth = _pairs("projective", rng, 150, 0.5, wrong=50)
    fit = fit_warp(source, target, np.full(150, 0.5), FRAMES, mirrored=False)
    assert fit is not None
    miss = np.hypot(*(fit.warp.forward(source) - truth.forward(source)).T)
    assert np.median(miss) < 0.25  # half a pair's own error
    assert not fit.inside[:50].any() or fit.inside[:50].sum() <= 2


def test_stated_doubt_of_the_map_is_that_found_over_many_fits() -> None:
    # 60 fits of 40 pairs: a sum of squares over sd^2 that should average 1 a number.
    rng = np.random.default_rng(7)
    look = np.array([[100.0, 80.0], [400.0, 300.0], [780.0, 580.0]])
    squares = []
    for _ in range(60):
        source, target, truth = _pairs("projective", rng, 40, 0.8)
        fit = fit_warp(
            source, target, np.full(40, 0.8), FRAMES, mirrored=False, kind="projective"
        )
        assert fit is not None
        by_term = fit.warp.jacobian_of_terms(look)
        covariance = by_term @ fit.covariance @ by_term.swapaxes(-1, -2)
        miss = fit.warp.forward(look) - truth.forward(look)
        squares.append(
            np.einsum("ni,nij,nj->n", miss, np.linalg.inv(covariance), miss) / 2.0
        )
    # Cauchy's loss gives up some efficiency and the scatter is learned from 40 pairs.
    assert 0.7 < np.mean(squares) < 1.7


def test_pairs_along_a_break_hold_a_similarity_and_no_more() -> None:
    along = np.linspace(20.0, 580.0, 9)
    source = np.column_stack([np.full(9, 400.0), along])
    rng = np.random.default_rng(8)
    truth = Warp("similarity", np.array(TRUTHS["similarity"]), False, *FRAMES)
    target = truth.forward(source) + 0.3 * rng.standard_normal((9, 2))
    fit = fit_warp(source, target, np.full(9, 0.5), FRAMES, mirrored=False)
    assert fit is not None
    assert fit.warp.kind == "similarity"


def test_residuals_that_neighbours_share_are_told_from_those_they_do_not() -> None:
    rng = np.random.default_rng(9)
    source, target, _ = _pairs("projective", rng, 600, 0.5)
    curl = 1.5 * np.column_stack(
        [np.sin(source[:, 0] / 60.0), np.cos(source[:, 1] / 50.0)]
    )
    sd = np.full(600, 0.5)
    flat = fit_warp(source, target, sd, FRAMES, mirrored=False)
    curled = fit_warp(source, target + curl, sd, FRAMES, mirrored=False)
    assert flat is not None
    assert curled is not None
    assert flat.bend_sd_px < 0.2
    # A sine of 1.5 px has an rms of 1.06; a tenth goes into the map itself.
    assert 0.8 < curled.bend_sd_px < 1.15


@pytest.mark.parametrize("count", [0, 1])
def test_too_few_pairs_hold_no_map(count: int) -> None:
    points = np.ones((count, 2))
    assert fit_warp(points, points, np.ones(count), FRAMES, mirrored=False) is None


def test_pairs_on_one_spot_hold_no_map() -> None:
    points = np.full((10, 2), 50.0)
    assert fit_warp(points, points, np.ones(10), FRAMES, mirrored=False) is None
