"""Compare a plate with a photograph made near its station: where that stood, and how.

Told are its place against the plate's, with its doubt, and how it lies over the plate.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import InputError
from wherestood.ground.mapping import Mapping
from wherestood.progress import SILENT, Progress
from wherestood.visit.agreeing_pairs import agreeing_pairs
from wherestood.visit.laid_on_plate import Laying
from wherestood.visit.left_out_parts import moved_by_parts, parts_of_view
from wherestood.visit.one_view import OneView
from wherestood.visit.photo_camera import PhotoCamera
from wherestood.visit.seen_on_both import BothSeen, HandMarks, Looked
from wherestood.visit.stood_off import Expected, StoodOff
from wherestood.visit.weighed_pairs import (
    depths_of_some,
    drawn_depths,
    solve_pairs,
    some_pairs,
    with_distances,
)

__all__ = ["LONGEST_PX", "ThenAndNow", "expected_camera", "then_and_now"]

Array = NDArray[np.float64]
#: Pictures are compared at this length of their longer side [px].
LONGEST_PX = 1600
_FIRST_REACH_PX = 20.0
_REACHES_PX = (60.0, 30.0, 30.0)
_LEAST_PAIRS, _LEAST_MARKS = 12, 6
_MISS_PX = 2.5
_NEAR_M, _ENOUGH_NEAR = 60.0, 40
#: An offset is never surer than this [m] and this share of it; and its length, which
#: goes with how high the lens and the ground about stood, than this share: what no part
#: of a view tells of another, judged from invented pairs.
_LEAST_SD_M, _LEAST_SHARE, _LENGTH_SHARE = 0.02, 0.05, 0.15
#: Where fewer of a person's marks agree than this share, the machine's pairs are wrong.
_HAND_SHARE = 0.5
#: Where less of what looks alike agrees than this, nothing is told: judged from
#: invented pairs, of which those that were told rightly had 0.7 and more.
_AGREE_SHARE = 0.65
_BEGIN_SD = np.array([3.0, 3.0, 0.7, 1.0, 1.0, 1.0, 1.0, 0.01, 0.004, 0.004])
#: Focal lengths are written in whole millimetres, and pictures cut a little: common
#: practice.
_LENS_SD = 0.03


@dataclass(frozen=True)
class ThenAndNow:
    """Hold what a plate and a photograph tell of one another.

    Attributes
    ----------
    offset_m : (3,) float64 array
        Where the photograph's lens stood: right, forward and up of the plate's, along
        the plate's sight [m].
    covariance_m2 : (3, 3) float64 array
    sight_rad : float
        Grid bearing of the plate's sight [rad].
    turned_rad, tilt_rad, roll_rad : float
        The photograph's axis right of the plate's sight, above the level, and its roll.
    principal_distance_px : float
        Of the photograph [px].
    pairs : BothSeen
        Things seen on both that agree.
    by_hand : int
        How many of the marks by hand do.
    left_out : int
        Pairs that do not agree: changed, or never one thing.
    near : int
        How many of those that agree are nearer than 60 m by the terrain: what stands
        there tells the last metres.
    laying : Laying
    mirrored : bool
        Whether the photograph is left for right.
    plate_mirrored : bool
        Whether the plate's scan is, by the fix.
    """

    offset_m: Array
    covariance_m2: Array
    sight_rad: float
    turned_rad: float
    tilt_rad: float
    roll_rad: float
    principal_distance_px: float
    pairs: BothSeen
    by_hand: int
    left_out: int
    near: int
    laying: Laying
    mirrored: bool
    plate_mirrored: bool = False

    @property
    def told(self) -> bool:
        """Say whether enough near things agree to tell where the photographer stood."""
        return self.agrees and self.near + 5 * self.by_hand >= _ENOUGH_NEAR

    @property
    def agrees(self) -> bool:
        """Say whether most of what looks alike agrees on one place.

        Where it does not, the machine may have followed the wrong things.
        """
        found = len(self.pairs)
        return found >= _AGREE_SHARE * (found + self.left_out)


def expected_camera(
    mapping: Mapping,
    photo_px: tuple[int, int],
    *,
    principal_distance_px: float | None = None,
    heading_rad: float | None = None,
    heading_sd_rad: float = math.radians(10.0),
    lens_m: float | None = None,
) -> Expected:
    """Return what is known of a photograph's camera before it is compared.

    Parameters
    ----------
    mapping : Mapping
    photo_px : (int, int)
        Its width and height, upright [px].
    principal_distance_px : float, optional
        By its focal length [px].
    heading_rad : float, optional
        Grid bearing by its compass [rad].
    lens_m : float, optional
        Of its lens above the ground, measured there [m].
    """
    width, height = mapping.scan_px
    bearing, tangent = mapping.cameras.directions([0.5 * width], [0.5 * height])
    sight = float(np.arctan2(np.sin(bearing).mean(), np.cos(bearing).mean()))
    mean = np.zeros(10)
    # The photographer meant to stand there: common practice of a good receiver [m].
    sd = np.array([10.0, 10.0, 3.0, 0.35, 0.2, 0.1, 0.5, 0.03, 0.01, 0.01])
    mean[4] = math.atan(float(np.median(tangent)))
    diagonal = math.hypot(*photo_px)
    mean[6] = math.log(0.75)
    if principal_distance_px is not None:
        mean[6], sd[6] = math.log(principal_distance_px / diagonal), _LENS_SD
    if heading_rad is not None:
        mean[3] = (heading_rad - sight + math.pi) % (2.0 * math.pi) - math.pi
        sd[3] = heading_sd_rad
    if lens_m is None:
        return Expected(mean, sd)
    return Expected(mean, sd, lens_m, 0.03)


def then_and_now(
    mapping: Mapping,
    looked: Looked | None,
    photo_px: tuple[int, int],
    expected: Expected,
    rng: np.random.Generator,
    *,
    marks: HandMarks | None = None,
    mirrored: bool = False,
    progress: Progress = SILENT,
) -> ThenAndNow:
    """Return where a photograph stood against a plate's station, and how it lies on it.

    Parameters
    ----------
    mapping : Mapping
        The plate's cameras as its fix leaves them, and the terrain.
    looked : Looked or None
        Features of both; None for marks by hand alone.
    photo_px : (int, int)
        Width and height of the photograph, upright [px].
    expected : Expected
    rng : numpy.random.Generator
    marks : HandMarks, optional
        Points that a person found on both.
    mirrored : bool
        Whether the photograph is left for right.
    progress : Progress, optional

    Raises
    ------
    InputError
        If too little is seen on both.
    """
    hand = marks or HandMarks.none()
    camera = PhotoCamera(expected.mean.copy(), *photo_px, mirrored=mirrored)
    progress.stage("comparing then and now", len(_REACHES_PX) + 2)
    pairs, solved = _begun(mapping, looked, camera, _near_by(expected), hand, rng)
    progress.advance(1)
    one = OneView(mapping, looked)
    if looked is not None and solved is not None:
        # What is first found agrees on a place; what lies about it is then looked for.
        camera = solved.camera
        pairs = one.followed(
            pairs, hand, solved.inside, camera, expected, _FIRST_REACH_PX
        )
        for reach in _REACHES_PX:
            pairs = one.seen_as_laid(pairs, camera, expected, reach)
            progress.advance(1)
        some = some_pairs(pairs, rng)
        solved = solve_pairs(mapping, some, hand, looked, camera, expected, rng)
        every, pairs = pairs, some
    if len(pairs) < _LEAST_PAIRS:
        every = pairs = BothSeen(np.empty((0, 2)), np.empty((0, 2)))
        if len(hand) < _LEAST_MARKS:
            raise InputError(
                f"Too little is seen on both pictures: {len(pairs)} things found, "
                f"{len(hand)} marked by hand.",
                f"Mark at least {_LEAST_MARKS} things on both, near and far, in a file "
                "for --marks; say the lens if it is not written in the photograph.",
            )
        solved = solve_pairs(mapping, pairs, hand, looked, camera, expected, rng)
    assert solved is not None
    count = len(pairs)
    agree = int(solved.inside[:count].sum())
    if agree + int(solved.inside[count:].sum()) < _LEAST_MARKS:
        raise InputError(
            "What looks alike on both pictures does not agree on one place: of "
            f"{count} things {agree} do.",
            "Is it this view? Mark things on both by hand, near and far.",
        )
    by_hand = int(solved.inside[count:].sum())
    if len(hand) >= _LEAST_MARKS and by_hand < _HAND_SHARE * len(hand):
        if looked is None:
            raise InputError(
                f"Of {len(hand)} marks by hand {by_hand} agree on one place.",
                "Is it this view? Look over the marks: one thing on both pictures.",
            )
        # What looks alike to the machine is not what a person says.
        return then_and_now(
            mapping, None, photo_px, expected, rng, marks=hand, mirrored=mirrored,
            progress=progress,
        )  # fmt: skip
    plate = np.concatenate((every.plate_px, hand.plate_px))
    photo = np.concatenate((every.photo_px, hand.photo_px))
    laying = one.laying(BothSeen(plate, photo), solved.camera, expected)
    progress.advance(1)
    kept = solved.inside[:count]
    close = drawn_depths(one.mapping, pairs.plate_px[kept], rng)
    near = int((close.inverse_m[0] > 1.0 / _NEAR_M).sum())
    values = solved.camera.values
    covariance = solved.covariance[:3, :3] + _floor_m2(values[:3])
    covariance += _moved_m2(mapping, pairs, hand, looked, solved.camera, expected, rng)
    return ThenAndNow(
        values[:3], covariance, one.sight_rad,
        float(values[3]), float(values[4]), float(values[5]),
        solved.camera.principal_distance_px,
        BothSeen(pairs.plate_px[kept], pairs.photo_px[kept]),
        by_hand, count - agree, near, laying, mirrored, mapping.mostly_reversed,
    )  # fmt: skip


def _floor_m2(offset_m: Array) -> Array:
    """Return the least covariance of an offset."""
    all_ways = _LEAST_SD_M + _LEAST_SHARE * float(np.linalg.norm(offset_m))
    return np.asarray(
        all_ways**2 * np.eye(3) + _LENGTH_SHARE**2 * np.outer(offset_m, offset_m)
    )


def _moved_m2(
    mapping: Mapping,
    pairs: BothSeen,
    hand: HandMarks,
    looked: Looked | None,
    camera: PhotoCamera,
    expected: Expected,
    rng: np.random.Generator,
) -> Array:
    """Return the covariance that leaving out parts of the view shows."""
    at_px = np.concatenate((pairs.plate_px, hand.plate_px))
    depths = with_distances(drawn_depths(mapping, at_px, rng), hand)
    count = len(pairs)
    # What a person marked holds the rest together, unless there is nothing else.
    left_out = np.arange(len(at_px)) < count if count else np.ones(len(at_px), bool)
    part = np.full(len(at_px), -1, dtype=np.int64)
    inverse_m = np.median(depths.inverse_m, axis=0)
    part[left_out] = parts_of_view(inverse_m[left_out], at_px[left_out, 0])

    def solve(kept: NDArray[np.bool_]) -> Array:
        some = BothSeen(pairs.plate_px[kept[:count]], pairs.photo_px[kept[:count]])
        marks = hand.some(kept[count:])
        found = solve_pairs(
            mapping,
            some,
            marks,
            looked,
            camera,
            expected,
            rng,
            depths_of_some(depths, kept),
        )
        return found.camera.offset_m

    return moved_by_parts(part, solve)


def _near_by(expected: Expected) -> Expected:
    """Return it of a photographer who stood where he meant to, with a sound lens.

    What is first found tells little of a step forward, of the lens and of things near
    by, which make up for one another.
    """
    return replace(expected, sd=np.minimum(expected.sd, _BEGIN_SD))


def _begun(
    mapping: Mapping,
    looked: Looked | None,
    camera: PhotoCamera,
    expected: Expected,
    hand: HandMarks,
    rng: np.random.Generator,
) -> tuple[BothSeen, StoodOff | None]:
    """Return pairs that look alike, and the camera that most of them agree on."""
    none = BothSeen(np.empty((0, 2)), np.empty((0, 2)))
    if looked is None:
        return none, None
    clear = some_pairs(looked.clear(), rng)
    if len(clear) + len(hand) < _LEAST_PAIRS:
        return none, None
    depths = with_distances(
        drawn_depths(mapping, np.concatenate((clear.plate_px, hand.plate_px)), rng),
        hand,
    )
    count = len(clear)
    groups = []
    first = looked.at_first()
    if first is not None:
        away = np.abs(clear.plate_px[:, None] - first.plate_px[None]).sum(axis=-1)
        groups.append(away.min(axis=1) < 1e-6)
    agree = agreeing_pairs(
        camera, depths.directions.mean(axis=0)[:count], clear.photo_px,
        _MISS_PX * looked.photo_factor,
    )  # fmt: skip
    if agree is not None:
        groups.append(agree)
    best: StoodOff | None = None
    most = 0
    if len(hand) >= _LEAST_MARKS:
        groups.append(np.zeros(count, dtype=np.bool_))
    for group in groups:
        which = np.concatenate((group, np.ones(len(hand), dtype=bool)))
        if which.sum() < _LEAST_PAIRS and not len(hand):
            continue
        chosen = BothSeen(clear.plate_px[group], clear.photo_px[group])
        some = depths_of_some(depths, which)
        solved = solve_pairs(mapping, chosen, hand, looked, camera, expected, rng, some)
        solved = solve_pairs(
            mapping, clear, hand, looked, solved.camera, expected, rng, depths
        )
        # A person's mark is worth several of the machine's.
        agreed = int(solved.inside[:count].sum() + 5 * solved.inside[count:].sum())
        if agreed > most:
            best, most = solved, agreed
    if best is None or best.inside.sum() < _LEAST_PAIRS:
        return none, None
    return clear, best
