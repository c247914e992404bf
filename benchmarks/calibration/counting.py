"""Count what the kept results say."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.stats import binom

from calibration.searching import LEVELS
from calibration.trying import CHANCE, SPAN_M

Line = dict[str, str]

#: A horizon nearer than this, in the median, is near [m].
NEAR_M = 1500.0
#: A skyline that scatters more than this about a straight line has relief [deg].
RELIEF_DEG = 1.0
#: Regions of a perfect program hold so often outside the band once in a hundred.
BAND = 0.99


@dataclass(frozen=True)
class Held:
    """Hold how often regions of some plates held the truth.

    Attributes
    ----------
    name : str
    count : int
    held : tuple of int
        By the 50, 90 and 99% regions.
    area_ha : float
        Median area of the 90% region [ha]; NaN without plates.
    """

    name: str
    count: int
    held: tuple[int, ...]
    area_ha: float


def numbers(lines: list[Line], name: str) -> np.ndarray:
    """Return a column as numbers, NaN where nothing is said."""
    return np.array([float(line.get(name) or "nan") for line in lines])


def tried_lines(lines: list[Line]) -> list[Line]:
    """Return the plates that were tried, less those that could not be."""
    return [line for line in lines if not line.get("left_out")]


def held_by(name: str, lines: list[Line]) -> Held:
    """Count how often the regions of some plates held the truth."""
    denser = numbers(lines, "denser")
    held = tuple(int((denser < level).sum()) for level in LEVELS)
    area = numbers(lines, "area_90_ha")
    median = float(np.median(area)) if len(lines) else math.nan
    return Held(name, len(lines), held, median)


def held_in_parts(lines: list[Line]) -> list[Held]:
    """Count all plates, then by horizon, relief and ground."""

    def where(wanted: Callable[[Line], bool]) -> list[Line]:
        return [line for line in lines if wanted(line)]

    near, far = f"under {NEAR_M / 1000:g} km", f"{NEAR_M / 1000:g} km and beyond"
    return [
        held_by("all", lines),
        held_by(f"horizon {near}", where(lambda a: float(a["horizon_m"]) < NEAR_M)),
        held_by(f"horizon {far}", where(lambda a: float(a["horizon_m"]) >= NEAR_M)),
        held_by(
            f"relief under {RELIEF_DEG:g} deg",
            where(lambda a: float(a["relief_deg"]) < RELIEF_DEG),
        ),
        held_by(
            f"relief {RELIEF_DEG:g} deg and more",
            where(lambda a: float(a["relief_deg"]) >= RELIEF_DEG),
        ),
        held_by("real ground", where(lambda a: a["ground"] == "real")),
        held_by("invented ground", where(lambda a: a["ground"] == "invented")),
    ]


def band(count: int, level: float) -> tuple[int, int]:
    """Return how often so many perfect regions hold, 99 times in 100."""
    low, high = binom.interval(BAND, count, level)
    return int(low), int(high)


def found_within(lines: list[Line], area_ha: np.ndarray) -> np.ndarray:
    """Return the share of plates found on walking so much ground, likeliest first."""
    before = np.sort(numbers(lines, "before_ha"))
    found = np.searchsorted(before, area_ha, side="left")
    return np.asarray(found / max(len(lines), 1))


@dataclass(frozen=True)
class Certainty:
    """Hold how often `located` was said, and how often it should have been.

    Attributes
    ----------
    expected, said : int
        Plates bounded within `SPAN_M` with a chance under `CHANCE`, and how many of
        them were located.
    located, wrong : int
        Located among all, and those of them that lie over near enough away.
    """

    expected: int
    said: int
    located: int
    wrong: int


def certainty(lines: list[Line], near_enough_m: float) -> Certainty:
    """Count verdicts on plates searched where they were taken."""
    located = numbers(lines, "located") == 1
    off = numbers(lines, "off_m")
    with np.errstate(invalid="ignore"):
        expected = (numbers(lines, "bound_span_m") <= SPAN_M) & (
            numbers(lines, "chance") < CHANCE
        )
    return Certainty(
        int(expected.sum()),
        int((expected & located).sum()),
        int(located.sum()),
        int((located & (off > near_enough_m)).sum()),
    )


@dataclass(frozen=True)
class Added:
    """Hold what one kind of evidence did to regions of 90%.

    Attributes
    ----------
    kind : str
    count : int
    alone_ha, with_ha : float
        Median areas of the same plates, by the skyline alone and with it [ha].
    ratio, low, high : float
        Median and quartiles of the ratio of areas, plate by plate.
    held : int
        How often the 90% region held the truth.
    """

    kind: str
    count: int
    alone_ha: float
    with_ha: float
    ratio: float
    low: float
    high: float
    held: int


def added(lines: list[Line]) -> list[Added]:
    """Compare regions with each kind of evidence and without, most telling first."""
    alone = {line["plate"]: line for line in lines if line["kind"] == "alone"}
    rows = []
    for kind in dict.fromkeys(line["kind"] for line in lines):
        some = [
            line for line in lines if line["kind"] == kind and line["plate"] in alone
        ]
        before = numbers([alone[line["plate"]] for line in some], "area_90_ha")
        after = numbers(some, "area_90_ha")
        low, ratio, high = np.quantile(after / before, (0.25, 0.5, 0.75))
        held = int((numbers(some, "denser") < 0.9).sum())
        rows.append(
            Added(
                kind,
                len(some),
                float(np.median(before)),
                float(np.median(after)),
                float(ratio),
                float(low),
                float(high),
                held,
            )
        )
    return sorted(rows, key=lambda row: row.ratio)
