"""Draw invented sheets of known warp, and pins on them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.plans import Pins

Floats = NDArray[np.float64]

SHEET_PX = (4000.0, 3000.0)
METRES_PER_PX = 0.3
TROUBLES = ("turned", "stretched", "folded", "wrong corner", "photographed")


@dataclass(frozen=True)
class InventedSheet:
    """Hold a sheet's true places and the pins somebody put on it."""

    true_m: Callable[[Floats], Floats]
    pins: Pins
    wrong: int | None


def invented_sheet(
    trouble: str, rng: np.random.Generator, pins: int | None = None
) -> InventedSheet:
    """Make a sheet with one kind of trouble; every one is curled a little too."""
    size = np.array(SHEET_PX)
    turn = rng.uniform(0.0, 2.0 * np.pi)
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    stretch = np.eye(2)
    if trouble == "stretched":
        stretch = np.diag(1.0 + rng.normal(0.0, 0.015, 2))
        stretch[0, 1] = rng.normal(0.0, 0.005)
    keystone = np.zeros(2)
    if trouble == "photographed":
        keystone = rng.normal(0.0, 0.08, 2)
    half = float(np.linalg.norm(size)) / 2.0
    diagonal_m = 2.0 * half * METRES_PER_PX
    curl = rng.normal(0.0, 0.0012 * diagonal_m, (2, 3))
    waves = rng.uniform(0.5, 1.5, (2, 3)), rng.uniform(0.0, 2.0 * np.pi, (2, 3))
    fold_turn = rng.uniform(0.0, 2.0 * np.pi)
    across = np.array([np.cos(fold_turn), np.sin(fold_turn)])
    fold_at = rng.uniform(-0.3, 0.3)
    shift_m = rng.normal(0.0, 0.003 * diagonal_m, 2) if trouble == "folded" else 0.0
    skew = rng.normal(0.0, 0.004) if trouble == "folded" else 0.0
    middle_m = rng.uniform(-5e4, 5e4, 2)

    def true_m(sheet_px: Floats) -> Floats:
        u = (sheet_px - size / 2.0) / half * [1.0, -1.0]
        flat = u / (1.0 + u @ keystone)[:, None]
        ground = flat @ (stretch @ spin).T * half * METRES_PER_PX
        bent = np.stack(
            [
                sum(
                    curl[axis, k]
                    * np.sin(
                        np.pi * waves[0][axis, k] * u[:, k % 2] + waves[1][axis, k]
                    )
                    for k in range(3)
                )
                for axis in (0, 1)
            ],
            axis=1,
        )
        beyond = (u @ across > fold_at)[:, None]
        turned = np.stack([-ground[:, 1], ground[:, 0]], axis=1) * skew
        return middle_m + ground + bent + beyond * (shift_m + turned)

    count = pins or int(rng.integers(5, 15))
    corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * 0.8 + 0.1
    corners = corners + rng.uniform(-0.08, 0.08, (4, 2))
    inside = rng.uniform(0.05, 0.95, (max(count - 4, 0), 2))
    places = np.vstack([corners, inside])[:count] * size
    px_sd, m_sd = 2.0, 1.5
    ground = true_m(places) + rng.normal(0.0, m_sd, (count, 2))
    wrong = None
    if trouble == "wrong corner":
        wrong = int(rng.integers(0, count))
        way = rng.uniform(0.0, 2.0 * np.pi)
        ground[wrong] += rng.uniform(20.0, 200.0) * np.array([np.cos(way), np.sin(way)])
    put = places + rng.normal(0.0, px_sd, (count, 2))
    pins_put = Pins.of(put, ground, sheet_sd_px=px_sd, ground_sd_m=m_sd)
    return InventedSheet(true_m, pins_put, wrong)
