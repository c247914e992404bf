"""Solve invented plates together: what pairs gain, and what fifty plates cost.

*Pairs.* Two plates of different stations, each with a weak fix of its own: four known
peaks a kilometre and more off, lens, tilt, roll, rise and cross as usual in the trade,
so that the station is known along a strip. They share six things that nobody has
placed, marked where they meet the ground. Asked are the joint region's area over that
of the plate's own fix, and how often regions hold the true station. Everything is drawn
from what is believed, so that coverage is a property of the solving alone.

*Fifty plates.* 400 things, six marks each in the mean; seconds and memory beside a
dense solve of the same normal equations (LAPACK's, by NumPy).

All places are invented.
"""

from __future__ import annotations

import json
import sys
import time
import tracemalloc
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.stats import binom

from wherestood.ground.cameras import PlateCameras
from wherestood.ground.together import (
    Link,
    PlatePrior,
    Thing,
    Together,
    solve_together,
)
from wherestood.ground.together.plate_prior import as_draws
from wherestood.ground.together.projected import seen_at

Array = NDArray[np.float64]
WIDTH_PX, HEIGHT_PX = 4000, 3000
DIAGONAL_PX = 5000.0
READING_SD_PX = 2.0
#: What is believed of a camera before anything is marked: station [m], lens height [m],
#: bearing, tilt, roll [rad], log distance, rise, cross [px], k1, scale, warps [px].
BELIEVED_SD = np.array(
    [300.0, 300.0, 2.0, 0.1, 0.026, 0.026, 0.2, 300.0, 120.0, 0.01, 0.002, 5.0, 3.0]
)
PEAK_SD_M = np.array([15.0, 15.0, 8.0])
#: The feet of things stand on the ground, as well as an elevation model knows it.
GROUND_SD_M = 2.0
PAIRS, SHARED = 100, 6
#: An own fix is kept as so many draws.
DRAWS = 300


@dataclass(frozen=True)
class Pair:
    """Hold two plates as their own fixes have them, their things and the truth."""

    plates: tuple[PlatePrior, ...]
    things: tuple[Thing, ...]
    links: tuple[Link, ...]
    truth: Array
    places_m: Array


def truth_of(station_m: Array, target_m: Array, rng: np.random.Generator) -> Array:
    """Return a camera that looks at a place, its movements as believed."""
    bearing = float(np.arctan2(*(target_m - station_m)[:2]))
    middle = np.array(
        [*station_m[:2], station_m[2], bearing, 0.0, 0.0, np.log(0.92 * DIAGONAL_PX)]
        + [0.0] * 6
    )
    spread = BELIEVED_SD.copy()
    spread[:4] = 0.0
    return middle + spread * rng.standard_normal(len(spread))


def believed(truth: Array, name: str, rng: np.random.Generator) -> PlatePrior:
    """Return what is believed of a camera before anything is marked."""
    mean = truth + BELIEVED_SD * rng.standard_normal(len(truth))
    # Lens and movements are believed about the usual; the truth was drawn from that.
    mean[4:] = [0.0, 0.0, np.log(0.92 * DIAGONAL_PX)] + [0.0] * 6
    return PlatePrior(name, mean, np.diag(BELIEVED_SD**2), WIDTH_PX, HEIGHT_PX)


def marked(truth: Array, places_m: Array, rng: np.random.Generator) -> Array:
    """Return where a camera shows places, read with the usual care [px]."""
    cameras = PlateCameras(as_draws(truth[None]), WIDTH_PX, HEIGHT_PX)
    x, y = seen_at(cameras, places_m[None], 0.0)
    shown = np.column_stack((x[0], y[0]))
    return shown + READING_SD_PX * rng.standard_normal(shown.shape)


def peaks_before(truth: Array, rng: np.random.Generator, count: int = 4) -> Array:
    """Return summits a kilometre and more off, spread across the plate."""
    off = np.linspace(-0.32, 0.32, count) + rng.uniform(-0.06, 0.06, count)
    distance = rng.uniform(800.0, 4000.0, count)
    bearing = truth[3] + off
    height = truth[2] + distance * rng.uniform(0.01, 0.09, count)
    return np.column_stack(
        (
            truth[0] + distance * np.sin(bearing),
            truth[1] + distance * np.cos(bearing),
            height,
        )
    )


