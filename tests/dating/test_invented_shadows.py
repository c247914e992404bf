"""Check hours and days on invented plates with shadows at known instants.

Everything that the program takes to be doubtful is drawn from what it takes it to be:
marks, lean, slope of the ground, the camera. The sun of the truth comes straight from
the algorithm, the picture from the camera model's projection.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest

from wherestood.camera.model import Camera, project
from wherestood.dating.shadow import Shadow, sun_directions
from wherestood.dating.shadow_edge import Edge, edge_normal
from wherestood.dating.shadow_points import CameraDoubt, Ground
from wherestood.dating.sun import seconds_of_day, sun_at
from wherestood.dating.sun_fit import Seen, SunFit, fit_sun
from wherestood.dating.sun_path import Where

WIDTH_PX, HEIGHT_PX = 6000, 4500


@dataclass(frozen=True)
class Instant:
    """Hold where and when a shadow was seen."""

    where: Where
    year: int
    day: int
    local_mean_min: float


@dataclass(frozen=True)
class Invented(Instant):
    """Hold an invented plate with its truth."""

    camera: Camera  # as the fix would have it
    doubt: CameraDoubt
    shadow: Shadow


def sun_vector(where: Where, year: int, day: int, local_mean_min: float) -> np.ndarray:
    when = seconds_of_day(year, 1, 1) + 86_400.0 * (day - 1) + 60.0 * local_mean_min
    sun = sun_at(
        np.array([when - 240.0 * where.lon_deg]), where.lon_deg, where.lat_deg,
        where.height_m,
    )  # fmt: skip
    bearing, elevation = float(sun.bearing_rad[0]), float(sun.elevation_rad[0])
    return np.array(
        [
            math.cos(elevation) * math.sin(bearing),
            math.cos(elevation) * math.cos(bearing),
            math.sin(elevation),
        ]
    )


def invent_instant(
    random: np.random.Generator,
    lats_deg: tuple[float, float],
    hours_min: tuple[float, float],
) -> tuple[Instant, np.ndarray, Camera] | None:
    """Invent instant, sun and camera; None where the sun is low or very high."""
    where = Where(
        float(random.uniform(-180, 180)), float(random.uniform(*lats_deg)), 200
    )
    year, day = int(random.integers(1855, 1900)), int(random.integers(1, 366))
    minutes = float(random.uniform(*hours_min))
    sun = sun_vector(where, year, day, minutes)
    if not math.sin(math.radians(6)) < sun[2] < math.sin(math.radians(75)):
        return None
    camera = Camera(
        float(random.uniform(0, 2 * math.pi)), float(random.normal(0, 0.02)),
        float(random.normal(0, 0.01)), 6500.0, 300.0, 50.0, 0.0, WIDTH_PX, HEIGHT_PX,
    )  # fmt: skip
    return Instant(where, year, day, minutes), sun, camera


def invent(
    random: np.random.Generator,
    doubtful: float = 1.0,
    *,
    lats_deg: tuple[float, float] = (-60.0, 60.0),
    hours_min: tuple[float, float] = (360.0, 1080.0),
    mirrored: bool = False,
) -> Invented | None:
    """Invent one; None where the sun is low or the shadow falls off the plate."""
    begun = invent_instant(random, lats_deg, hours_min)
    if begun is None:
        return None
    at, sun, camera = begun
    above, height = float(random.uniform(3, 25)), float(random.uniform(2, 10))
    distance = above * float(random.uniform(3, 12))
    off = camera.bearing_rad + float(random.uniform(-0.3, 0.3))
    foot = np.array([distance * math.sin(off), distance * math.cos(off), -above])
    slope = np.tan(np.radians(random.normal(0, 1.0 * doubtful, 2)))
    lean = np.tan(np.radians(random.normal(0, 1.0 * doubtful, 2)))
    top = foot + height * np.array([lean[0], lean[1], 1.0])
    # From the top along the beam down to the ground through the foot.
    fall = top[2] - foot[2] - slope @ (top[:2] - foot[:2])
    tip = top - sun * fall / (sun[2] - slope @ sun[:2])
    x, y = project(camera, np.stack([foot, tip, top]))
    inside = np.isfinite(x) & (x > 0) & (x < WIDTH_PX) & (y > 0) & (y < HEIGHT_PX)
    if not inside.all():
        return None
    x += random.normal(0, 3 * doubtful, 3)
    y += random.normal(0, 3 * doubtful, 3)
    x = WIDTH_PX - x if mirrored else x
    shadow = Shadow(
        (x[0], y[0]), (x[1], y[1]), (x[2], y[2]), Ground(sd_deg=1.0 * doubtful),
        sd_px=3.0 * doubtful, lean_sd_deg=1.0 * doubtful,
    )  # fmt: skip
    doubt = CameraDoubt(*(doubtful * np.array([0.01, 0.004, 0.004, 0.02])))
    told = replace(as_told(camera, doubt, random), reversed=mirrored)
    return Invented(at.where, at.year, at.day, at.local_mean_min, told, doubt, shadow)


def as_told(camera: Camera, doubt: CameraDoubt, random: np.random.Generator) -> Camera:
    """Return a camera as a fix would have it, off by what it doubts."""
    return replace(
        camera,
        bearing_rad=camera.bearing_rad + random.normal(0, doubt.bearing_rad),
        tilt_rad=camera.tilt_rad + random.normal(0, doubt.elevation_rad),
        roll_rad=camera.roll_rad + random.normal(0, doubt.roll_rad),
        principal_distance_px=camera.principal_distance_px
        * math.exp(random.normal(0, doubt.log_distance)),
    )


def invent_wall(random: np.random.Generator) -> tuple[Instant, Seen] | None:
    """Invent the shadow of a wall's top edge, thrown by another point of the edge."""
    begun = invent_instant(random, (-60.0, 60.0), (360.0, 1080.0))
    if begun is None:
        return None
    at, sun, camera = begun
    above, height = float(random.uniform(3, 25)), float(random.uniform(3, 10))
    distance = above * float(random.uniform(3, 12))
    off = camera.bearing_rad + float(random.uniform(-0.3, 0.3))
    foot = np.array([distance * math.sin(off), distance * math.cos(off), -above])
    top = foot + np.array([0.0, 0.0, height])
    runs = float(random.uniform(0, math.pi))
    along = np.array([math.sin(runs), math.cos(runs), 0.0])
    throws = top + float(random.uniform(-4, 4)) * along
    slope = np.tan(np.radians(random.normal(0, 1.0, 2)))
    fall = throws[2] - foot[2] - slope @ (throws[:2] - foot[:2])
    shadow = throws - sun * fall / (sun[2] - slope @ sun[:2])
    x, y = project(camera, np.stack([foot, top, shadow]))
    inside = np.isfinite(x) & (x > 0) & (x < WIDTH_PX) & (y > 0) & (y < HEIGHT_PX)
    if not inside.all():
        return None
    x, y = x + random.normal(0, 3, 3), y + random.normal(0, 3, 3)
    edge = Edge(
        (x[0], y[0]), (x[1], y[1]), (x[2], y[2]),
        math.degrees(runs) + float(random.normal(0, 1.0)), 1.0, Ground(sd_deg=1.0), 3.0,
    )  # fmt: skip
    doubt = CameraDoubt(0.01, 0.004, 0.004, 0.02)
    plane = edge_normal(as_told(camera, doubt, random), doubt, edge)
    return at, Seen(edges=(plane,))


