"""Check sun, shadow and clock on shadows drawn without noise."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from wherestood.camera.model import Camera, project
from wherestood.dating.between_plates import minutes_between
from wherestood.dating.clock import Clock, clock_words, local_mean_minutes
from wherestood.dating.shadow import Shadow, sun_directions
from wherestood.dating.shadow_edge import Edge, edge_normal
from wherestood.dating.shadow_points import CameraDoubt, Ground
from wherestood.dating.sun import seconds_of_day, sun_at
from wherestood.dating.sun_check import bearing_by_sun
from wherestood.dating.sun_fit import Face, Seen, fit_sun
from wherestood.dating.sun_path import Where
from wherestood.errors import EvidenceError
from wherestood.record.sun_words import sun_words

A_HUNDREDTH_DEG = math.radians(0.01)
ONE_MINUTE = 1.0
SURE = CameraDoubt(1e-5, 1e-5, 1e-5, 1e-5)
CAMERA = Camera(math.radians(20), 0.01, 0.0, 6500.0, 300.0, 0.0, 0.0, 6000, 4500)
HERE = Where(8.0, 46.0, 500.0)
YEAR, DAY = 1871, 200


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


def one_day(day: int) -> np.ndarray:
    weights = np.zeros(366)
    weights[day - 1] = 1.0
    return weights


def pole(
    sun: np.ndarray, off: float = 0.1, slope: tuple[float, float] = (0.0, 0.0)
) -> Shadow:
    """Return the marks of a plumb pole of 4 m, 60 m off and 8 m below the lens."""
    off += CAMERA.bearing_rad
    foot = np.array([60 * math.sin(off), 60 * math.cos(off), -8.0])
    top = foot + np.array([0.0, 0.0, 4.0])
    tip = top - sun * 4.0 / (sun[2] - np.array(slope) @ sun[:2])
    x, y = project(CAMERA, np.stack([foot, tip, top]))
    return Shadow(
        (x[0], y[0]), (x[1], y[1]), (x[2], y[2]), Ground(sd_deg=1e-4), 1e-2, 1e-4
    )


@pytest.mark.parametrize("minutes", [420.0, 600.0, 777.0, 1000.0])
def test_a_shadow_without_noise_gives_back_the_sun(minutes: float) -> None:
    sun = sun_vector(HERE, YEAR, DAY, minutes)
    told = sun_directions(CAMERA, SURE, [pole(sun)])
    assert told.bearing_rad[0] == pytest.approx(
        math.atan2(sun[0], sun[1]) % (2 * math.pi), abs=A_HUNDREDTH_DEG
    )
    assert told.elevation_rad[0] == pytest.approx(
        math.asin(sun[2]), abs=A_HUNDREDTH_DEG
    )
    fit = fit_sun(Seen(told), HERE, YEAR, one_day(DAY))
    assert fit.hour_min[0] == pytest.approx(minutes, abs=ONE_MINUTE)


def test_sloping_ground_is_allowed_for() -> None:
    sun = sun_vector(HERE, YEAR, DAY, 600.0)
    rise = math.tan(math.radians(5.0))
    shadow = pole(sun, slope=(rise, 0.0))
    sloping = replace(shadow, ground=Ground(5.0, 90.0, 1e-4))
    told = sun_directions(CAMERA, SURE, [shadow, sloping])
    assert told.elevation_rad[1] == pytest.approx(
        math.asin(sun[2]), abs=A_HUNDREDTH_DEG
    )
    assert abs(told.elevation_rad[0] - math.asin(sun[2])) > math.radians(1.0)


def test_a_shadow_without_a_top_tells_the_bearing_alone() -> None:
    sun = sun_vector(HERE, YEAR, DAY, 600.0)
    told = sun_directions(CAMERA, SURE, [replace(pole(sun), top_px=None)])
    assert told.bearing_rad[0] == pytest.approx(
        math.atan2(sun[0], sun[1]) % (2 * math.pi), abs=A_HUNDREDTH_DEG
    )
    assert math.isnan(told.elevation_rad[0])
    fit = fit_sun(Seen(told), HERE, YEAR, one_day(DAY))
    assert fit.hour_min[0] == pytest.approx(600.0, abs=ONE_MINUTE)


def test_two_shadows_share_the_camera_s_errors() -> None:
    sun = sun_vector(HERE, YEAR, DAY, 600.0)
    doubt = CameraDoubt(0.02, 1e-5, 1e-5, 1e-5)
    told = sun_directions(CAMERA, doubt, [pole(sun), pole(sun, -0.1)])
    # The camera's bearing moves both alike, and nothing else is in doubt.
    level = math.cos(math.asin(sun[2]))
    assert told.covariance[:2, :2] == pytest.approx((0.02 * level) ** 2, rel=0.02)


def test_a_wall_s_shadow_edge_holds_the_sun_in_its_plane() -> None:
    sun = sun_vector(HERE, YEAR, DAY, 600.0)
    along = math.radians(70.0)
    foot = np.array([20.0, 55.0, -8.0])
    top = foot + np.array([0.0, 0.0, 5.0])
    # Thrown not by the marked point but by one 3 m along the same edge.
    other = top + 3.0 * np.array([math.sin(along), math.cos(along), 0.0])
    shadow = other - sun * 5.0 / sun[2]
    x, y = project(CAMERA, np.stack([foot, top, shadow]))
    edge = Edge(
        (x[0], y[0]), (x[1], y[1]), (x[2], y[2]), 70.0, 0.3, Ground(sd_deg=0.1), 0.5
    )
    normal, covariance = edge_normal(CAMERA, SURE, edge)
    assert abs(normal @ sun) < A_HUNDREDTH_DEG
    fit = fit_sun(Seen(edges=((normal, covariance),)), HERE, YEAR, one_day(DAY))
    low, high = fit.hours(0.9)
    # A plane meets the sun's path twice a day at most.
    at = fit.by_minute[fit.minutes == 600]
    assert at > 0.2 * fit.by_minute.max()
    assert low <= 600 <= high


def test_two_hours_that_fit_are_told_apart_and_none_between_them() -> None:
    """A plane level from east to west meets the sun's path before noon and after."""
    sun = sun_vector(HERE, YEAR, DAY, 560.0)
    normal = np.array([0.0, -sun[2], sun[1]]) / math.hypot(sun[1], sun[2])
    seen = Seen(edges=((normal, np.eye(3) * 1e-5),))
    fit = fit_sun(seen, HERE, YEAR, one_day(DAY))
    first, second = sorted(fit.spans(0.9))
    noon = 720.0 - fit.equation_of_time_s[0] / 60.0
    assert first[0] <= 560.0 <= first[1]
    assert second[0] <= 2.0 * noon - 560.0 <= second[1]
    assert first[1] < noon < second[0]
    assert first[2] + second[2] == pytest.approx(0.9, abs=0.02)
    (_, *told, zone) = sun_words(None, fit, HERE, 1.0)[0].lines
    assert {line.split(":")[0] for line in told} == {"9", "14"}
    # The zone of 15 deg east is 28 min ahead of the place's own time, at 8 deg east.
    begins = clock_words(fit.spans(0.9)[0][0] + 28.0)
    assert zone.startswith(f"In the zone +1 h: {begins} to ")


