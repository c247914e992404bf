"""Say in words what each item holds, and what a proposed position is worth."""

from __future__ import annotations

import math

from wherestood.fix.result import Fix, LeftOut, ProposedTold

__all__ = ["left_out_lines", "proposed_lines"]

#: Movements and ratios that are worth a word: below this an item hardly counts.
LEAST_MOVED_SHARE = 0.25
LEAST_RATIO = 1.25
#: Agreement, log, below which one item alone holds the fix where it is.
ALONE = -3.0
#: How much worse an item must fare to be named, log.
WORSE = -1.0
MOST_NAMED = 4
WAYS = (
    "north",
    "north-east",
    "east",
    "south-east",
    "south",
    "south-west",
    "west",
    "north-west",
)


def left_out_lines(fix: Fix) -> list[str]:
    """Return what the fix would be without each group of its evidence.

    Groups that hardly matter are told of together.
    """
    if not fix.left_out:
        return []
    said, silent = [], []
    for one in sorted(fix.left_out, key=lambda one: -one.moved_m):
        matters = (
            one.moved_m > LEAST_MOVED_SHARE * fix.near_enough_m
            or one.area_ratio > LEAST_RATIO
            or one.agrees < ALONE
        )
        if matters:
            said.append(_without(one))
        else:
            silent.append(one.name)
    if silent:
        said.append(
            f"Without any one of {_listed(silent)} it stays where it is, within "
            f"{LEAST_MOVED_SHARE * fix.near_enough_m:.0f} m."
        )
    said.append("Only ground that all the evidence leaves standing was asked again.")
    return said


def proposed_lines(fix: Fix) -> list[str]:
    """Return what the evidence says of each proposed position."""
    return [_proposed(one) for one in fix.proposed]


def _without(one: LeftOut) -> str:
    line = f"Without {one.name} it moves {one.moved_m:.0f} m {_way(one)}"
    if one.area_ratio > LEAST_RATIO:
        line += f", and the 9-in-10 ground grows to {one.area_ratio:.1f} times"
    if one.agrees < ALONE:
        line += "; it alone holds the fix where it is"
    return line + "."


def _way(one: LeftOut) -> str:
    turn = math.degrees(math.atan2(one.east_m, one.north_m)) % 360.0
    return WAYS[round(turn / 45.0) % len(WAYS)]


def _proposed(one: ProposedTold) -> str:
    who = one.proposed.name
    if not math.isfinite(one.log_ratio):
        return f"{who}: impossible; no ground is known there."
    times = math.exp(min(-one.log_ratio, 50.0))
    line = f"{who}: {one.verdict}."
    if times > 1.5:
        line += f" The likeliest ground explains the evidence {_times(times)} better."
    worse = [(name, by) for name, by in one.because if by < WORSE][:MOST_NAMED]
    if worse:
        line += f" What speaks against it: {_listed([name for name, _ in worse])}."
    if math.isfinite(one.bearing_off_sds):
        line += (
            " Its bearing "
            + ("agrees" if one.bearing_off_sds <= 2.0 else "does not agree")
            + f" with what the plate would show from there "
            f"({one.bearing_off_sds:.1f} standard errors off)."
        )
    return line


def _times(times: float) -> str:
    if times > 1e6:
        return "over a million times"
    rounded = float(f"{times:.1g}")
    return f"about {rounded:,.0f} times"


def _listed(names: list[str]) -> str:
    if len(names) == 1:
        return names[0]
    return f"{', '.join(names[:-1])} and {names[-1]}"