def walls(seed: int, count: int) -> list[tuple[Instant, Seen]]:
    """Invent so many shadows of walls."""
    random = np.random.default_rng(seed)
    cases: list[tuple[Instant, Seen]] = []
    while len(cases) < count:
        case = invent_wall(random)
        if case is not None:
            cases.append(case)
    return cases


def mirrored_in_the_far_north(seed: int, count: int) -> list[tuple[Invented, Seen]]:
    """Invent scans left for right of the far north, at any hour of day and night."""
    random = np.random.default_rng(seed)
    cases: list[tuple[Invented, Seen]] = []
    while len(cases) < count:
        case = invent(
            random, lats_deg=(60.0, 82.0), hours_min=(0.0, 1440.0), mirrored=True
        )
        if case is not None:
            told = sun_directions(case.camera, case.doubt, [case.shadow])
            cases.append((case, Seen(told)))
    return cases


def is_held(fit: SunFit, local_mean_min: float, share: float) -> bool:
    """Return whether a span of hours holds the truth, over midnight too."""
    low, high = fit.hours(share)
    return any(
        low - 0.5 <= local_mean_min + more <= high + 0.5 for more in (0.0, 1440.0)
    )


def one_day(day: int) -> np.ndarray:
    weights = np.zeros(366)
    weights[day - 1] = 1.0
    return weights


