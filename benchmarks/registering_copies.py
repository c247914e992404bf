"""Measure how well two scans of one plate are registered.

Invented pairs (``tests/plate/copies/invented_pairs.py``): the copy is photographed
at up to 15 degrees, stretched unequally by up to 1%, trimmed, reversed, toned, a
negative, damaged, screened, or all of these. The error is the distance between where a
point of the copy is carried and where it belongs, in pixels of the reference, over what
both show. Seeds are fixed. Run::

    python benchmarks/registering_copies.py [PAIRS [WIDTH_PX]]
"""

from __future__ import annotations

import importlib.util
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

from wherestood.plate.copies.register import Picture, register

SEED = 60_000
CASES: dict[str, dict[str, Any]] = {
    "stretch": {"stretch": True},
    "tilt": {"tilt": True},
    "reversed": {"mirrored": True},
    "trimmed": {"trim": True},
    "toned, negative": {"toned": True, "negative": True},
    "damaged": {"damaged": True},
    "dot screen": {"screen_px": 5.0},
    "lens term": {"k1": True},
    "all but screen": {
        "stretch": True,
        "tilt": True,
        "mirrored": True,
        "trim": True,
        "toned": True,
        "damaged": True,
    },
}


def _invent() -> Any:
    path = Path(__file__).parents[1] / "tests/plate/copies/invented_pairs.py"
    spec = importlib.util.spec_from_file_location("invented_pairs", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["invented_pairs"] = module
    spec.loader.exec_module(module)
    return module.invented_pair


def _drawn(case: dict[str, Any], rng: np.random.Generator) -> dict[str, Any]:
    """Draw amounts for what a case says happens."""
    drawn = {key: value for key, value in case.items() if key not in ("tilt", "trim")}
    drawn["turn_deg"] = float(rng.normal(0.0, 2.0))
    drawn["size"] = float(rng.uniform(0.7, 1.3))
    if "stretch" in case:
        drawn["stretch"] = float(rng.choice([0.99, 1.01]))
    if "tilt" in case:
        drawn["tilt_deg"] = float(rng.uniform(5.0, 15.0))
    if "trim" in case:
        left, top, right, bottom = rng.uniform(0.0, 0.2, 4)
        drawn["keep"] = (left, top, 1.0 - right, 1.0 - bottom)
    if "k1" in case:
        drawn["k1"] = float(rng.uniform(-0.06, 0.06))
    return drawn


def study(pairs: int, width_px: int) -> None:
    """Print a row for every case."""
    invent = _invent()
    print(f"{pairs} pairs a case, reference {width_px} px wide")
    print(f"{'case':16s} found  median  95%   worst pair  share in 1 sd  s a pair")
    for number, (name, case) in enumerate(CASES.items()):
        medians, high, inside, spent = [], [], [], 0.0
        for index in range(pairs):
            rng = np.random.default_rng([SEED, number, index])
            height_px = round(0.75 * width_px)
            pair = invent(
                SEED + index,
                width_px=width_px,
                height_px=height_px,
                **_drawn(case, rng),
            )
            both = [
                Picture(grey, grey.shape[1], grey.shape[0])
                for grey in (pair.copy, pair.reference)
            ]
            start = time.perf_counter()
            found = register(*both)
            spent += time.perf_counter() - start
            if found is None:
                continue
            points = rng.uniform(0.0, pair.copy.shape[::-1], (400, 2))
            truth = pair.true_target(points)
            size = pair.reference.shape[::-1]
            shown = (truth > 0.0).all(axis=1) & (truth < size).all(axis=1)
            carried, covariance = found.carry(points[shown])
            miss = np.hypot(*(carried - truth[shown]).T)
            sd = np.sqrt(covariance.trace(axis1=1, axis2=2))
            medians.append(float(np.median(miss)))
            high.append(float(np.percentile(miss, 95)))
            inside.append(float((miss < sd).mean()))
        print(
            f"{name:16s} {len(medians):3d}/{pairs:<3d} {np.median(medians):6.3f} "
            f"{np.median(high):6.3f}  {max(medians):6.3f}      {np.mean(inside):6.2f}"
            f"         {spent / pairs:5.2f}"
        )


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:]]
    study(*(given + [20, 800][len(given) :]))