def test_an_hour_about_midnight_is_one_where_the_sun_does_not_set() -> None:
    north = Where(20.0, 72.0, 50.0)
    told = sun_directions(CAMERA, SURE, [pole(sun_vector(north, YEAR, 172, 1438.0))])
    doubted = replace(told, covariance=np.eye(2) * math.radians(1.0) ** 2)
    fit = fit_sun(Seen(doubted), north, YEAR, one_day(172))
    mean, sd = fit.hour_min
    assert mean == pytest.approx(1438.0, abs=ONE_MINUTE)
    assert sd < 6.0  # the sun goes a degree in four minutes
    low, high = fit.hours(0.9)
    assert low < 1438.0 < 1440.0 < high < 1440.0 + 15.0
    assert len(fit.spans(0.9)) == 1


def test_a_mirrored_scan_gives_back_the_same_sun() -> None:
    """The pixels of a scan that is left for right, measured from its other edge."""
    sun = sun_vector(HERE, YEAR, DAY, 600.0)
    right = pole(sun)
    over = {
        name: (CAMERA.width_px - getattr(right, name)[0], getattr(right, name)[1])
        for name in ("foot_px", "tip_px", "top_px")
    }
    mirrored = replace(CAMERA, reversed=True)
    told = sun_directions(mirrored, SURE, [replace(right, **over)])
    assert told.bearing_rad[0] == pytest.approx(
        math.atan2(sun[0], sun[1]) % (2 * math.pi), abs=A_HUNDREDTH_DEG
    )