def own_fix(truth: Array, name: str, rng: np.random.Generator) -> PlatePrior:
    """Return a plate's weak fix of its own, kept as draws."""
    before = believed(truth, name, rng)
    peaks = peaks_before(truth, rng)
    known = peaks + PEAK_SD_M * rng.standard_normal(peaks.shape)
    things = [
        Thing(f"peak {i}", tuple(at), tuple(PEAK_SD_M)) for i, at in enumerate(known)
    ]
    links = [
        Link(0, i, *at, READING_SD_PX) for i, at in enumerate(marked(truth, peaks, rng))
    ]
    alone = solve_together([before], things, links).plates[0]
    draws = alone.draws(rng, DRAWS)
    return PlatePrior.of_draws(name, PlateCameras(draws, WIDTH_PX, HEIGHT_PX))


def invent_pair(seed: int) -> Pair:
    """Return a pair of plates that look at one foreground from two stations."""
    rng = np.random.default_rng([seed, 6])
    target = np.array([0.0, 0.0, 0.0])
    turn = rng.uniform(0.0, 2.0 * np.pi)
    apart = np.radians(rng.uniform(25.0, 100.0)) * np.array([-0.5, 0.5])
    away = rng.uniform(120.0, 350.0, 2)
    truths = []
    for angle, distance in zip(turn + apart, away, strict=True):
        station = np.array(
            [distance * np.sin(angle), distance * np.cos(angle), rng.uniform(2.0, 20.0)]
        )
        truths.append(truth_of(station, target, rng))
    truth = np.array(truths)
    places = np.empty((0, 3))
    while len(places) < SHARED:
        place = np.append(
            rng.uniform(-90.0, 90.0, 2), GROUND_SD_M * rng.standard_normal()
        )
        shown = [marked(one, place[None], np.random.default_rng(0))[0] for one in truth]
        inside = all(0.0 < x < WIDTH_PX and 0.0 < y < HEIGHT_PX for x, y in shown)
        places = np.vstack((places, place)) if inside else places
    plates = tuple(own_fix(one, f"plate {i + 1}", rng) for i, one in enumerate(truth))
    links = tuple(
        Link(p, t, *at, READING_SD_PX)
        for p, one in enumerate(truth)
        for t, at in enumerate(marked(one, places, rng))
    )
    things = tuple(
        Thing(f"thing {i + 1}", above_ground_m=0.0, above_ground_sd_m=GROUND_SD_M)
        for i in range(SHARED)
    )
    return Pair(plates, things, links, truth, places)


def solve_pair(pair: Pair) -> Together:
    """Solve a pair together."""
    return solve_together(pair.plates, pair.things, pair.links, ground=level)


def level(east_m: Array, north_m: Array) -> Array:
    """Return the height of the ground: the invented town is level [m]."""
    return np.zeros(np.broadcast(east_m, north_m).shape)


def study_pairs(count: int = PAIRS, first: int = 0) -> dict[str, float]:
    """Return what pairs gain, and how often regions hold the truth."""
    shares, held, alone, things, unsettled = [], [], [], [], 0
    for seed in range(first, first + count):
        pair = invent_pair(seed)
        together = solve_pair(pair)
        unsettled += not together.settled
        for plate, truth in zip(together.plates, pair.truth, strict=True):
            shares.append(plate.area90_m2 / plate.own_area90_m2)
            held.append(plate.holds(*truth[:2]))
            own = replace(plate, mean=plate.own.mean, covariance=plate.own.covariance)
            alone.append(own.holds(*truth[:2]))
        for thing, place in zip(together.things, pair.places_m, strict=True):
            things.append(thing.holds(*place[:2]))
    return {
        "pairs": count,
        "area_share_median": float(np.median(shares)),
        "first_held": int(sum(held[::2])),
        "all_held": float(np.mean(held)),
        "alone_held": float(np.mean(alone)),
        "things_held": float(np.mean(things)),
        "unsettled": int(unsettled),
    }


