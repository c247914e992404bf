"""Check hours on plates whose shadows were rendered, and are found in the picture.

Nothing here is shared with `wherestood.dating` but what is under test. A post on
invented bilinear ground is drawn ray by ray, lit by a sun with a disc, on a grainy,
slightly unsharp picture; foot, top and tip are then measured from the grey values. The
sun of the truth is that of the low-precision formulas of the Astronomical Almanac
(0.01 deg; from memory), not of the algorithm that the program uses.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from scipy import ndimage

from wherestood.camera.model import Camera
from wherestood.dating.shadow import Shadow, sun_directions
from wherestood.dating.shadow_points import CameraDoubt, Ground
from wherestood.dating.sun_fit import Seen, SunFit, fit_sun
from wherestood.dating.sun_path import Where

WIDTH_PX, HEIGHT_PX, LENS_PX = 2400, 1800, 2600.0
#: Tones of the picture: post, ground in shadow and in the sun, sky.
POST, SHADE, LIT, SKY = 15.0, 75.0, 150.0, 225.0
GRAIN, SOFT_PX = 5.0, 0.8
#: Half the sun's breadth [rad]: 16 minutes of arc.
SUN_RAD = math.radians(16.0 / 60.0)
#: The ground rises by so much from corner to corner of its cells, about [m].
CELL_M, ROUGH_M, REACH_M = 12.0, 0.12, 360.0
#: What a mark read off the picture is taken to be off, each way [px].
MARK_SD_PX = 1.5
#: The plate's ground lies so high [m].
HEIGHT_M = 200.0
Array = np.ndarray


@dataclass(frozen=True)
class Rendered:
    """Hold a rendered plate with its truth."""

    picture: Array  # a window of the plate, grey values
    corner_px: tuple[int, int]  # of that window
    clicks_px: Array  # foot, tip, top, as somebody points at them
    told: Camera  # as a fix would have it
    doubt: CameraDoubt
    where: Where
    year: int
    day: int
    local_mean_min: float


def sun_by_the_almanac(
    year: int, day: int, local_mean_min: float, lon_deg: float, lat_deg: float
) -> Array:
    """Return the direction to the sun: east, north, up; lifted by refraction."""
    days = (date(year, 1, 1).toordinal() - date(2000, 1, 1).toordinal()) + day - 1
    n = days - 0.5 + local_mean_min / 1440.0 - lon_deg / 360.0  # from J2000
    mean = math.radians((280.460 + 0.9856474 * n) % 360.0)
    anomaly = math.radians((357.528 + 0.9856003 * n) % 360.0)
    bend = 1.915 * math.sin(anomaly) + 0.020 * math.sin(2.0 * anomaly)
    longitude = mean + math.radians(bend)
    tilt = math.radians(23.439 - 4e-7 * n)
    x, y = math.cos(longitude), math.cos(tilt) * math.sin(longitude)
    ascension, declination = (
        math.atan2(y, x),
        math.asin(math.sin(tilt) * math.sin(longitude)),
    )
    sidereal = math.radians((280.46062 + 360.98564737 * n + lon_deg) % 360.0)
    hour, lat = sidereal - ascension, math.radians(lat_deg)
    east = -math.cos(declination) * math.sin(hour)
    north = math.sin(declination) * math.cos(lat)
    north -= math.cos(declination) * math.cos(hour) * math.sin(lat)
    up = math.sin(declination) * math.sin(lat)
    up += math.cos(declination) * math.cos(hour) * math.cos(lat)
    # Refraction by Bennett, minutes of arc at 1010 mbar and 10 deg C; from memory.
    high = math.degrees(math.asin(up))
    lift = (
        1.0 / math.tan(math.radians(high + 7.31 / (high + 4.4))) if high > -1 else 0.0
    )
    high += lift / 60.0
    level = math.cos(math.radians(high)) / math.hypot(east, north)
    return np.array([level * east, level * north, math.sin(math.radians(high))])


class BilinearGround:
    """Be ground between heights at the corners of square cells, about the camera."""

    def __init__(self, random: np.random.Generator) -> None:
        side = 2 * round(REACH_M / CELL_M) + 1
        self.corners = random.normal(0.0, ROUGH_M, (side, side))
        self.slope = np.tan(np.radians(random.normal(0.0, 0.7, 2)))

    def height(self, east: Array, north: Array) -> Array:
        """Return the ground's height [m]."""
        x, y = (east + REACH_M) / CELL_M, (north + REACH_M) / CELL_M
        most = self.corners.shape[0] - 2
        i = np.clip(np.floor(x).astype(int), 0, most)
        j = np.clip(np.floor(y).astype(int), 0, most)
        u, v = np.clip(x - i, 0.0, 1.0), np.clip(y - j, 0.0, 1.0)
        c = self.corners
        low = c[j, i] * (1 - u) + c[j, i + 1] * u
        high = c[j + 1, i] * (1 - u) + c[j + 1, i + 1] * u
        bump: Array = low * (1 - v) + high * v
        return bump + self.slope[0] * east + self.slope[1] * north