def test_lit_and_shaded_faces_bound_the_hour() -> None:
    # In July at 46 N a face that looks east is lit in the morning alone.
    lit = fit_sun(Seen(faces=(Face(90.0, True),)), HERE, YEAR, one_day(DAY))
    dark = fit_sun(Seen(faces=(Face(90.0, False),)), HERE, YEAR, one_day(DAY))
    noon_by_sun = 720.0 - lit.equation_of_time_s[0] / 60.0
    before = lit.minutes < noon_by_sun
    assert lit.by_minute[before].sum() > 0.97
    assert dark.by_minute[~before].sum() > 0.97


def test_hills_that_hide_the_sun_leave_those_hours_out() -> None:
    shut = replace(HERE, horizon=lambda bearing: np.where(
        np.sin(bearing) > 0.0, math.radians(35.0), 0.0))  # fmt: skip
    free = fit_sun(Seen(), HERE, YEAR, one_day(DAY))
    hidden = fit_sun(Seen(), shut, YEAR, one_day(DAY))
    assert free.by_minute[free.minutes < 480].sum() > 0.2
    assert hidden.by_minute[hidden.minutes < 480].sum() < 0.001


def test_a_sun_that_never_stood_so_leaves_nothing() -> None:
    sun = np.array([0.0, math.cos(1.3), math.sin(1.3)])  # 74 deg high in the north
    told = sun_directions(CAMERA, SURE, [pole(sun)])
    fit = fit_sun(Seen(told), HERE, YEAR, one_day(DAY))
    assert fit.best_misfit > 1e4
    polar = fit_sun(Seen(), Where(15.0, 80.0), YEAR, one_day(1))
    assert not polar.possible
    assert math.isnan(polar.hour_min[0])


def test_two_windows_lie_about_the_solstice() -> None:
    sun = sun_vector(HERE, YEAR, 110, 600.0)
    told = sun_directions(CAMERA, SURE, [pole(sun)])
    hour = np.where(np.abs(np.arange(1440) - 600) <= 60, 1.0, 0.0)
    windows = fit_sun(Seen(told), HERE, YEAR, np.ones(366), hour).windows()
    climbing, sinking = sorted(window[0] for window in windows)
    assert climbing == pytest.approx(110, abs=2)
    # As far behind the solstice of day 172 as the other lies before it.
    assert sinking == pytest.approx(2 * 172 - 110, abs=4)


def test_the_sun_of_a_known_hour_finds_the_camera_s_wrong_bearing() -> None:
    sun = sun_vector(HERE, YEAR, DAY, 600.0)
    shadows = [pole(sun), pole(sun, -0.15)]
    turned = replace(CAMERA, bearing_rad=CAMERA.bearing_rad - math.radians(3.0))
    day = (YEAR, 7, 19)  # the 200th of a common year
    found = bearing_by_sun(turned, SURE, shadows, HERE, day, 600.0, 2.0)
    assert math.degrees(found.turn_rad) == pytest.approx(3.0, abs=0.02)
    # Two minutes move a July morning's sun by most of a degree.
    assert 0.3 < math.degrees(found.sd_rad) < 1.0
    assert found.off > 2.0
    right = bearing_by_sun(CAMERA, SURE, shadows, HERE, day, 600.0, 2.0)
    assert right.off < 0.1


def test_a_sun_below_the_level_is_said_to_be_so() -> None:
    shadow = pole(sun_vector(HERE, YEAR, DAY, 600.0))
    with pytest.raises(EvidenceError, match="below the level"):
        bearing_by_sun(CAMERA, SURE, [shadow], HERE, (YEAR, 7, 19), 60.0, 2.0)


