from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wherestood.errors import PlateError
from wherestood.plate.copies.register import HandPoints, Picture, register
from wherestood.plate.copies.registration import Registration

ONE_PIXEL = 1.0
Invent = Callable[..., Any]
CASES: dict[str, dict[str, Any]] = {
    "stretched by 1% one way": {"stretch": 1.01},
    "tilted by 15 degrees": {"tilt_deg": 15.0, "turn_deg": 4.0},
    "reversed": {"mirrored": True},
    "trimmed, and larger": {"keep": (0.2, 0.15, 0.9, 0.8), "size": 1.3},
    "toned and damaged": {"toned": True, "damaged": True},
    "a negative": {"negative": True},
    "a newspaper cut": {"screen_px": 5.0, "size": 1.2},
    "by a telephone": {"k1": 0.06, "tilt_deg": 10.0},
    "a piece": {"keep": (0.0, 0.0, 0.4, 1.0)},
    "on its side": {"turn_deg": 90.0},
    "all at once": {
        "stretch": 1.01,
        "tilt_deg": 15.0,
        "mirrored": True,
        "keep": (0.1, 0.1, 0.95, 0.9),
        "toned": True,
        "damaged": True,
        "turn_deg": 7.0,
    },
}


def picture(grey: np.ndarray) -> Picture:
    return Picture(grey, grey.shape[1], grey.shape[0])


def errors_px(pair: Any, found: Registration) -> np.ndarray:
    """Return how far points of the copy are carried from where they belong."""
    height, width = pair.copy.shape
    points = np.random.default_rng(0).uniform(0, (width, height), (300, 2))
    truth = pair.true_target(points)
    size = pair.reference.shape[::-1]
    inside = (truth > 0.0).all(axis=1) & (truth < size).all(axis=1)
    carried, _ = found.carry(points)
    return np.hypot(*(carried - truth)[inside].T)


@pytest.mark.parametrize("name", CASES)
def test_a_copy_is_registered_within_a_pixel(invented_pair: Invent, name: str) -> None:
    pair = invented_pair(3, width_px=400, height_px=300, **CASES[name])
    found = register(picture(pair.copy), picture(pair.reference))
    assert found is not None
    assert found.warp.mirrored == CASES[name].get("mirrored", False)
    assert found.tone_inverted == CASES[name].get("negative", False)
    miss = errors_px(pair, found)
    assert np.median(miss) < ONE_PIXEL
    assert np.percentile(miss, 95) < 2.0 * ONE_PIXEL


def test_copies_of_different_plates_are_not_registered(invented_pair: Invent) -> None:
    one, other = (invented_pair(seed, width_px=400, height_px=300) for seed in (3, 4))
    assert register(picture(one.copy), picture(other.reference)) is None


def test_a_blank_copy_is_not_registered(invented_pair: Invent) -> None:
    pair = invented_pair(3, width_px=320, height_px=240)
    blank = np.full((240, 320), 0.5, np.float32)
    assert register(picture(blank), picture(pair.reference)) is None


def test_hand_points_register_what_features_cannot(invented_pair: Invent) -> None:
    pair = invented_pair(5, width_px=400, height_px=300, tilt_deg=10.0)
    rng = np.random.default_rng(1)
    blank = np.full(pair.copy.shape, 0.5, np.float32)
    marked = rng.uniform((10, 10), (390, 290), (8, 2))
    target = pair.true_target(marked) + rng.standard_normal((8, 2))
    found = register(
        picture(blank), picture(pair.reference), HandPoints(marked, target, 1.0)
    )
    assert found is not None
    assert found.hand_points == 8
    assert found.features == 0
    # Eight points of 1 px hold eight terms with as many equations over.
    assert np.median(errors_px(pair, found)) < 2.0 * ONE_PIXEL


def test_carrying_there_and_back_returns_the_mark_with_doubled_doubt(
    invented_pair: Invent,
) -> None:
    pair = invented_pair(3, width_px=400, height_px=300, tilt_deg=15.0)
    found = register(picture(pair.copy), picture(pair.reference))
    assert found is not None
    marks = np.array([[100.0, 90.0], [300.0, 200.0]])
    own = np.tile(np.eye(2), (2, 1, 1))
    there, covariance = found.carry(marks, own)
    back, doubled = found.carry_back(there, covariance)
    np.testing.assert_allclose(back, marks, atol=1e-6)
    assert (np.linalg.eigvalsh(doubled - own) > 0.0).all()


def test_doubt_grows_outside_what_the_pairs_hold(invented_pair: Invent) -> None:
    rng = np.random.default_rng(2)
    middle = rng.uniform((170, 120), (230, 180), (12, 2))
    pair = invented_pair(6, width_px=400, height_px=300, tilt_deg=8.0)
    target = pair.true_target(middle) + 0.5 * rng.standard_normal((12, 2))
    blank = np.full(pair.copy.shape, 0.5, np.float32)
    found = register(
        picture(blank), picture(pair.reference), HandPoints(middle, target, 0.5)
    )
    assert found is not None
    _, covariance = found.carry(np.array([[200.0, 150.0], [20.0, 20.0]]))
    inside, outside = np.sqrt(covariance.trace(axis1=1, axis2=2))
    assert outside > 3.0 * inside


@pytest.mark.parametrize(
    ("source", "target", "sd_px"),
    [
        (np.ones((3, 2)), np.ones((2, 2)), 1.0),
        (np.full((3, 2), np.nan), np.ones((3, 2)), 1.0),
        (np.ones((3, 2)), np.ones((3, 2)), 0.0),
        (np.ones(3), np.ones(3), 1.0),
    ],
)
def test_bad_hand_points_are_refused(
    invented_pair: Invent, source: np.ndarray, target: np.ndarray, sd_px: float
) -> None:
    pair = invented_pair(3, width_px=64, height_px=48)
    with pytest.raises(PlateError, match="by hand"):
        register(
            picture(pair.copy),
            picture(pair.reference),
            HandPoints(source, target, sd_px),
        )