def axes_of(camera: Camera) -> Array:
    """Return right, up and forward, by the drawing in docs/conventions.md."""
    b, tau, rho = camera.bearing_rad, camera.tilt_rad, camera.roll_rad
    forward = np.array(
        [math.sin(b) * math.cos(tau), math.cos(b) * math.cos(tau), math.sin(tau)]
    )
    right0 = np.array([math.cos(b), -math.sin(b), 0.0])
    up0 = np.cross(right0, forward)
    right = right0 * math.cos(rho) - up0 * math.sin(rho)
    return np.stack([right, up0 * math.cos(rho) + right0 * math.sin(rho), forward])


def seen_at(camera: Camera, points: Array) -> Array:
    """Return the pixels at which points east, north, up of the lens are drawn."""
    right, up, ahead = axes_of(camera) @ points.T
    x = camera.width_px / 2 - camera.cross_px + LENS_PX * right / ahead
    y = camera.height_px / 2 + camera.rise_px - LENS_PX * up / ahead
    return np.where(ahead > 0.0, np.stack([x, y]), np.nan).T


def nearest(start: Array, way: Array, foot: Array, top: Array) -> tuple[Array, Array]:
    """Return how near rays come to the post's axis, and where along the rays [m]."""
    axis = top - foot
    aa, ab, bb = axis @ axis, way @ axis, np.einsum("...i,...i", way, way)
    from_foot = start - foot
    fa, fb = from_foot @ axis, np.einsum("...i,...i", from_foot, way)
    along = np.clip((bb * fa - ab * fb) / np.maximum(aa * bb - ab**2, 1e-12), 0.0, 1.0)
    t = (along * ab - fb) / bb
    gap = from_foot + t[..., None] * way - along[..., None] * axis
    return np.linalg.norm(gap, axis=-1), t


def disc_of(sun: Array) -> Array:
    """Return seven directions spread over the sun's disc."""
    side = np.cross(sun, [0.0, 0.0, 1.0])
    side /= np.linalg.norm(side)
    up = np.cross(side, sun)
    turns = np.arange(6) * math.pi / 3
    # Two thirds of the radius halve its outer area.
    ring = np.outer(np.cos(turns), side) + np.outer(np.sin(turns), up)
    return np.concatenate([sun[None], sun + 0.7 * math.tan(SUN_RAD) * ring])


def draw(
    camera: Camera, ground: BilinearGround, lens_m: float, post: tuple[Array, Array],
    radius_m: float, sun: Array, window: tuple[int, int, int, int],
    random: np.random.Generator,
) -> Array:  # fmt: skip
    """Draw a window of the plate, ray by ray; places are measured from the lens."""
    x0, y0, x1, y1 = window
    x, y = np.meshgrid(np.arange(x0, x1) + 0.5, np.arange(y0, y1) + 0.5)
    local = np.stack(
        [
            x - camera.width_px / 2 + camera.cross_px,
            camera.height_px / 2 + camera.rise_px - y,
            np.full(x.shape, LENS_PX),
        ],
        axis=-1,
    )
    way = local @ axes_of(camera)
    way /= np.linalg.norm(way, axis=-1, keepdims=True)
    # Where each ray meets the ground: Newton's steps, the ground being nearly a plane.
    reach = lens_m / np.maximum(-way[..., 2], 1e-3)
    for _ in range(8):
        at = reach[..., None] * way
        over = at[..., 2] - (ground.height(at[..., 0], at[..., 1]) - lens_m)
        fall = way[..., :2] @ ground.slope - way[..., 2]
        reach = np.clip(reach + over / np.maximum(fall, 1e-3), 1.0, 5000.0)
    at = reach[..., None] * way
    on_ground = (np.hypot(at[..., 0], at[..., 1]) < REACH_M) & (reach < 4999.0)
    lit = np.zeros(reach.shape)
    disc = disc_of(sun)
    for ray in disc:
        gap, t = nearest(at, np.broadcast_to(ray, at.shape), *post)
        lit += ((gap > radius_m) | (t < 0.0)) / len(disc)
    tone = np.where(on_ground, SHADE + (LIT - SHADE) * lit, SKY)
    gap, t = nearest(np.zeros(3), way, *post)
    tone = np.where((gap < radius_m) & (t > 0.0) & (t < reach), POST, tone)
    return ndimage.gaussian_filter(tone, SOFT_PX) + random.normal(
        0.0, GRAIN, tone.shape
    )


