"""Weigh how the ground was in a plate's own years.

Whether a state of the ground holds at a plate's date is a probability: one where the
dates leave no doubt, less where they are open, one half where nothing is dated. The
ground is then taken at its mean over the states that may have held, and is as
doubtful as they differ.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.earth.frame import Frame
from wherestood.evidence.edtf import check_edtf
from wherestood.evidence.items.changed_ground import (
    ChangedGround,
    cannot_both_hold,
)
from wherestood.evidence.items.evidence import Evidence
from wherestood.evidence.layout import geometry_in_frame
from wherestood.evidence.noise import SkylineNoise
from wherestood.evidence.years import Years, years_of
from wherestood.terrain.as_it_was import GroundChange

__all__ = [
    "GroundState",
    "chance_then",
    "changes_of",
    "check_date",
    "ground_states",
]

Array = NDArray[np.float64]

#: How likely a state held where nothing tells: it may or may not have.
UNDATED = 0.5
#: Doubt of trees of which nothing is told, in a model that may have them [m].
_TREES_M = 20.0
#: An open span of a plate's years counts no farther than this from its other end.
_OPEN_YEARS = 200


@dataclass(frozen=True)
class GroundState:
    """Hold a state of the ground and how likely it held when the plate was exposed.

    Attributes
    ----------
    item : ChangedGround
    chance : float
        Probability that it held, by its dates.
    why : str
        What makes it doubtful, in plain words; empty where nothing does.
    """

    item: ChangedGround
    chance: float
    why: str


def check_date(words: str) -> None:
    """Refuse a plate's date that cannot be read.

    Raises
    ------
    EvidenceError
        If it is no EDTF date.
    """
    if words:
        check_edtf(words, "the plate's date")


def chance_then(item: ChangedGround, date: str) -> tuple[float, str]:
    """Return how likely a state of the ground held in a plate's years, and why.

    Parameters
    ----------
    item : ChangedGround
        The state, with the years in which it began and ended.
    date : str
        When the plate was exposed, EDTF; empty where not known.

    Returns
    -------
    (float, str)
        Every year that each date allows is taken as likely as the next. The trust in
        the item itself is not in it.
    """
    plate = years_of(date)
    if not item.dated:
        return UNDATED, "it is not dated"
    if plate is None:
        return UNDATED, "the plate is not dated"
    years = _years_within(plate)
    chance = float(np.mean(_begun_by(item.begun, years) * _not_gone(item.gone, years)))
    if chance <= 0.0:
        return 0.0, f"it did not exist in {date}"
    if chance < 1.0:
        return chance, f"of the years {date} it held in some, as far as dates tell"
    return 1.0, ""


def ground_states(evidence: Evidence) -> tuple[GroundState, ...]:
    """Return every state of the ground that is told, with its chance at the plate's."""
    states = []
    for item in evidence.changed_ground:
        chance, why = chance_then(item, evidence.date)
        states.append(GroundState(item, chance, why))
    return tuple(states)


def changes_of(
    states: Sequence[GroundState], frame: Frame, noise: SkylineNoise, surface: str
) -> tuple[GroundChange, ...]:
    """Return the states that may have held, as changes of a terrain in a frame.

    Parameters
    ----------
    states : sequence of GroundState
    frame : Frame
        The terrain's.
    noise : SkylineNoise
        Tells the cover that is allowed for everywhere.
    surface : {"ground", "top", "unknown"}
        What the terrain's heights are of.
    """
    kept = [state for state in states if state.chance > 0.0]
    changes = []
    for state in kept:
        item = state.item
        amount, sd = _amount(item, noise, surface)
        changes.append(
            GroundChange(
                item.id,
                geometry_in_frame(item.geometry, frame),
                item.change,
                amount,
                sd,
                state.chance,
                item.trust,
                frozenset(
                    other.item.id
                    for other in kept
                    if other is not state and cannot_both_hold(item, other.item)
                ),
            )
        )
    return tuple(changes)


def _amount(
    item: ChangedGround, noise: SkylineNoise, surface: str
) -> tuple[float, float]:
    """Return the number a change needs and its doubt [m]."""
    sd = item.doubt_m
    if item.change == "cover":
        then, now = float(item.cover_then_m or 0.0), item.cover_now_m
        # What stands above the model everywhere is allowed for already: of trees
        # only what differs from that raises the horizon. A model of tree tops has
        # today's in it.
        over_ground, over_tops = then, then - float(now or 0.0)
        if now is None and surface != "ground":
            return over_ground - noise.cover_mean_m, math.hypot(sd, _TREES_M)
        if surface == "ground":
            return over_ground - noise.cover_mean_m, sd
        if surface == "top":
            return over_tops - noise.cover_mean_m, sd
        half = 0.5 * (over_ground + over_tops)
        return half - noise.cover_mean_m, math.hypot(sd, 0.5 * float(now or 0.0))
    if item.change in ("raise", "lower"):
        by = float(item.by_m or 0.0)
        return (by if item.change == "raise" else -by), sd
    return float(item.height_m or 0.0), sd


def _years_within(plate: Years) -> Array:
    first, last = plate
    if math.isinf(first) and math.isinf(last):
        return np.array([np.nan])
    if math.isinf(first):
        first = last - _OPEN_YEARS
    if math.isinf(last):
        last = first + _OPEN_YEARS
    return np.arange(first, last + 1.0)


def _begun_by(begun: Years, years: Array) -> Array:
    """Return how likely a state had begun in each year."""
    first, last = begun
    if math.isinf(first) and math.isinf(last):
        return np.ones(years.shape)
    if math.isinf(first):
        first = last - _OPEN_YEARS
    if math.isinf(last):
        last = first + _OPEN_YEARS
    share = np.clip((years - first + 1.0) / (last - first + 1.0), 0.0, 1.0)
    return np.asarray(np.nan_to_num(share, nan=UNDATED))


def _not_gone(gone: Years, years: Array) -> Array:
    """Return how likely a state had not ended before each year."""
    first, last = gone
    return np.asarray(_begun_by((-last, -first), -years))
