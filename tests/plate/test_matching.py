"""Check the finding of what two plates have in common, on invented pictures."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from wherestood.plate.matching import match_pictures

WIDTH_PX, HEIGHT_PX = 640, 480
C_PX = 700.0
#: A place found again, of corners some pixels wide [px].
PLACE_PX = 2.0


def ground(seed: int) -> NDArray[np.float32]:
    """Return a wide invented hillside with patches of all sizes."""
    rng = np.random.default_rng(seed)
    picture = np.zeros((700, 1800), dtype=np.float32)
    for reach in (3, 7, 15, 40):
        noise = rng.normal(size=picture.shape).astype(np.float32)
        soft = cv2.GaussianBlur(noise, (0, 0), reach)
        picture += soft / soft.std()
    return np.clip(0.5 + 0.12 * picture, 0.0, 1.0).astype(np.float32)


def turn(bearing_rad: float) -> NDArray[np.float64]:
    """Return where a camera turned so shows the first one's pixels: K R K^-1."""
    camera = np.array(
        [[C_PX, 0.0, WIDTH_PX / 2], [0.0, C_PX, HEIGHT_PX / 2], [0.0, 0.0, 1.0]]
    )
    c, s = np.cos(bearing_rad), np.sin(bearing_rad)
    rotation = np.array([[c, 0.0, -s], [0.0, 1.0, 0.0], [s, 0.0, c]])
    return camera @ rotation @ np.linalg.inv(camera)


def seen(wide: NDArray[np.float32], bearing_rad: float) -> NDArray[np.float32]:
    """Return the picture that a camera takes of the hillside, turned to the right."""
    to_first = np.array([[1.0, 0.0, -400.0], [0.0, 1.0, -110.0], [0.0, 0.0, 1.0]])
    return cv2.warpPerspective(
        wide, turn(bearing_rad) @ to_first, (WIDTH_PX, HEIGHT_PX)
    )


def test_things_on_two_turned_pictures_are_paired_where_they_are() -> None:
    wide = ground(1)
    match = match_pictures(seen(wide, 0.0), seen(wide, 0.5))
    assert match is not None
    expected = cv2.perspectiveTransform(match.first_px[:, None], turn(0.5))[:, 0]
    apart = np.hypot(*(expected - match.second_px).T)
    assert len(apart) >= 8
    assert np.median(apart) < PLACE_PX
    assert (apart < 3.0 * PLACE_PX).all()


def test_pictures_of_different_ground_have_nothing_in_common() -> None:
    assert match_pictures(seen(ground(1), 0.0), seen(ground(2), 0.0)) is None


def test_blemishes_of_the_scanner_tie_nothing() -> None:
    dust = np.random.default_rng(9).uniform(size=(HEIGHT_PX, WIDTH_PX)) < 2e-3
    spots = cv2.GaussianBlur(dust.astype(np.float32), (0, 0), 2.0)
    pictures = [
        np.clip(seen(ground(seed), 0.0) - 6.0 * spots, 0.0, 1.0) for seed in (3, 4)
    ]
    assert match_pictures(*pictures) is None


@pytest.mark.parametrize("tone", [0.0, 0.5])
def test_an_empty_picture_ties_nothing(tone: float) -> None:
    empty = np.full((HEIGHT_PX, WIDTH_PX), tone, dtype=np.float32)
    assert match_pictures(empty, seen(ground(1), 0.0)) is None
