"""Check resection on invented marks: constraint, truth, doubt and failures."""

from dataclasses import replace

import numpy as np
import pytest

from wherestood.camera import Camera, project_points, rays
from wherestood.camera.resection import Resection, resect
from wherestood.errors import InputError

ORIENTATION = ("bearing_rad", "tilt_rad", "roll_rad")
ONE_MILLIMETRE = 1e-3
ONE_MICROPIXEL = 1e-6
STATION_M = np.array([2000.0, 5000.0, 300.0])
TRUTH = Camera(1.1, 0.02, -0.01, 2600.0, 90.0, -20.0, 0.01, 2400, 1800)


def scene(seed: int, count: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return invented points at 0.2 to 6 km and their marks without error."""
    rng = np.random.default_rng(seed)
    x_px, y_px = rng.uniform(0, 2400, count), rng.uniform(400, 1500, count)
    distance_m = np.exp(rng.uniform(np.log(200.0), np.log(6000.0), (count, 1)))
    points_m = STATION_M + distance_m * rays(TRUTH, x_px, y_px)
    return points_m, *project_points(TRUTH, STATION_M, points_m)


def solve(
    points_m: np.ndarray, x_px: np.ndarray, y_px: np.ndarray, **options: object
) -> Resection:
    start = replace(TRUTH, bearing_rad=1.2, tilt_rad=0.0, roll_rad=0.0)
    begin_m = STATION_M + np.array([40.0, -30.0, 10.0])
    return resect(start, begin_m, points_m, x_px, y_px, **options)


def test_marks_without_error_give_back_the_truth_in_every_scene() -> None:
    for seed in range(30):
        found = solve(*scene(seed, 6))
        assert found.converged
        assert np.abs(found.residual_px).max() < ONE_MICROPIXEL
        np.testing.assert_allclose(found.station_m, STATION_M, atol=ONE_MILLIMETRE)
        for name in ORIENTATION:
            assert getattr(found.camera, name) == pytest.approx(
                getattr(TRUTH, name), abs=1e-7
            )


def test_whole_camera_is_found_from_many_marks() -> None:
    points_m, x_px, y_px = scene(1, 40)
    start = replace(TRUTH, principal_distance_px=2500.0, rise_px=0.0, k1=0.0)
    found = resect(
        start,
        STATION_M + np.array([20.0, 10.0, 5.0]),
        points_m,
        x_px,
        y_px,
        free=(*ORIENTATION, "principal_distance_px", "rise_px", "cross_px", "k1"),
    )
    np.testing.assert_allclose(found.station_m, STATION_M, atol=ONE_MILLIMETRE)
    assert found.camera.principal_distance_px == pytest.approx(2600.0, abs=1e-3)
    assert found.camera.k1 == pytest.approx(0.01, abs=1e-6)


def test_stated_doubt_is_the_spread_of_repeated_readings() -> None:
    points_m, x_px, y_px = scene(3, 10)
    rng = np.random.default_rng(5)
    pulls, misfits = [], []
    for _ in range(300):
        noise = rng.normal(0.0, 2.0, (2, 10))
        found = solve(points_m, x_px + noise[0], y_px + noise[1], sd_px=2.0)
        off = found.station_m - STATION_M
        pulls.append(off @ np.linalg.solve(found.covariance[:3, :3], off))
        misfits.append(found.unit_weight_sd**2)
    # Chi-squared of three: mean 3, sd 2.45; four standard errors of the mean of 300.
    assert np.mean(pulls) == pytest.approx(3.0, abs=4.0 * 2.45 / 300**0.5)
    # 14 degrees of freedom: sd of the mean square is sqrt(2 / 14).
    assert np.mean(misfits) == pytest.approx(1.0, abs=4.0 * (2 / 14 / 300) ** 0.5)


def test_a_blunder_moves_a_heavy_tailed_solution_less() -> None:
    points_m, x_px, y_px = scene(8, 12)
    x_px = x_px + np.where(np.arange(12) == 4, 150.0, 0.0)
    plain = solve(points_m, x_px, y_px)
    robust = solve(points_m, x_px, y_px, loss="cauchy")
    off_plain, off_robust = (
        np.linalg.norm(found.station_m - STATION_M) for found in (plain, robust)
    )
    assert off_robust < 0.1 * off_plain


def test_points_in_one_place_leave_the_doubt_infinite() -> None:
    points_m, x_px, y_px = scene(2, 1)
    same = [np.repeat(values, 4, axis=0) for values in (points_m, x_px, y_px)]
    found = solve(*same)
    assert np.all(np.isinf(np.diag(found.covariance)))


def test_three_points_without_spare_give_no_misfit() -> None:
    found = solve(*scene(4, 3))
    assert np.isnan(found.unit_weight_sd)
    assert np.abs(found.residual_px).max() < ONE_MICROPIXEL


def refused(**changes: object) -> None:
    points_m, x_px, y_px = scene(4, 5)
    given: dict[str, object] = {"points_m": points_m, "x_px": x_px, "y_px": y_px}
    resect(TRUTH, changes.pop("station_m", STATION_M), **{**given, **changes})


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"free": ("focus",)}, "no parameter 'focus'"),
        ({"points_m": np.zeros((4, 3))}, "do not match"),
        ({"y_px": np.full(5, np.nan)}, "no finite number"),
        ({"sd_px": 0.0}, "above 0 px"),
        ({"station_m": (11e3, 10e3, 300.0)}, "does not see point 1 of 5"),
    ],
)
def test_what_cannot_be_solved_is_refused(change: dict[str, object], said: str) -> None:
    with pytest.raises(InputError, match=said):
        refused(**change)


def test_fewer_marks_than_unknowns_are_refused() -> None:
    with pytest.raises(InputError, match="2 marks give 4 numbers, but 6 are unknown"):
        solve(*scene(4, 2))