@pytest.mark.parametrize("gap", [0.0, 15.0])
def test_minutes_between_plates_come_out_though_bearing_and_day_are_doubtful(
    gap: float,
) -> None:
    first, second = (sun_vector(HERE, YEAR, DAY, 600.0 + more) for more in (0.0, gap))
    doubt = CameraDoubt(math.radians(3.0), 1e-4, 1e-4, 1e-3)
    days = np.zeros(366)
    days[DAY - 15 : DAY + 15 : 6] = 1.0
    one, other = (
        replace(pole(sun), sd_px=1.0, ground=Ground(sd_deg=0.2))
        for sun in (first, second)
    )
    found = minutes_between(
        (CAMERA, (one,)), (CAMERA, (other,)), doubt, HERE, YEAR, days
    )
    mean, sd = found.mean_sd
    assert abs(mean - gap) < 2.5 * sd
    # A bearing known to 3 deg alone would leave each hour open by 8 minutes and more.
    assert sd < 6.0
    if gap == 15.0:
        assert found.second_later > 0.98
        assert found.within_cycle > 0.8
    if gap == 0.0:
        assert found.too_short > 0.8


def test_a_day_known_nine_times_in_ten_counts_between_plates() -> None:
    """Of 366 days some stand for all: the one that is known is among them."""
    suns = (sun_vector(HERE, YEAR, DAY, 600.0 + more) for more in (0.0, 15.0))
    one, other = (replace(pole(sun), sd_px=1.0, ground=Ground(sd_deg=0.2))
                  for sun in suns)  # fmt: skip
    days = np.where(np.arange(366) == DAY - 1, 0.9, 0.1 / 365)
    mean_sd = {
        known: minutes_between(
            (CAMERA, (one,)), (CAMERA, (other,)), SURE, HERE, YEAR, weights
        ).mean_sd
        for known, weights in (("nearly", days), ("wholly", one_day(DAY)))
    }
    assert mean_sd["nearly"] == pytest.approx(mean_sd["wholly"], abs=0.05)


def test_hours_with_the_sun_behind_hills_count_nothing_between_plates() -> None:
    """The sun of ten in the morning: hills in the west hide nothing of it."""
    shadows = tuple(pole(sun_vector(HERE, YEAR, DAY, 600.0 + m)) for m in (0.0, 15.0))
    found = {}
    for side in (1.0, -1.0):
        where = replace(HERE, horizon=lambda bearing, side=side: np.where(
            side * np.sin(bearing) > 0.0, math.radians(89.0), 0.0))  # fmt: skip
        found[side] = minutes_between(
            (CAMERA, (shadows[0],)), (CAMERA, (shadows[1],)), SURE, where, YEAR,
            one_day(DAY),
        )  # fmt: skip
    assert found[-1.0].mean_sd[0] == pytest.approx(15.0, abs=2.0)
    assert not found[1.0].probability.any()
    assert math.isnan(found[1.0].mean_sd[0])


def test_marks_that_cannot_be_a_shadow_are_refused() -> None:
    shadow = pole(sun_vector(HERE, YEAR, DAY, 600.0))
    with pytest.raises(EvidenceError, match="above the lens"):
        sun_directions(CAMERA, SURE, [replace(shadow, tip_px=(3000.0, 100.0))])
    with pytest.raises(EvidenceError, match="Exchange"):
        sun_directions(
            CAMERA, SURE, [replace(shadow, top_px=(shadow.foot_px[0], 4400.0))]
        )
    with pytest.raises(EvidenceError, match="one point"):
        sun_directions(CAMERA, SURE, [replace(shadow, tip_px=shadow.foot_px,
                                              top_px=None)])  # fmt: skip


def test_clocks_differ_by_longitude_and_the_sun() -> None:
    # 7.5 deg east is half an hour; noon local mean time is then 11:30 universal, and
    # 12:30 in the zone of an hour.
    clock = Clock.of(720.0, 7.5, 600.0, 1.0)
    assert (clock.universal_min, clock.zone_min, clock.by_the_sun_min) == (
        690.0, 750.0, 730.0,
    )  # fmt: skip
    assert local_mean_minutes(750.0, "zone", 7.5, zone_hours=1.0) == 720.0
    assert local_mean_minutes(730.0, "by the sun", 7.5, 600.0) == 720.0
    assert clock_words(1439.7) == "0:00"
