"""Set up a search: skyline, terrain, priors and noise in one record."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wherestood.camera.priors import (
    CameraPrior,
    camera_prior,
    reversed_probability,
)
from wherestood.errors import InputError
from wherestood.evidence.camera_free import CameraFree, camera_free
from wherestood.evidence.items import Evidence, RidgeLine, SkylinePiece
from wherestood.evidence.lean import Lean
from wherestood.evidence.mark_table import NO_MARKS, MarkTable
from wherestood.evidence.marked import held_back, on_plate
from wherestood.evidence.noise import SkylineNoise
from wherestood.evidence.plate_rows import NOTHING_MARKED, OnPlate
from wherestood.evidence.profile import ProfileMaker, Profiles
from wherestood.evidence.ridge_samples import RidgeSamples, sample_ridge
from wherestood.evidence.samples import (
    FEWEST_BESIDE_OTHERS,
    FEWEST_BINS,
    SkylineSamples,
    sample_skyline,
)
from wherestood.evidence.stations import Stations
from wherestood.evidence.unknowns import CAMERA, COUNT
from wherestood.fix.area import Area
from wherestood.fix.beside import Beside
from wherestood.fix.ground_then import GroundThen
from wherestood.fix.lens import LensPrior, lens_prior
from wherestood.fix.ready_ground import ready_ground
from wherestood.fix.settings import LocateSettings
from wherestood.plate.scan import Plate
from wherestood.plate.skyline import Skyline
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.model import Terrain

__all__ = ["Hand", "Problem", "sampled_ridges", "set_up"]

Array = NDArray[np.float64]

#: Decimals of a pixel in a skyline's file.
KEPT_DECIMALS = 3

#: Sd of cover's trend and bend across the plate [m]: stands of trees end somewhere
#: (common practice).
COVER_TREND_SD_M = 3.0
#: Sd of the refraction coefficient from one day to another: by day over land k is
#: 0.13 +- 0.05 or so (common practice of trigonometric levelling).
REFRACTION_SD = 0.05


@dataclass(frozen=True)
class Hand:
    """Hold one reading of the plate: right way round, or left for right."""

    samples: SkylineSamples
    reversed: bool
    log_prior: float


@dataclass(frozen=True)
class Problem:
    """Hold all that a search needs.

    Attributes
    ----------
    hands : tuple of Hand
    maker : ProfileMaker
    area : Area
    lens : LensPrior
    camera : CameraPrior
    trimmed : bool
        Whether plate or print was cut down by an unknown amount.
    noise : SkylineNoise
    prior_mean, prior_sd : (unknowns,) float64 array
        Prior of the unknowns; the bearing's sd is infinite.
    settings : LocateSettings
    source : Terrain
        The terrain as handed over, before any refining.
    px_per_mm : float or None
        Scan pixels to a millimetre of plate, where known.
    ridges : tuple of RidgeSamples
        Lines below the skyline, on the upright positive.
    ridge_doubt : float
        Factor on every standard error of theirs.
    seen : OnPlate
        Marks tied to features, edges, waters and sizes, on the upright positive.
    free : CameraFree or None
        Evidence that needs no camera.
    held_back : MarkTable
        Marks that do not count, to test the answer by.
    then : GroundThen or None
        What was done to the ground for the plate's years; None where nothing is told.
    beside : Beside or None
        The other plates of its panorama.
    """

    hands: tuple[Hand, ...]
    maker: ProfileMaker
    area: Area
    lens: LensPrior
    camera: CameraPrior
    trimmed: bool
    noise: SkylineNoise
    prior_mean: Array
    prior_sd: Array
    settings: LocateSettings
    source: Terrain
    px_per_mm: float | None
    ridges: tuple[RidgeSamples, ...] = ()
    ridge_doubt: float = 1.0
    seen: OnPlate = NOTHING_MARKED
    free: CameraFree | None = None
    held_back: MarkTable = NO_MARKS
    then: GroundThen | None = None
    beside: Beside | None = None

    @property
    def plates(self) -> tuple[Problem, ...]:
        """Return the plates, each as if by itself: one, or those of a panorama."""
        if self.beside is None:
            return (self,)
        return (replace(self, beside=None), *self.beside.plates)

    def without_skyline(self) -> Problem:
        """Return it, one plate, as if no sky were seen."""
        hands = tuple(
            replace(hand, samples=replace(hand.samples, table=np.zeros((0, 5))))
            for hand in self.hands
        )
        return replace(self, hands=hands, seen=self.seen.without_skyline())

    def weigh_free(self, stations: Stations) -> Array:
        """Return the log likelihood at stations of all that needs no camera."""
        total = np.zeros(stations.count)
        for plate in self.plates:
            if plate.free is not None:
                total = total + plate.free.weigh(stations).log_likelihood
        return total

    def each(self, change: Callable[[Problem], Problem]) -> Problem:
        """Return it with every plate changed."""
        if self.beside is None:
            return change(self)
        plates = tuple(change(plate) for plate in self.beside.plates)
        return change(replace(self, beside=replace(self.beside, plates=plates)))

    def profiles(self, east_m: Array, north_m: Array) -> Profiles:
        """Return the horizons of stations, or their ground where no sky is seen."""
        if self.has_skyline:
            return self.maker.make(east_m, north_m)
        return self.maker.without_horizon(east_m, north_m)

    @property
    def has_skyline(self) -> bool:
        """Say whether there is a skyline to compare with the horizon."""
        return any(len(plate.hands[0].samples.table) > 0 for plate in self.plates)

    @property
    def marks(self) -> MarkTable:
        """Return the marks among what is marked."""
        return self.seen.marks

    @property
    def terrain(self) -> Terrain:
        """Return the terrain as searched."""
        return self.maker.model.terrain

    @property
    def curvature_per_m(self) -> float:
        """Return the drop over distance squared [1/m]."""
        return self.maker.model.curvature_per_m

    def doubled(self) -> Problem:
        """Return it with everything that was read or mapped twice as doubtful.

        Cover's trend is cover too; what is believed of the camera stays, and so does
        how often an item is a blunder.
        """
        prior_sd = self.prior_sd.copy()
        prior_sd[CAMERA + 1 : CAMERA + 3] *= 2.0
        return replace(
            self,
            noise=self.noise.doubled(),
            prior_sd=prior_sd,
            ridge_doubt=2.0 * self.ridge_doubt,
            seen=self.seen.doubled(),
            free=self.free and self.free.doubled(),
            beside=None if self.beside is None else self.beside.doubled(),
        )


def set_up(
    plate: Plate,
    terrain: Terrain,
    skyline: Skyline | None,
    area: Area,
    settings: LocateSettings,
    evidence: Evidence | None = None,
    first: Problem | None = None,
    among: Sequence[Evidence] = (),
) -> Problem:
    """Bring the parts of a search together.

    Parameters
    ----------
    skyline : Skyline or None
        Traced boundary of land and sky; None where no sky tells anything.
    evidence : Evidence, optional
        All else that is known: ridge lines, marks, what needs no camera.
    first : Problem, optional
        Another plate of the same panorama, whose terrain is ready.
    among : sequence of Evidence, optional
        All else that is known of each plate of the panorama, in their order.

    Raises
    ------
    InputError
        If terrain and settings differ in refraction.
    TerrainError
        If no height is known inside the ground searched.
    LensError
        If the limits on the lens leave no camera.
    SkylineError
        If too little skyline is traced.
    """
    _check_said_twice(terrain, settings)
    known = evidence or Evidence()
    samples = _samples(plate, skyline, known)
    lens = lens_prior(plate, samples.diagonal_px, settings)
    noise = SkylineNoise.usual(settings.surface)
    if first is None:
        window_rad = math.atan(samples.bin_width / math.exp(lens.mean))
        maker, then = ready_ground(terrain, area, settings, known, noise, window_rad)
    else:
        maker, then = first.maker, first.then
    height = settings.lens_height
    standing = maker.model.terrain
    if then is not None and then.ground is not None:
        standing = then.ground.standing
    standing_model = replace(maker.model, terrain=standing)
    trimmed = plate.trimmed or settings.trimmed
    camera = camera_prior(
        samples.width_px,
        samples.height_px,
        trimmed=trimmed,
        process=settings.process,
    )
    mean, sd = _priors(samples, lens, camera, height.sd_m, terrain.refraction)
    return Problem(
        _hands(samples, settings),
        maker,
        area,
        lens,
        camera,
        trimmed,
        noise,
        mean,
        sd,
        settings,
        terrain,
        _px_per_mm(plate),
        tuple(samples for _, samples in sampled_ridges(known.ridge_lines)),
        seen=on_plate(
            known,
            standing_model,
            samples.width_px,
            samples.height_px,
            settings.horizon_radius_m,
            samples.table,
            among,
        ),
        free=_camera_free(known, maker.model, area, camera),
        held_back=held_back(known, standing_model, samples.width_px, samples.height_px),
        then=then,
    )


def _samples(
    plate: Plate, skyline: Skyline | None, evidence: Evidence
) -> SkylineSamples:
    """Return a skyline as scored, or the plate's size without one."""
    if skyline is not None:
        alone = all(
            isinstance(item, SkylinePiece | RidgeLine) for item in evidence.items()
        )
        fewest = FEWEST_BINS if alone else FEWEST_BESIDE_OTHERS
        return sample_skyline(_as_kept(skyline), fewest)
    width, height = plate.width_px, plate.height_px
    return SkylineSamples(np.zeros((0, 5)), math.hypot(width, height), width, height)