def invent_many(plates: int = 50, things: int = 400, seed: int = 1) -> Pair:
    """Return many plates of one town, and things that each some of them show."""
    rng = np.random.default_rng(seed)
    truths, priors = [], []
    for number in range(plates):
        station = np.append(rng.uniform(-600.0, 600.0, 2), rng.uniform(2.0, 30.0))
        target = np.append(rng.uniform(-250.0, 250.0, 2), 0.0)
        truth = truth_of(station, target, rng)
        sd = BELIEVED_SD * np.r_[0.1, 0.1, 0.5, 0.2, np.full(9, 0.5)]
        mean = truth + sd * rng.standard_normal(len(truth))
        truths.append(truth)
        priors.append(
            PlatePrior(f"plate {number + 1}", mean, np.diag(sd**2), WIDTH_PX, HEIGHT_PX)
        )
    truth = np.array(truths)
    places, links = [], []
    while len(places) < things:
        place = np.append(rng.uniform(-400.0, 400.0, 2), rng.uniform(0.0, 12.0))
        shown = []
        for p, one in enumerate(truth):
            if np.hypot(*(place - one[:3])[:2]) < 30.0:
                continue
            at = marked(one, place[None], rng)[0]
            if 0.0 < at[0] < WIDTH_PX and 0.0 < at[1] < HEIGHT_PX:
                shown.append((p, at))
        if len(shown) < 2:
            continue
        order = rng.permutation(len(shown))[:6]
        links += [Link(shown[i][0], len(places), *shown[i][1]) for i in order]
        places.append(place)
    told = tuple(Thing(f"thing {i + 1}") for i in range(things))
    return Pair(tuple(priors), told, tuple(links), truth, np.array(places))


def main() -> list[dict[str, object]]:
    """Return the rows of fifty plates and of a hundred pairs."""
    from wherestood.ground.together.problem import Problem

    many = invent_many()
    began = time.perf_counter()
    together = solve_together(many.plates, many.things, many.links)
    seconds = time.perf_counter() - began
    off = np.array([one.mean[:2] for one in together.plates]) - many.truth[:, :2]
    problem = Problem(many.plates, many.things, many.links, (), (), None, 0.0)
    values = np.concatenate(
        [
            *(one.mean for one in together.plates),
            *(one.place_m for one in together.things),
        ]
    )
    equations = problem.equations(values, problem.heard(values, None))
    ours, our_peak, ours_step = _timed(
        lambda: _with_covariance(equations.reduced(), equations.gradient)
    )
    whole = equations.normal
    theirs, their_peak, their_step = _timed(
        lambda: _dense(whole.toarray(), equations.gradient)
    )
    apart = float(np.abs(ours_step - their_step).max())
    pairs = study_pairs()
    low, high = binom.interval(0.95, pairs["pairs"], 0.9)
    return [
        {
            "what": "several plates together: 50 plates, 400 things, a step and all "
            "covariances, beside a dense inverse of the same equations",
            "ratio": round(theirs / ours, 1),
            "least_ratio": 1.0,
            "unknowns": whole.shape[0],
            "marks": len(many.links),
            "seconds": f"{ours:.2f} (theirs {theirs:.2f})",
            "MB": f"{our_peak / 1e6:.0f} (theirs {their_peak / 1e6:.0f})",
            "apart": f"{apart:.1e}",
            "whole solving": f"{seconds:.1f} s, {together.rounds} rounds",
            "stations off": f"{np.sqrt((off**2).sum(axis=1).mean()):.2f} m",
        },
        {
            "what": "several plates together: pairs with six shared things, joint "
            "region over own",
            "pairs": pairs["pairs"],
            "median share of area": f"{pairs['area_share_median']:.3f}, asked at most "
            "0.333",
            "true station held": f"{pairs['first_held']} of {pairs['pairs']} first "
            f"plates, asked {low:.0f} to {high:.0f}",
            "of all": f"{pairs['all_held']:.3f}; own fixes alone "
            f"{pairs['alone_held']:.3f}; things {pairs['things_held']:.3f}",
        },
    ]


def _with_covariance(reduced: object, gradient: Array) -> Array:
    reduced.covariance()  # type: ignore[attr-defined]
    step: Array = reduced.step(gradient)  # type: ignore[attr-defined]
    return step


def _dense(normal: Array, gradient: Array) -> Array:
    inverse = np.linalg.inv(normal)
    return np.asarray(-inverse @ gradient)


def _timed(work: object) -> tuple[float, int, Array]:
    tracemalloc.start()
    work()  # type: ignore[operator]
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    seconds, found = np.inf, np.empty(0)
    for _ in range(3):
        began = time.perf_counter()
        found = work()  # type: ignore[operator]
        seconds = min(seconds, time.perf_counter() - began)
    return float(seconds), int(peak), found


if __name__ == "__main__":
    if len(sys.argv) > 1:
        print(json.dumps(study_pairs(int(sys.argv[1])), indent=1))
    else:
        for row in main():
            print(json.dumps(row, indent=1))
