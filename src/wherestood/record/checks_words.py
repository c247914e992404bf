"""Say in words what the checks of a fix found."""

from __future__ import annotations

import math

from wherestood.fix.checked import Agreement, HeldBack, LeftOut
from wherestood.fix.result import Fix
from wherestood.record.doubt import (
    area_in_words,
    distance_in_words,
    odds_in_words,
    way_in_words,
)
from wherestood.record.inputs import FixInputs
from wherestood.record.item_words import thing_name, two_digits
from wherestood.record.page import Section
from wherestood.record.sureness import asked

__all__ = [
    "DISAGREES_SDS",
    "agreement_section",
    "held_back_section",
    "indeterminate_lines",
    "left_out_row",
    "left_out_section",
    "listed",
    "statements_section",
    "times_in_words",
]

#: Movements and ratios that are worth a word: below this an item hardly counts.
LEAST_MOVED_SHARE = 0.25
LEAST_RATIO = 1.25
#: Agreement, log, below which one item alone holds the fix where it is.
ALONE = -3.0
#: A movement this many times what its doubt explains is a disagreement.
DISAGREES_SDS = 3.0
#: Log odds of one place against two below which kinds of evidence disagree, and above
#: which they agree. A first look knows a camera's log density to some units only.
DISAGREE, AGREE = -7.0, 3.0
#: A mark this many standard errors off was not foretold.
FORETOLD_SDS = 3.0
_LEFT_HEAD = ("left out", "it moves", "as it may", "9-in-10 ground", "which means")
_KIND_HEAD = ("evidence", "alone holds it in", "from the rest", "which means")
_HELD_HEAD = ("mark", "foretold at", "give or take", "is off", "which means")


def left_out_section(fix: Fix) -> Section:
    """Return what the fix would be without each group of its evidence, as a table.

    Groups that hardly matter are told of together.
    """
    heading = "Without each in turn"
    if not fix.left_out:
        return Section(heading, ())
    rows, silent = [], []
    for one in sorted(fix.left_out, key=lambda one: -one.moved_m):
        if _matters(one, fix):
            rows.append(left_out_row(one))
        else:
            silent.append(one.name)
    lines = []
    if rows:
        lines.append(
            '"As it may" is the doubt of the difference: two times in three an answer '
            "moves less than that when evidence that agrees is left out."
        )
    if silent:
        which = "any one of " if len(silent) > 1 else ""
        lines.append(
            f"Without {which}{listed(silent)} it stays where it is, within "
            f"{distance_in_words(LEAST_MOVED_SHARE * fix.near_enough_m)}."
        )
    lines.append(
        "Ground and cameras that the search kept were weighed again; nothing was "
        "searched anew."
    )
    return Section(heading, tuple(lines), (_LEFT_HEAD, *rows) if rows else ())


def agreement_section(fix: Fix) -> Section:
    """Return whether each kind of evidence speaks of the place of all others."""
    rows = tuple(
        (
            one.name,
            area_in_words(one.alone_m2),
            f"{distance_in_words(one.apart_m)} ({one.apart_sds:.1f} of its doubt)",
            _agreement(one),
        )
        for one in fix.checks.agreement
    )
    heading = "Each kind of evidence against the rest"
    if not rows:
        return Section(heading, ())
    line = (
        "By itself each holds the camera 9 times in 10 in so much ground, and puts it "
        "on average so far from where all the others put it."
    )
    return Section(heading, (line,), (_KIND_HEAD, *rows))


def statements_section(fix: Fix) -> Section:
    """Return the answer with and without what people say, side by side."""
    less = fix.checks.without_statements
    heading = "With and without what people say"
    if less is None:
        return Section(heading, ())
    near = f"within {asked(fix)} of one place"
    rows = (
        ("", "with", "without"),
        (
            "9-in-10 ground",
            area_in_words(less.area_m2 / less.area_ratio),
            area_in_words(less.area_m2),
        ),
        (
            near,
            odds_in_words(fix.near_enough_share),
            odds_in_words(less.near_share),
        ),
    )
    line = f"Without them the fix moves {_moved(less)}."
    return Section(heading, (line,), rows)


def held_back_section(fix: Fix) -> Section:
    """Return how well marks that did not count were foretold."""
    heading = "Marks held back"
    if not fix.checks.held_back:
        return Section(heading, ())
    rows = tuple(_held_row(one) for one in fix.checks.held_back)
    line = (
        "These did not count. From the answer was foretold where they should be: a "
        "test that it did not set itself."
    )
    return Section(heading, (line,), (_HELD_HEAD, *rows))