def invent(random: np.random.Generator) -> Rendered | None:
    """Invent a plate; None where nobody could mark its shadow."""
    lon, lat = float(random.uniform(-180, 180)), float(random.uniform(-60, 60))
    year, day = int(random.integers(1855, 1900)), int(random.integers(1, 366))
    minutes = float(random.uniform(360, 1080))
    sun = sun_by_the_almanac(year, day, minutes, lon, lat)
    if not math.sin(math.radians(8)) < sun[2] < math.sin(math.radians(70)):
        return None
    camera = Camera(
        float(random.uniform(0, 2 * math.pi)), float(random.normal(0, 0.02)),
        float(random.normal(0, 0.01)), LENS_PX, 100.0, 20.0, 0.0, WIDTH_PX, HEIGHT_PX,
    )  # fmt: skip
    ground, lens_m = BilinearGround(random), float(random.uniform(4, 14))
    off = camera.bearing_rad + float(random.uniform(-0.25, 0.25))
    far_m, high_m = lens_m * float(random.uniform(3, 8)), float(random.uniform(3, 9))
    place = far_m * np.array([math.sin(off), math.cos(off)])
    foot = np.array([*place, float(ground.height(*place)) - lens_m])
    lean = np.tan(np.radians(random.normal(0, 0.7, 2)))
    top = foot + high_m * np.array([*lean, 1.0])
    radius_m = 0.025 * high_m
    # About where the shadow ends: what somebody would point at.
    tip = top - sun * high_m / sun[2]
    for _ in range(4):
        tip = tip + sun * (float(ground.height(*tip[:2])) - lens_m - tip[2]) / sun[2]
    marks = seen_at(camera, np.stack([foot, tip, top]))
    if not (np.isfinite(marks).all() and (marks > 30).all()):
        return None
    if (marks > [WIDTH_PX - 30, HEIGHT_PX - 30]).any():
        return None
    fallen, stands = marks[1] - marks[0], marks[2] - marks[0]
    long, tall = np.linalg.norm(fallen), np.linalg.norm(stands)
    across = abs(fallen[0] * stands[1] - fallen[1] * stands[0]) / (long * tall)
    # A shadow in the sight's own line, or of some pixels, nobody marks.
    if long < 60 or tall < 60 or long > 900 or across < math.sin(math.radians(20)):
        return None
    low, high = marks.min(axis=0) - 25, marks.max(axis=0) + 25
    window = (int(low[0]), int(low[1]), int(high[0]), int(high[1]))
    picture = draw(camera, ground, lens_m, (foot, top), radius_m, sun, window, random)
    doubt = CameraDoubt(0.01, 0.004, 0.004, 0.02)
    told = replace(
        camera,
        bearing_rad=camera.bearing_rad + random.normal(0, doubt.bearing_rad),
        tilt_rad=camera.tilt_rad + random.normal(0, doubt.elevation_rad),
        roll_rad=camera.roll_rad + random.normal(0, doubt.roll_rad),
        principal_distance_px=LENS_PX * math.exp(random.normal(0, doubt.log_distance)),
    )
    clicks = marks + random.normal(0.0, 4.0, marks.shape)
    return Rendered(
        picture, window[:2], clicks, told, doubt, Where(lon, lat, HEIGHT_M), year, day,
        minutes,
    )  # fmt: skip