def simulated(seed: int, count: int) -> list[tuple[Invented, Seen]]:
    random = np.random.default_rng(seed)
    cases: list[tuple[Invented, Seen]] = []
    while len(cases) < count:
        case = invent(random)
        if case is not None:
            told = sun_directions(case.camera, case.doubt, [case.shadow])
            cases.append((case, Seen(told)))
    return cases


@pytest.fixture(scope="module")
def by_date() -> list[tuple[Invented, SunFit]]:
    return [
        (case, fit_sun(seen, case.where, case.year, one_day(case.day)))
        for case, seen in simulated(71, 160)
    ]


def test_the_hour_is_within_ten_minutes_where_seven_are_promised(
    by_date: list[tuple[Invented, SunFit]],
) -> None:
    off = [
        abs(fit.hour_min[0] - case.local_mean_min)
        for case, fit in by_date
        if fit.hour_min[1] <= 7.0
    ]
    assert len(off) > 80
    assert np.mean(np.array(off) <= 10.0) >= 0.90


@pytest.mark.parametrize(("share", "band"), [(0.5, (64, 96)), (0.9, (134, 153))])
def test_spans_of_hours_hold_the_truth_as_often_as_they_promise(
    by_date: list[tuple[Invented, SunFit]], share: float, band: tuple[int, int]
) -> None:
    """Of 160; the binomial's central 99%, and one more for whole minutes."""
    held = 0
    for case, fit in by_date:
        low, high = fit.hours(share)
        held += low - 0.5 <= case.local_mean_min <= high + 0.5
    assert band[0] <= held <= band[1] + 1


def test_spans_hold_the_truth_by_a_wall_s_shadow_and_in_the_far_north() -> None:
    """Of 30 each; the binomial gives 22 and more in 99 of 100."""
    for cases in (walls(76, 30), mirrored_in_the_far_north(77, 30)):
        held = sum(
            is_held(
                fit_sun(seen, case.where, case.year, one_day(case.day)),
                case.local_mean_min, 0.9,
            )
            for case, seen in cases
        )  # fmt: skip
        assert held >= 22


def test_the_two_windows_are_within_five_days_where_three_and_a_half_are_promised() -> (
    None
):
    random = np.random.default_rng(72)
    off = []
    for case, seen in simulated(73, 60):
        said = case.local_mean_min + random.normal(0.0, 3.0)
        hour = np.exp(-0.5 * ((np.arange(1440) - said) / 3.0) ** 2)
        hour[hour < 1e-4] = 0.0
        fit = fit_sun(seen, case.where, case.year, np.ones(366), hour)
        windows = [window for window in fit.windows() if window[2] > 0.05]
        if windows and max(sd for _, sd, _ in windows) <= 3.5:
            off.append(
                min(abs((day - case.day + 182) % 365 - 182) for day, _, _ in windows)
            )
    assert len(off) > 10
    assert np.mean(np.array(off) <= 5.0) >= 0.90