def _camera_free(
    evidence: Evidence, model: HorizonModel, area: Area, camera: CameraPrior
) -> CameraFree | None:
    """Return the evidence that needs no camera, made ready; None if there is none."""
    ground = area.in_frame(model.terrain.frame)
    free = camera_free(evidence, model, ground, Lean.of(camera))
    return free if free.items else None


def sampled_ridges(
    ridges: Sequence[RidgeLine],
) -> list[tuple[RidgeLine, RidgeSamples]]:
    """Return the ridge lines that are long enough to score, with their samples."""
    found = [
        (ridge, sample_ridge(_as_kept(ridge.line), ridge.trust)) for ridge in ridges
    ]
    return [(ridge, samples) for ridge, samples in found if samples is not None]


def _as_kept(skyline: Skyline) -> Skyline:
    """Return a skyline as its file keeps it, so that a fix can be made again."""
    return replace(
        skyline,
        x_px=np.round(skyline.x_px, KEPT_DECIMALS),
        y_px=np.round(skyline.y_px, KEPT_DECIMALS),
        sd_px=np.round(skyline.sd_px, KEPT_DECIMALS),
    )


def _check_said_twice(terrain: Terrain, settings: LocateSettings) -> None:
    """Refuse what the search would pass over in silence."""
    if settings.refraction != terrain.refraction:
        raise InputError(
            f"The refraction coefficient is {settings.refraction:g} in the settings, "
            f"but the elevation model was opened with {terrain.refraction:g}.",
            f"Open it with refraction={settings.refraction:g}, or leave refraction "
            "out of the settings.",
        )