def marks_in(case: Rendered) -> Array | None:
    """Measure foot, tip and top in the picture, near what somebody pointed at.

    Post and shadow are told apart by tone; each has a line laid through it, and ends
    where the tone along that line is halfway to what lies beyond.
    """
    soft = ndimage.gaussian_filter(case.picture, 0.7)
    foot, tip, top = case.clicks_px - case.corner_px
    post = _part_near(soft < (POST + SHADE) / 2, (foot + top) / 2)
    if post is None:
        return None
    # At the post's edges tones run through all between it and the ground.
    beside = ndimage.binary_dilation(post, iterations=4)
    # A shadow seen flatly is thinner than a pixel, and pale; grain is paler still.
    shade = (soft < LIT - 3.0 * GRAIN) & ~beside
    shadow = _part_near(shade, tip + 0.3 * (foot - tip))
    if shadow is None:
        return None
    top_found = _end(soft, post, top - foot)
    foot_found = _end(soft, post, foot - top)
    tip_found = _end(soft, shadow, tip - foot)
    if top_found is None or foot_found is None or tip_found is None:
        return None
    return np.array([foot_found, tip_found, top_found]) + case.corner_px


def _part_near(mask: Array, at: Array) -> Array | None:
    parts, count = ndimage.label(mask, np.ones((3, 3)))
    if count == 0:
        return None
    rows, columns = np.nonzero(parts)
    off = np.hypot(columns + 0.5 - at[0], rows + 0.5 - at[1])
    big = ndimage.sum_labels(mask, parts, np.arange(count + 1))[parts[rows, columns]]
    off = np.where(big < 12, np.inf, off)
    best = int(np.argmin(off))
    return parts == parts[rows[best], columns[best]] if off[best] < 40.0 else None


def _end(soft: Array, part: Array, towards: Array) -> Array | None:
    """Return where a long part ends, in a direction, to parts of a pixel."""
    rows, columns = np.nonzero(part)
    points = np.stack([columns + 0.5, rows + 0.5], axis=1)
    middle = points.mean(axis=0)
    _, vectors = np.linalg.eigh(np.cov((points - middle).T))
    line = vectors[:, 1] * np.sign(vectors[:, 1] @ towards)
    furthest = float(((points - middle) @ line).max())
    along = np.arange(furthest - 14.0, furthest + 14.0, 0.25)
    spots = middle + along[:, None] * line
    tones = ndimage.map_coordinates(
        soft, [spots[:, 1] - 0.5, spots[:, 0] - 0.5], order=1, mode="nearest"
    )
    inner, outer = np.median(tones[:16]), np.median(tones[-16:])
    half = (inner + outer) / 2
    beyond = np.nonzero((tones[:-1] < half) & (tones[1:] >= half))[0]
    if abs(outer - inner) < 20.0 or not len(beyond):
        return None
    at = beyond[np.argmin(np.abs(along[beyond] - furthest))]
    share = (half - tones[at]) / (tones[at + 1] - tones[at])
    return np.asarray(spots[at] + 0.25 * share * line)


def rendered(seed: int, count: int) -> list[tuple[Rendered, Seen | None]]:
    """Render so many plates, and read each; None where no shadow is found on it."""
    random = np.random.default_rng(seed)
    cases: list[tuple[Rendered, Seen | None]] = []
    while len(cases) < count:
        case = invent(random)
        if case is None:
            continue
        found = marks_in(case)
        if found is None:
            cases.append((case, None))
            continue
        foot, tip, top = ((float(x), float(y)) for x, y in found)
        shadow = Shadow(
            foot, tip, top, Ground(sd_deg=1.0), sd_px=MARK_SD_PX, lean_sd_deg=0.7
        )
        cases.append((case, Seen(sun_directions(case.told, case.doubt, [shadow]))))
    return cases


def hour_of(case: Rendered, seen: Seen) -> SunFit:
    """Date a plate by its shadow, the day being known."""
    weights = np.zeros(366)
    weights[case.day - 1] = 1.0
    return fit_sun(seen, case.where, case.year, weights)


def test_the_hour_comes_out_of_the_grey_values_of_a_rendered_plate() -> None:
    """Of ten that promise seven minutes, nine and more are within ten."""
    read = [(case, seen) for case, seen in rendered(5, 14) if seen is not None]
    assert len(read) >= 11  # the others' shadows are too thin to be told from grain
    fits = [(case, hour_of(case, seen)) for case, seen in read]
    off = [
        abs(fit.hour_min[0] - case.local_mean_min)
        for case, fit in fits
        if fit.hour_min[1] <= 7.0
    ]
    assert len(off) >= 9
    assert np.mean(np.array(off) <= 10.0) >= 0.90
