"""Turn the cells of one place into the answer for its station and camera."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.unknowns import COUNT
from wherestood.fix.cells import Cells
from wherestood.fix.posterior import Place, Posterior
from wherestood.fix.problem import Problem
from wherestood.fix.result import CameraAnswer, StationAnswer
from wherestood.fix.sight import INDEX, sight_of, sight_variances

__all__ = ["INDEX", "Chosen", "answer_for"]

Array = NDArray[np.float64]
#: Cameras of a place whose sights are judged: the likeliest.
_SIGHTS = 24


@dataclass(frozen=True)
class Chosen:
    """Hold the answer for one place, and the very camera that fits best there.

    Attributes
    ----------
    station, camera : StationAnswer, CameraAnswer
    theta : (unknowns,) float64 array
        The unknowns of the best camera at any cell of the place.
    cell_m : (3,) float64 array
        East and north of that cell, and the height of the lens there [m].
    hand : int
        Which hand of the plate it is.
    more_theta : (plates - 1, unknowns) float64 array or None
        Those of the other plates of its panorama, at the same cell.
    """

    station: StationAnswer
    camera: CameraAnswer
    theta: Array
    hand: int
    cell_m: Array
    more_theta: Array | None = None

    def of_plate(self, plate: int) -> Chosen:
        """Return it with the unknowns of one plate of a panorama."""
        if plate == 0 or self.more_theta is None:
            return replace(self, more_theta=None)
        return replace(self, theta=self.more_theta[plate - 1], more_theta=None)

    def starts(self, hands: int, modes: int) -> Array:
        """Return it as a starting point for one cell, NaN for all other modes."""
        theta = self.theta
        if self.more_theta is not None:
            theta = np.concatenate((theta[None], self.more_theta))
        begin = np.full((1, hands, modes, *theta.shape), np.nan)
        begin[0, self.hand, 0] = theta
        return begin


def answer_for(problem: Problem, posterior: Posterior, place: Place) -> Chosen:
    """Sum up station and camera over the cells of a place."""
    cells = posterior.cells.take(place.members)
    # Cameras count by their own scores: a cell that stands well only among its
    # neighbours has no good camera.
    score = cells.mode_score + 2.0 * np.log(cells.side_m)[:, None, None]
    share = np.exp(score - score.max())
    hand = int(np.argmax(share.sum(axis=(0, 2))))
    joint = share[:, hand].ravel() / share[:, hand].sum()
    theta = cells.theta[:, hand].reshape(-1, COUNT)
    sd = cells.sd[:, hand].reshape(-1, COUNT)
    best = int(np.argmax(joint))
    station = _station(problem, posterior, place)
    inner = _sight_within(problem, cells, theta, joint, hand)
    camera = _camera(problem, theta, sd, joint, hand, station, inner)
    where = best // cells.mode_score.shape[2]
    cell_m = np.array(
        (
            cells.east_m[where],
            cells.north_m[where],
            cells.ground_m[where] + problem.maker.lens_height_m,
        )
    )
    more = None
    if cells.more_theta is not None:
        more = cells.more_theta[where, hand, best % cells.mode_score.shape[2]]
    return Chosen(station, camera, theta[best], hand, cell_m, more)


def _sight_within(
    problem: Problem, cells: Cells, theta: Array, joint: Array, hand: int
) -> tuple[float, float]:
    """Return the sight's variances [rad2] about single cameras, on average."""
    likeliest = np.argsort(-joint, kind="stable")[:_SIGHTS]
    likeliest = likeliest[joint[likeliest] > 0.0]
    where = likeliest // cells.mode_score.shape[2]
    parts = sight_variances(
        problem, problem.hands[hand], cells.take(where), theta[likeliest]
    )
    bearing, elevation = (
        float(np.average(part, weights=joint[likeliest])) for part in parts
    )
    return bearing, elevation