def indeterminate_lines(fix: Fix, inputs: FixInputs) -> tuple[str, ...]:
    """Say in which way the station is hardly fixed, and why; nothing where it is."""
    told = fix.checks.indeterminate
    if told is None:
        return ()
    turn = math.radians(told.grid_bearing_deg)
    one_way = way_in_words(math.sin(turn), math.cos(turn))
    other_way = way_in_words(-math.sin(turn), -math.cos(turn))
    lines = [
        f"Nearly indeterminate: to the {one_way} and {other_way} the camera position "
        f"is known to {distance_in_words(told.long_m)} only, across that to "
        f"{distance_in_words(told.short_m)} (standard errors)."
    ]
    if told.on_circle:
        names = listed([thing_name(inputs.evidence, name) for name in told.on_circle])
        lines.append(
            f"It lies {distance_in_words(told.near_circle_m)} from the circle through "
            f"{names}, along which the angles between them do not change: something "
            "well off that circle would settle it."
        )
    elif math.isfinite(told.one_way_deg):
        lines.append(
            f"All that is marked lies within {told.one_way_deg:.0f}° of one direction: "
            "something to the side would settle it."
        )
    return tuple(lines)


def times_in_words(log_ratio: float) -> str:
    """Return how many times likelier, from a log ratio of 0 or more.

    Examples
    --------
    >>> times_in_words(4.1), times_in_words(30.0)
    ('about 60 times', 'over a million times')
    """
    times = math.exp(min(log_ratio, 50.0))
    if times > 1e6:
        return "over a million times"
    rounded = float(f"{times:.1g}") if times >= 9.5 else float(f"{times:.2g}")
    return (
        f"about {rounded:,.0f} times" if rounded >= 10 else f"about {rounded:g} times"
    )


def listed(names: list[str]) -> str:
    """Return names as a person lists them."""
    if len(names) == 1:
        return names[0]
    return f"{', '.join(names[:-1])} and {names[-1]}"


def _matters(one: LeftOut, fix: Fix) -> bool:
    return (
        one.moved_m > LEAST_MOVED_SHARE * fix.near_enough_m
        or one.area_ratio > LEAST_RATIO
        or one.agrees < ALONE
        or one.moved_sds > DISAGREES_SDS
    )


def left_out_row(one: LeftOut) -> tuple[str, ...]:
    """Return name, movement, what its doubt explains, ground, and what that means."""
    meaning = ""
    if one.moved_sds > DISAGREES_SDS:
        meaning = "it disagrees with the rest"
    elif one.agrees < ALONE:
        meaning = "it alone holds the fix there"
    elif one.area_ratio > LEAST_RATIO:
        meaning = "it narrows the ground"
    elif one.area_ratio < 1.0 / LEAST_RATIO:
        meaning = "surer without it"
    expected_m = one.expected_m
    return (
        one.name,
        _moved(one),
        distance_in_words(expected_m) if math.isfinite(expected_m) else "",
        f"{two_digits(one.area_ratio)} times",
        meaning,
    )


def _moved(one: LeftOut) -> str:
    """Say how far and which way; less than a metre has no way."""
    if one.moved_m < 1.0:
        return "under 1 m"
    way = way_in_words(one.east_m, one.north_m)
    return f"{distance_in_words(one.moved_m)} {way}"


def _agreement(one: Agreement) -> str:
    if one.log_odds < DISAGREE:
        return f"disagrees: two places {times_in_words(-one.log_odds)} likelier"
    if one.apart_sds > DISAGREES_SDS:
        return "disagrees: it puts the camera elsewhere"
    if one.log_odds > AGREE:
        return f"agrees: one place {times_in_words(one.log_odds)} likelier than two"
    return "neither speaks for nor against it"


def _held_row(one: HeldBack) -> tuple[str, ...]:
    well = one.off_sds <= FORETOLD_SDS
    return (
        one.id,
        f"{one.x_px:.0f}, {one.y_px:.0f} px",
        f"{two_digits(one.long_px)} by {two_digits(one.short_px)} px",
        f"{two_digits(one.off_px)} px ({one.off_sds:.1f} of its doubt)",
        "as foretold" if well else "not foretold: one of the two is wrong",
    )
