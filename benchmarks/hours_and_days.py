"""Count how often hours, days and months are as near as they promise.

The same invented cases as in the tests, many more of them: shadows at known instants
with every doubt drawn (`tests/dating/test_invented_shadows.py`), shadows rendered into
pictures and read off them (`tests/dating/test_rendered_shadows.py`), and sets of
evidence with a known month (`tests/dating/test_weigh.py`). Run it with the number of
each:

    python benchmarks/hours_and_days.py --hours 400 --days 300 --rendered 200
"""

from __future__ import annotations

import argparse
import importlib.util
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np

from wherestood.dating.months import month_of
from wherestood.dating.sun_fit import fit_sun
from wherestood.dating.weigh import weigh

TESTS = Path(__file__).resolve().parents[1] / "tests" / "dating"
#: What is asked: within so much where no more than that standard error is promised.
HOUR_MIN, HOUR_PROMISE_MIN = 10.0, 7.0
WINDOW_DAYS, WINDOW_PROMISE_DAYS = 5.0, 3.5
#: How well the hour is known where days are sought [min].
KNOWN_TO_MIN = 3.0
SHARES = (0.5, 0.9)


def cases_of(name: str) -> ModuleType:
    """Return a module of the tests."""
    spec = importlib.util.spec_from_file_location(name, TESTS / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


def hours(count: int) -> str:
    """Count hours within ten minutes, the date given."""
    shadows = cases_of("test_invented_shadows")
    off, held = [], dict.fromkeys(SHARES, 0)
    for case, seen in shadows.simulated(71, count):
        fit = fit_sun(seen, case.where, case.year, shadows.one_day(case.day))
        mean, sd = fit.hour_min
        if sd <= HOUR_PROMISE_MIN:
            off.append(abs(mean - case.local_mean_min))
        for share in SHARES:
            low, high = fit.hours(share)
            held[share] += low - 0.5 <= case.local_mean_min <= high + 0.5
    near = np.mean(np.array(off) <= HOUR_MIN)
    spans = ", ".join(f"{held[share]} of {count} in {share:.0%}" for share in SHARES)
    return f"hour within 10 min: {near:.1%} of {len(off)} promised 7 min; {spans}"


def elsewhere(count: int) -> str:
    """Count spans that hold the hour: by walls, and mirrored in the far north."""
    shadows = cases_of("test_invented_shadows")
    told = []
    for what, cases in (
        ("by a wall's edge", shadows.walls(76, count)),
        (
            "left for right at 60 to 82 deg",
            shadows.mirrored_in_the_far_north(77, count),
        ),
    ):
        held = dict.fromkeys(SHARES, 0)
        for case, seen in cases:
            fit = fit_sun(seen, case.where, case.year, shadows.one_day(case.day))
            for share in SHARES:
                held[share] += shadows.is_held(fit, case.local_mean_min, share)
        spans = ", ".join(
            f"{held[share]} of {count} in {share:.0%}" for share in SHARES
        )
        told.append(f"{what}: {spans}")
    return "; ".join(told)


def days(count: int) -> str:
    """Count windows of days within five, the hour given, and how often they hold."""
    shadows = cases_of("test_invented_shadows")
    random = np.random.default_rng(72)
    off, turned = [], []
    for case, seen in shadows.simulated(73, count):
        found = _nearest_window(case, seen, random)
        if found is not None:
            days_off, sd, most_sd = found
            turned.append(days_off / max(sd, 0.5))
            off += [abs(days_off)] if most_sd <= WINDOW_PROMISE_DAYS else []
    near = np.mean(np.array(off) <= WINDOW_DAYS)
    spans = ", ".join(
        f"{np.sum(np.abs(turned) <= sds)} of {len(turned)} within {sds:g} of their sds"
        for sds in (0.674, 1.645)
    )
    return f"windows within 5 days: {near:.1%} of {len(off)} promised 3.5 days; {spans}"


def rendered(count: int) -> str:
    """Count the same on pictures with rendered shadows, which are found in them."""
    shadows = cases_of("test_rendered_shadows")
    random = np.random.default_rng(74)
    off, off_days, held = [], [], dict.fromkeys(SHARES, 0)
    read = [(case, seen) for case, seen in shadows.rendered(75, count) if seen]
    for case, seen in read:
        fit = shadows.hour_of(case, seen)
        mean, sd = fit.hour_min
        if sd <= HOUR_PROMISE_MIN:
            off.append(abs(mean - case.local_mean_min))
        for share in SHARES:
            low, high = fit.hours(share)
            held[share] += low - 0.5 <= case.local_mean_min <= high + 0.5
        off_days += _days_off(case, seen, random)
    near = np.mean(np.array(off) <= HOUR_MIN)
    near_days = np.mean(np.array(off_days) <= WINDOW_DAYS)
    spans = ", ".join(f"{held[share]} in {share:.0%}" for share in SHARES)
    return (
        f"rendered: shadow found on {len(read)} of {count}; hour within 10 min: "
        f"{near:.1%} of {len(off)} promised 7 min; {spans}; windows within 5 days: "
        f"{near_days:.1%} of {len(off_days)} promised 3.5 days"
    )


def _days_off(case: Any, seen: Any, random: np.random.Generator) -> list[float]:
    """Return how far the nearer window lies off, the hour given; none unpromised."""
    found = _nearest_window(case, seen, random)
    if found is None or found[2] > WINDOW_PROMISE_DAYS:
        return []
    return [abs(found[0])]


def _nearest_window(
    case: Any, seen: Any, random: np.random.Generator
) -> tuple[float, float, float] | None:
    """Return how far the nearer window lies off, its sd, and the most of both [day]."""
    said = case.local_mean_min + random.normal(0.0, KNOWN_TO_MIN)
    hour = np.exp(-0.5 * ((np.arange(1440) - said) / KNOWN_TO_MIN) ** 2)
    hour[hour < 1e-4] = 0.0
    fit = fit_sun(seen, case.where, case.year, np.ones(366), hour)
    windows = [window for window in fit.windows() if window[2] > 0.05]
    if not windows:
        return None
    off = [((day - case.day + 182) % 365 - 182, sd) for day, sd, _ in windows]
    nearest = min(off, key=lambda each: abs(each[0]))
    return *nearest, max(sd for _, sd, _ in windows)


def months(count: int) -> str:
    """Count how often the date's intervals hold the truth."""
    cases = cases_of("test_weigh")
    random = np.random.default_rng(5)
    held = dict.fromkeys(SHARES, 0)
    for _ in range(count):
        truth, items = cases.invented(random)
        found = weigh(items, month_of(1860), month_of(1899, 12))
        for share in SHARES:
            span = found.interval(share)
            held[share] += span is not None and span.first <= truth <= span.last
    told = ", ".join(f"{held[share]} of {count} in {share:.0%}" for share in SHARES)
    return f"months: {told}"


def study() -> None:
    """Count, and say what came out."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hours", type=int, default=400)
    parser.add_argument("--days", type=int, default=300)
    parser.add_argument("--elsewhere", type=int, default=200)
    parser.add_argument("--rendered", type=int, default=200)
    parser.add_argument("--months", type=int, default=2000)
    asked = parser.parse_args()
    for count, told in (
        (asked.months, months), (asked.hours, hours), (asked.days, days),
        (asked.elsewhere, elsewhere), (asked.rendered, rendered),
    ):  # fmt: skip
        if count:
            print(told(count), flush=True)


if __name__ == "__main__":
    study()