def _station(problem: Problem, posterior: Posterior, place: Place) -> StationAnswer:
    cells = posterior.cells.take(place.members)
    weight = posterior.mass[place.members]
    weight = weight / weight.sum()
    inner = cells.side_m**2 / 12.0

    def spread(values: Array, middle: float) -> float:
        return float(np.sqrt(np.sum(weight * ((values - middle) ** 2 + inner))))

    at = (np.array([place.east_m]), np.array([place.north_m]))
    ground, ground_sd = problem.maker.heights(*at)
    lens_m = problem.maker.lens_height_m
    lon, lat = problem.terrain.frame.to_lonlat(*at)
    return StationAnswer(
        float(lon[0]),
        float(lat[0]),
        float(ground[0]) + lens_m,
        spread(cells.east_m, place.east_m),
        spread(cells.north_m, place.north_m),
        math.hypot(float(ground_sd[0]), spread(cells.ground_m, float(ground[0]))),
        place.east_m,
        place.north_m,
    )


def _camera(
    problem: Problem,
    theta: Array,
    sd: Array,
    joint: Array,
    hand: int,
    station: StationAnswer,
    sight_within: tuple[float, float],
) -> CameraAnswer:
    samples = problem.hands[hand].samples
    diagonal = samples.diagonal_px
    first = int(np.argmax(joint))

    def turned(angles: Array) -> tuple[float, float]:
        off = (angles - angles[first] + np.pi) % (2 * np.pi) - np.pi
        middle = float(np.sum(joint * off))
        between = float(np.sum(joint * (off - middle) ** 2))
        return float(angles[first]) + middle, between

    def linear(name: str) -> tuple[float, float]:
        values, inner = theta[:, INDEX[name]], sd[:, INDEX[name]]
        middle = float(np.sum(joint * values))
        return middle, float(
            np.sqrt(np.sum(joint * ((values - middle) ** 2 + inner**2)))
        )

    bearing, between = turned(theta[:, 0])
    bearing_sd = math.sqrt(between + float(np.sum(joint * sd[:, 0] ** 2)))
    sight_bearing, sight_elevation = sight_of(theta)
    sight, sight_between = turned(sight_bearing)
    elevation = float(np.sum(joint * sight_elevation))
    elevation_between = float(np.sum(joint * (sight_elevation - elevation) ** 2))
    ln_c, ln_c_sd = linear("log_distance")
    tilt, tilt_sd = linear("tilt")
    roll, roll_sd = linear("roll")
    rise, rise_sd = linear("rise")
    cross, cross_sd = linear("cross")
    k1, k1_sd = linear("radial")
    convergence = problem.terrain.frame.convergence_deg(
        station.lon_deg, station.lat_deg
    )
    c_px = math.exp(ln_c) * diagonal
    px_per_mm = problem.px_per_mm
    sds = {
        "bearing_deg": math.degrees(bearing_sd),
        "tilt_deg": math.degrees(tilt_sd),
        "roll_deg": math.degrees(roll_sd),
        "principal_distance_px": ln_c_sd * c_px,
        "rise_px": rise_sd * diagonal,
        "cross_px": cross_sd * diagonal,
        "k1": k1_sd,
        "sight_bearing_deg": math.degrees(math.sqrt(sight_between + sight_within[0])),
        "sight_elevation_deg": math.degrees(
            math.sqrt(elevation_between + sight_within[1])
        ),
    }
    prior = problem.prior_sd
    shares = {
        "tilt_deg": (tilt_sd / prior[2]) ** 2,
        "roll_deg": (roll_sd / prior[3]) ** 2,
        "principal_distance_px": (ln_c_sd / problem.lens.sd) ** 2,
        "rise_px": (rise_sd / prior[4]) ** 2,
        "cross_px": (cross_sd / prior[5]) ** 2,
        "k1": (k1_sd / prior[6]) ** 2,
        "bearing_deg": (bearing_sd / (math.pi / math.sqrt(3.0))) ** 2,
    }
    grid_deg = math.degrees(bearing) % 360.0
    return CameraAnswer(
        (grid_deg + convergence) % 360.0,
        grid_deg,
        math.degrees(tilt),
        math.degrees(roll),
        c_px,
        c_px / px_per_mm if px_per_mm else None,
        rise * diagonal,
        rise * diagonal / px_per_mm if px_per_mm else None,
        cross * diagonal,
        cross * diagonal / px_per_mm if px_per_mm else None,
        k1,
        problem.hands[hand].reversed,
        (math.degrees(sight) + convergence) % 360.0,
        math.degrees(elevation),
        sds,
        {name: min(1.0, share) for name, share in shares.items()},
    )
