"""Check the search for a ridge fainter than the line below it."""

import numpy as np
from scipy import ndimage

from wherestood.plate.faint_ridges import ridge_above

HEIGHT, WIDTH = 450, 600
GRAIN = 0.012
A_FAINT_STEP = 0.05
THREE_PX = 3.0  # it is settled afterwards


def sky(seed: int, clouds: float = 0.0) -> np.ndarray:
    rng = np.random.default_rng(seed)
    picture = 0.8 + GRAIN * rng.normal(size=(HEIGHT, WIDTH))
    if clouds:
        puffs = ndimage.gaussian_filter(rng.normal(size=(HEIGHT, WIDTH)), 15.0)
        picture += clouds * puffs / puffs.std()
    return ndimage.gaussian_filter(picture, 0.7).astype(np.float32)


def under(picture: np.ndarray, line: np.ndarray, step: float) -> np.ndarray:
    return picture - step * (np.arange(HEIGHT)[:, None] > line[None, :])


RIDGE = 170.0 + 25.0 * np.sin(np.arange(WIDTH) / 60.0)
NEARER = np.full(WIDTH, 280.0)


def test_a_faint_ridge_above_the_line_is_found_where_it_is():
    picture = under(under(sky(1), RIDGE, A_FAINT_STEP), NEARER, 0.4)
    found = ridge_above(picture.astype(np.float32), NEARER)
    inner = slice(30, -30)
    assert found.sure[inner].mean() > 0.9
    assert np.abs(found.y_px - RIDGE)[found.sure].max() < THREE_PX
    assert found.doubtful.all()


def test_doubt_ends_where_the_ridge_goes_behind_the_line():
    ridge = RIDGE + np.where(np.arange(WIDTH) < WIDTH / 2, 0.0, HEIGHT)
    picture = under(under(sky(2), ridge, A_FAINT_STEP), NEARER, 0.4)
    found = ridge_above(picture.astype(np.float32), NEARER)
    assert found.doubtful[: WIDTH // 2 - 30].all()
    assert not found.doubtful[WIDTH // 2 + 60 :].any()


def test_blank_and_clouded_skies_cast_no_doubt():
    for seed in range(3, 8):
        for clouds in (0.0, 0.05):
            picture = under(sky(seed, clouds), NEARER, 0.4)
            found = ridge_above(picture.astype(np.float32), NEARER)
            assert not found.doubtful.any()
