"""Hold what ties the plates of a panorama to one another."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.joint_batch import JointPrior
from wherestood.evidence.joint_screen import Turns
from wherestood.evidence.ties import NO_TIES, TieTable, turns_by_ties
from wherestood.evidence.unknowns import CAMERA, COUNT

if TYPE_CHECKING:
    from wherestood.fix.problem import Problem

__all__ = ["Beside", "joint_prior", "turn_log_density", "turns_believed", "turns_tied"]

Array = NDArray[np.float64]

#: Sd of ln c from plate to plate of one lens: focus and scan (common practice).
SAME_LENS_SD = 0.003
#: Of the lens's bending, over its own sd: what a trim moves.
SAME_K1_SHARE = 0.1
#: Of refraction, over its own sd: an hour passes between the first and the last.
SAME_AIR_SHARE = 0.1
#: A neighbour is turned by this share of the field of view, and its sd: overlaps of a
#: seventh, more or less, and now and then a gap (common practice).
TURN_SHARE, TURN_SHARE_SD = 0.85, 0.25
#: Probability that a turn is nothing like that; and, at least, where ties say what it
#: is: one tie may be a blunder, several are hardly all.
ANY_TURN, ANY_TURN_TIED = 0.05, 1e-6
#: Sd of a turn by ties while tilts and crosses are not known yet [rad].
TIED_SD_RAD = 0.02
#: Probability that plates were given in the order in which they hang, left to right.
GIVEN_ORDER = 0.5
#: No more orders than this are tried.
MOST_ORDERS = 24


@dataclass(frozen=True)
class Beside:
    """Hold the other plates of a panorama, and what is known of all together.

    Attributes
    ----------
    plates : tuple of Problem
        All but the first, each as if by itself.
    ties : TieTable
        Tie marks that count, on the upright positives.
    known_ties : TieTable
        Those that tell where to look: the same, or more of them.
    one_lens : bool
        Whether all plates were exposed through one lens.
    lens_offset : (plates,) float64 array
        ln c over each plate's diagonal less that over the first's.
    """

    plates: tuple[Problem, ...]
    ties: TieTable = NO_TIES
    known_ties: TieTable = NO_TIES
    one_lens: bool = True
    lens_offset: Array = field(default_factory=lambda: np.zeros(0))

    def doubled(self) -> Beside:
        """Return it with everything that stands above the model twice as doubtful."""
        return replace(self, plates=tuple(plate.doubled() for plate in self.plates))

    def without_ties(self) -> Beside:
        """Return it with ties that tell where to look, and count for nothing."""
        return replace(self, ties=NO_TIES)


def joint_prior(plates: tuple[Problem, ...], beside: Beside) -> JointPrior:
    """Return what is believed of the unknowns of all plates together."""
    mean = np.stack([plate.prior_mean for plate in plates])
    own = np.stack([plate.prior_sd for plate in plates])
    shared = np.zeros(COUNT)
    air = CAMERA + 3
    shared[air] = own[0, air]
    own[:, air] = SAME_AIR_SHARE * shared[air]
    if beside.one_lens:
        mean[:, 1] = mean[0, 1] + beside.lens_offset
        shared[1], shared[6] = own[0, 1], own[0, 6]
        own[:, 1] = SAME_LENS_SD
        own[:, 6] = SAME_K1_SHARE * shared[6]
    return JointPrior(mean, shared, own)


def turns_believed(
    plates: tuple[Problem, ...], beside: Beside, *, mirrored: bool
) -> Turns:
    """Return what is believed of the turns before any tie is looked at."""
    orders, weight = _orders(len(plates), beside, mirrored)
    c = np.exp(plates[0].lens.grid())
    half = np.stack([_half_width(plate) for plate in plates])
    field = np.arctan2(half[:, None], c * np.exp(_offsets(plates, beside))[:, None])
    mean = np.empty((len(orders), len(plates) - 1, c.size))
    for row, order in enumerate(orders):
        for j in range(1, len(plates)):
            mean[row, j - 1] = field[order[j - 1]] + field[order[j]]
    any_turn = np.full(mean.shape[:2], ANY_TURN)
    return Turns(orders, TURN_SHARE * mean, TURN_SHARE_SD * mean, any_turn, weight)


def turns_tied(plates: tuple[Problem, ...], beside: Beside, *, mirrored: bool) -> Turns:
    """Return the same, known better where ties say so."""
    turns = turns_believed(plates, beside, mirrored=mirrored)
    mean, sd, any_turn = turns.mean.copy(), turns.sd.copy(), turns.any_turn.copy()
    groups = _groups(len(plates), beside, mirrored, plates[0].lens.grid())
    for row, order in enumerate(turns.orders):
        for j in range(1, len(order)):
            for places in groups:
                left, right = places.get(int(order[j - 1])), places.get(int(order[j]))
                if left is not None and right is not None:
                    mean[row, j - 1] = right.turn - left.turn
                    sd[row, j - 1] = TIED_SD_RAD
                    wrong = max(left.wrong, right.wrong, ANY_TURN_TIED)
                    any_turn[row, j - 1] = min(wrong, ANY_TURN)
    return Turns(turns.orders, mean, sd, any_turn, turns.log_weight)


def turn_log_density(turns: Turns, grid: Array, ln_c: Array, bearing: Array) -> Array:
    """Return the log density of bearings, over that of any at all.

    Parameters
    ----------
    grid : (lenses,) float64 array
        ln c of the lenses of ``turns``.
    ln_c : (n,) float64 array
        Of the first plate.
    bearing : (n, plates) float64 array
        Of the lens axes [rad].

    Returns
    -------
    (n,) float64 array
    """
    total = np.full(len(bearing), -np.inf)
    for row, order in enumerate(turns.orders):
        density = np.full(len(bearing), turns.log_weight[row])
        for j in range(1, len(order)):
            turn = bearing[:, order[j]] - bearing[:, order[j - 1]]
            mean = np.interp(ln_c, grid, turns.mean[row, j - 1])
            sd = np.interp(ln_c, grid, turns.sd[row, j - 1])
            off = (turn - mean + np.pi) % (2.0 * np.pi) - np.pi
            near = math.sqrt(2.0 * math.pi) / sd * np.exp(-0.5 * (off / sd) ** 2)
            any_turn = turns.any_turn[row, j - 1]
            density += np.log((1.0 - any_turn) * near + any_turn)
        total = np.logaddexp(total, density)
    return total


def _half_width(plate: Problem) -> float:
    samples = plate.hands[0].samples
    return 0.5 * samples.width_px / samples.diagonal_px


def _offsets(plates: tuple[Problem, ...], beside: Beside) -> Array:
    return beside.lens_offset if beside.one_lens else np.zeros(len(plates))


@dataclass(frozen=True)
class _Tied:
    """Hold how ties turn a plate from the first of its group.

    Attributes
    ----------
    turn : (lenses,) float64 array
        [rad].
    wrong : float
        Probability that all ties of the weakest pair on the way are blunders.
    """

    turn: Array
    wrong: float


def _groups(
    count: int, beside: Beside, mirrored: bool, ln_c: Array
) -> list[dict[int, _Tied]]:
    """Return each group of tied plates, with how they are turned."""
    ties = beside.known_ties.mirrored() if mirrored else beside.known_ties
    turns = turns_by_ties(ties, ln_c)
    groups: list[dict[int, _Tied]] = []
    left = set(range(count))
    while left:
        first = min(left)
        left.remove(first)
        places = {first: _Tied(np.zeros(ln_c.size), 0.0)}
        queue = [first]
        while queue:
            here = queue.pop()
            for (a, b), turn in turns.items():
                for start, end, sign in ((a, b, 1.0), (b, a, -1.0)):
                    if start == here and end in left:
                        before = places[here]
                        places[end] = _Tied(
                            before.turn + sign * turn,
                            max(before.wrong, _all_wrong(ties, a, b)),
                        )
                        left.remove(end)
                        queue.append(end)
        groups.append(places)
    return groups


def _all_wrong(ties: TieTable, one: int, other: int) -> float:
    """Return the probability that all ties of two plates are blunders."""
    which = (np.sort(ties.pair, axis=1) == (one, other)).all(axis=1)
    return float(np.prod(-np.expm1(ties.log_trust[which])))


def _orders(
    count: int, beside: Beside, mirrored: bool
) -> tuple[NDArray[np.int64], Array]:
    """Return the orders in which the plates may hang, and their log weights.

    Tied plates hang as their ties say, and together; else any order will do, unless
    there are too many.
    """
    groups = _groups(count, beside, mirrored, np.log(np.array([0.9])))
    blocks = [sorted(g, key=lambda k, g=g: float(g[k].turn[0])) for g in groups]  # type: ignore[misc]
    given = list(range(count))[:: -1 if mirrored else 1]
    if mirrored:
        blocks = blocks[::-1]
    if math.factorial(len(blocks)) > MOST_ORDERS:
        orders = [tuple(itertools.chain(*blocks))]
    else:
        orders = [
            tuple(itertools.chain(*some)) for some in itertools.permutations(blocks)
        ]
    share = np.full(len(orders), 1.0 / len(orders))
    if tuple(given) in orders and len(orders) > 1:
        share *= 1.0 - GIVEN_ORDER
        share[orders.index(tuple(given))] += GIVEN_ORDER
    return np.array(orders, dtype=np.int64), np.log(share)
