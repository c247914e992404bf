"""Say in words what positions that somebody proposed are worth."""

from __future__ import annotations

import math
from typing import Any

from wherestood.fix.result import Fix, ProposedTold
from wherestood.record.checks_words import listed, times_in_words
from wherestood.record.doubt import coordinates, distance_in_words
from wherestood.record.inputs import FixInputs
from wherestood.record.item_words import (
    agreement,
    item_name,
    off_by,
    two_digits,
    why_not,
)
from wherestood.record.page import Section
from wherestood.record.sureness import asked

__all__ = [
    "NEITHER",
    "PROPOSED",
    "TWO_ANSWERS",
    "favours",
    "off_words",
    "proposed_section",
    "row_name",
    "side_by_side_section",
]

#: Headings of what is told of positions that people proposed.
PROPOSED, TWO_ANSWERS = "Positions proposed", "Two answers on the same evidence"
#: How much worse an item must fare to be named, log.
WORSE = -1.0
MOST_NAMED = 4
#: Log odds below which an item favours neither of two answers.
NEITHER = 0.5
#: Bearings this many standard errors apart are said to agree.
AGREES_SDS = 2.0
#: A position is told to this part of what is near enough.
FINE = 10.0


def proposed_section(fix: Fix, inputs: FixInputs) -> Section:
    """Return what the evidence says of each proposed position."""
    lines = tuple(_proposed(one, fix, inputs) for one in fix.proposed)
    return Section(PROPOSED, lines)


def side_by_side_section(
    fix: Fix, pair: tuple[ProposedTold, ProposedTold] | None = None
) -> Section:
    """Return two proposed positions on the same evidence, item by item.

    Parameters
    ----------
    pair : two of ProposedTold, optional
        Which; the first two without it, and nothing where there is one alone.
    """
    heading = TWO_ANSWERS
    if pair is None and len(fix.proposed) < 2:
        return Section(heading, ())
    one, other = pair or fix.proposed[:2]
    if one.answer is None or other.answer is None:
        gone = listed([p.proposed.name for p in (one, other) if p.answer is None])
        return Section(heading, (f"There is no known ground at {gone}.",))
    between = one.log_ratio - other.log_ratio
    if abs(between) < NEITHER:
        line = "Together the evidence favours neither."
    else:
        better = one if between > 0.0 else other
        line = (
            f"All evidence together favours {better.proposed.name}, "
            f"{times_in_words(abs(between))}. "
            "Cameras, and the ground within "
            f"{asked(fix)}, are counted in: the rows need not add up to it."
        )
    head = ("evidence", "favours", "odds", *(p.proposed.name for p in (one, other)))
    rows = []
    for name, log_odds in favours(one, other):
        better = one if log_odds > 0.0 else other
        neither = abs(log_odds) < NEITHER
        rows.append(
            (
                row_name(name, one),
                "neither" if neither else better.proposed.name,
                "" if neither else times_in_words(abs(log_odds)),
                off_words(name, one),
                off_words(name, other),
            )
        )
    verdicts = tuple(f"{p.proposed.name}: {p.verdict}." for p in (one, other))
    return Section(heading, (line, *verdicts), (head, *rows))


def favours(one: ProposedTold, other: ProposedTold) -> list[tuple[str, float]]:
    """Return the log odds by which each item favours one answer over another.

    Returns
    -------
    list of (str, float)
        Most telling first.
    """
    there = dict(other.because)
    found = [(name, by - there[name]) for name, by in one.because if name in there]
    return sorted(found, key=lambda pair: -abs(pair[1]))


def _proposed(one: ProposedTold, fix: Fix, inputs: FixInputs) -> str:
    said = one.proposed
    at = coordinates(said.lon_deg, said.lat_deg, fix.near_enough_m / FINE)
    who = f"{said.name} ({at})"
    if said.reason:
        who += f", because {said.reason!r}"
    if one.answer is None:
        return f"{who}: impossible; no ground is known there."
    line = f"{who}: {one.verdict}."
    near = f"Within {asked(fix)} of it"
    if one.log_ratio < -NEITHER:
        line += (
            f" {near} the camera stood {times_in_words(-one.log_ratio)} less likely "
            "than at the likeliest place."
        )
    else:
        line += f" {near} the camera stood as likely as anywhere."
    if one.apart_m > 0.5 * fix.near_enough_m:
        line += f" The evidence fits best {distance_in_words(one.apart_m)} from it."
    worse = [(name, by) for name, by in one.because if by < WORSE][:MOST_NAMED]
    if worse:
        named = "; ".join(_against(name, by, one, inputs) for name, by in worse)
        line += f" Against it speaks: {named}."
    return line + _bearing(one)


def _bearing(one: ProposedTold) -> str:
    if not math.isfinite(one.bearing_off_sds):
        return ""
    off_deg = abs(one.bearing_off_deg)
    if one.bearing_off_sds <= AGREES_SDS:
        near = f"{two_digits(off_deg)}°" if off_deg >= 0.1 else "a tenth of a degree"
        return f" Its bearing agrees with the view that fits there, to {near}."
    way = "right" if one.bearing_off_deg > 0.0 else "left"
    return (
        " Its bearing does not agree with the view that fits there: it looks "
        f"{two_digits(off_deg)}° too far {way} ({one.bearing_off_sds:.1f} times its "
        "doubt)."
    )


def _against(name: str, by: float, one: ProposedTold, inputs: FixInputs) -> str:
    """Say by how much one item speaks against a position, and how."""
    row = _row(name, one)
    times = f"{times_in_words(-by)} less likely"
    if row is None or "blunder_log_odds" not in row:
        return f"{name} ({times})"
    return f"{item_name(row, inputs.evidence)} ({times}): {why_not(row)}"


def off_words(name: str, one: ProposedTold) -> str:
    """Return by how much an item is off at a position, for a table."""
    row = _row(name, one)
    if row is None:
        return ""
    if row["kind"] == "skyline" and one.answer is not None:
        off_px = one.answer.rms_px
        return f"{two_digits(off_px)} px off" if math.isfinite(off_px) else ""
    if row.get("residual_m") == 0.0:
        return "inside"
    off = off_by(row) or (agreement(row) if row["kind"] != "order" else "")
    return f"{off} off" if off else "as seen"


def row_name(name: str, one: ProposedTold) -> str:
    """Return an item's kind and id."""
    row = _row(name, one)
    kind = row["kind"] if row else ""
    return name if not kind or name.startswith(kind) else f"{kind} {name}"


def _row(name: str, one: ProposedTold) -> dict[str, Any] | None:
    rows = one.answer.evidence if one.answer else ()
    return next((row for row in rows if row["id"] == name), None)
