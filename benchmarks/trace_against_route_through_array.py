"""Time the cheapest line against scikit-image's on the same costs.

Both find a line from the left edge to the right of a 12-megapixel image. The
program's moves one column at a time and pays for each row of rise; scikit-image's
`route_through_array` moves to any of eight neighbours and pays for each pixel that
it enters. Compiling and reading are left out.
"""

from __future__ import annotations

import json
import time

import numpy as np
from numpy.typing import NDArray
from skimage.graph import route_through_array

from wherestood.plate.best_path import cheapest_line

WIDTH_PX, HEIGHT_PX = 4000, 3000
STEP_COST = 0.6
JUMP_COST = 20.0
ROUNDS = 3
LEAST_RATIO = 10.0


def invented_costs(width_px: int, height_px: int) -> NDArray[np.float32]:
    """Return the (width, height) costs of an invented noisy ridge, all above 0."""
    rng = np.random.default_rng(20)
    x = np.arange(width_px)
    ridge = height_px * (0.5 + 0.03 * np.sin(x / 310.0) + 0.003 * np.sin(x / 41.0))
    row = np.arange(height_px)[None, :]
    near = np.exp(-(((row - ridge[:, None]) / 3.0) ** 2))
    noise = rng.uniform(0.0, 0.3, (width_px, height_px))
    return (1.0 - 0.9 * near + noise).astype(np.float32)


def main() -> dict[str, float | str]:
    """Return one row: seconds of each, their ratio, and how far the lines differ."""
    costs = invented_costs(WIDTH_PX, HEIGHT_PX)
    cheapest_line(costs[:50], STEP_COST, JUMP_COST)  # compiled here, not timed
    ours_s = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        line = cheapest_line(costs, STEP_COST, JUMP_COST)
        ours_s.append(time.perf_counter() - start)
    ends = [(0, int(line[0])), (WIDTH_PX - 1, int(line[-1]))]
    start = time.perf_counter()
    path, _ = route_through_array(costs, *ends, fully_connected=True, geometric=False)
    theirs_s = time.perf_counter() - start
    steps = np.asarray(path)
    apart = np.abs(steps[:, 1] - line[steps[:, 0]])
    return {
        "what": "trace of 12 megapixels against route_through_array",
        "ours_s": round(min(ours_s), 3),
        "theirs_s": round(theirs_s, 3),
        "ratio": round(theirs_s / min(ours_s), 1),
        "least_ratio": LEAST_RATIO,
        "median_apart_px": float(np.median(apart)),
    }


if __name__ == "__main__":
    print(json.dumps(main()))