def _px_per_mm(plate: Plate) -> float | None:
    if plate.px_per_mm is not None or plate.size_mm is None:
        return plate.px_per_mm
    return max(plate.width_px, plate.height_px) / max(plate.size_mm)


def _hands(samples: SkylineSamples, settings: LocateSettings) -> tuple[Hand, ...]:
    if settings.reversed is not None:
        only = samples.mirrored() if settings.reversed else samples
        return (Hand(only, settings.reversed, 0.0),)
    share = reversed_probability(settings.process)
    return (
        Hand(samples, False, math.log(1.0 - share)),
        Hand(samples.mirrored(), True, math.log(share)),
    )


def _priors(
    samples: SkylineSamples,
    lens: LensPrior,
    camera: CameraPrior,
    lens_height_sd_m: float,
    refraction: float,
) -> tuple[Array, Array]:
    """Return prior mean and sd in the order of `UNKNOWNS`."""
    mean = np.zeros(COUNT)
    sd = np.zeros(COUNT)
    diagonal_px = samples.diagonal_px
    sd[0] = np.inf
    mean[1], sd[1] = lens.mean, lens.sd
    # The climb knows normal densities: of a mixture or a convolution, its moments.
    sd[2], sd[3] = camera.tilt_rad.sd, camera.roll_sd_rad
    sd[4] = camera.rise.sd_px / diagonal_px
    sd[5] = camera.cross.sd_px / diagonal_px
    mean[6], sd[6] = camera.k1_mean, camera.k1_sd
    sd[7] = camera.vertical_scale_sd
    sd[8], sd[9] = camera.warp_sds
    sd[CAMERA] = lens_height_sd_m  # stands in until noise and ground are known
    sd[CAMERA + 1] = sd[CAMERA + 2] = COVER_TREND_SD_M
    # The unknown is a share of the drop left by the usual refraction.
    sd[CAMERA + 3] = REFRACTION_SD / max(1.0 - refraction, 0.05)
    sd[CAMERA + 4] = sd[CAMERA + 5] = 1.0  # set from the cell's side, level by level
    return mean, sd
