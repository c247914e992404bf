"""Screen every lens and every way round of a panorama for cameras to climb to.

Symbols
-------
S_k(c, b) : score of plate k for a lens and a bearing (`evidence.screen`)
turn : bearing of a plate less that of its neighbour to the left
A_1 = S_1,  A_j(b) = S_j(b) + max over b' of (A_j-1(b') + log p(b - b')) : the best
arrangement of the first j plates, in the order in which they hang

The last is a chain of maxima (Viterbi 1967, "Error bounds for convolutional codes"): it
looks at every arrangement, where the best few cameras of each plate alone might not
hold the right one. A turn may also be any at all, with a small probability.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log, pi, sqrt

import numba
import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.screen import LENSES_APART, TAKEN, screen_table

__all__ = ["Turns", "screen_panoramas"]

Array = NDArray[np.float64]

#: Standard errors within which a turn is looked for.
_REACH = 3.0


@dataclass(frozen=True)
class Turns:
    """Hold what is expected of the turns between plates.

    Attributes
    ----------
    orders : (orders, plates) int64 array
        Each order in which they may hang, left to right.
    mean, sd : (orders, plates - 1, lenses) float64 array
        From each plate to the next in that order [rad].
    any_turn : (orders, plates - 1) float64 array
        Probability that it is nothing like that.
    log_weight : (orders,) float64 array
        Log of the probability of each order.
    """

    orders: NDArray[np.int64]
    mean: Array
    sd: Array
    any_turn: Array
    log_weight: Array


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _follow(before, table, mean, sd, log_any, after, twice):  # type: ignore[no-untyped-def]
    """Fill the best score of each bearing, the plate to its left at its best."""
    bearings = table.size
    spacing = 2.0 * pi / bearings
    unit = np.float32(log(2.0 * pi / (sd * sqrt(2.0 * pi))))
    any_turn = np.float32(before.max() + log_any)
    for b in range(bearings):
        twice[b] = before[b]
        twice[b + bearings] = before[b]
        after[b] = any_turn
    reach = min(int(np.ceil(_REACH * sd / spacing)), bearings // 2 - 1)
    stride = max(1, reach // 12)
    first = int(np.round(mean / spacing))
    for step in range(-reach, reach + 1, stride):
        off = ((first + step) * spacing - mean) / sd
        penalty = unit - np.float32(0.5 * off * off)
        begin = (-(first + step)) % bearings
        for b in range(bearings):
            after[b] = max(after[b], twice[begin + b] + penalty)
    for b in range(bearings):
        after[b] += table[b]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _to_the_left(before, at, mean, sd, log_any):  # type: ignore[no-untyped-def]
    """Return the bearing of the plate to the left that `_follow` took."""
    bearings = before.size
    spacing = 2.0 * pi / bearings
    unit = log(2.0 * pi / (sd * sqrt(2.0 * pi)))
    best = before.max() + log_any
    which = int(np.argmax(before))
    reach = min(int(np.ceil(_REACH * sd / spacing)), bearings // 2 - 1)
    first = int(np.round(mean / spacing))
    for step in range(-reach, reach + 1):
        off = ((first + step) * spacing - mean) / sd
        b = (at - first - step) % bearings
        value = before[b] + unit - 0.5 * off * off
        if value > best:
            best = value
            which = b
    return which


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _screen_one(  # type: ignore[no-untyped-def]
    tables,
    log_distance,
    orders,
    turn_mean,
    turn_sd,
    log_any,
    order_weight,
    apart,
    found,
):
    """Fill the best separate arrangements of one station."""
    plates, lenses, bearings = tables.shape
    chains = np.empty((orders.shape[0], plates, lenses, bearings), dtype=np.float32)
    twice = np.empty(2 * bearings, dtype=np.float32)
    for o in range(orders.shape[0]):
        for k in range(lenses):
            chains[o, 0, k] = tables[orders[o, 0], k] + np.float32(order_weight[o])
            for j in range(1, plates):
                _follow(
                    chains[o, j - 1, k], tables[orders[o, j], k],
                    turn_mean[o, j - 1, k], turn_sd[o, j - 1, k], log_any[o, j - 1],
                    chains[o, j, k], twice,
                )  # fmt: skip
    last = chains[:, plates - 1]
    spacing = 2.0 * pi / bearings
    top = np.empty((orders.shape[0], lenses), dtype=np.float32)
    for o in range(orders.shape[0]):
        for k in range(lenses):
            top[o, k] = last[o, k].max()
    for m in range(found.shape[0]):
        at = int(np.argmax(top))
        o, k = at // lenses, at % lenses
        b = int(np.argmax(last[o, k]))
        found[m, 0] = last[o, k, b]
        found[m, 1 + plates :] = log_distance[k]
        here = b
        for j in range(plates - 1, -1, -1):
            found[m, 1 + orders[o, j]] = here * spacing
            if j > 0:
                here = _to_the_left(
                    chains[o, j - 1, k], here, turn_mean[o, j - 1, k],
                    turn_sd[o, j - 1, k], log_any[o, j - 1],
                )  # fmt: skip
        for lens in range(max(0, k - LENSES_APART), min(lenses, k + LENSES_APART + 1)):
            for step in range(-apart, apart + 1):
                last[o, lens, (b + step) % bearings] = TAKEN
            top[o, lens] = last[o, lens].max()


@numba.njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def screen_panoramas(  # type: ignore[no-untyped-def]
    profiles, ground_sd, plate, starts, log_distance, lens_log_prior, cover_sd,
    rise_sd, roll_sd, more, orders, turn_mean, turn_sd, any_turn, order_weight,
    one_lens, apart, found,
):  # fmt: skip
    """Fill ``found`` (stations, modes, 1 + 2 plates): score, bearings, ln c's.

    Parameters
    ----------
    plate, starts : (plates, lenses, samples, 5) and (plates, lenses, samples) arrays
        What `screen.seen_through` returns for each plate.
    lens_log_prior : (lenses,) float64 array
        Log prior density of the lens: it counts once where there is one lens.
    rise_sd, roll_sd : (plates,) float64 array
    more : (stations or 0, plates, lenses, bearings) float32 array
        What else speaks for a lens and a bearing of a plate.
    orders, turn_mean, turn_sd, any_turn, order_weight : arrays
        As `Turns`.
    one_lens : bool
        Whether all plates were exposed through one lens.
    """
    plates, lenses = plate.shape[:2]
    bearings = profiles.shape[1]
    no_prior = np.zeros(lenses)
    log_any = np.log(any_turn)
    for s in numba.prange(profiles.shape[0]):
        tables = np.empty((plates, lenses, bearings), dtype=np.float32)
        for k in range(plates):
            believed = lens_log_prior if k == 0 or not one_lens else no_prior
            screen_table(
                profiles[s], ground_sd[s], plate[k], starts[k], believed, cover_sd,
                1.0 / rise_sd[k] ** 2, 1.0 / roll_sd[k] ** 2, tables[k],
            )  # fmt: skip
            if more.shape[0] > 0:
                tables[k] += more[s, k]
        if one_lens:
            _screen_one(
                tables, log_distance, orders, turn_mean, turn_sd, log_any, order_weight,
                apart, found[s],
            )  # fmt: skip
        else:
            _screen_each_own(
                tables, log_distance, orders, turn_mean, turn_sd, log_any, order_weight,
                apart, found[s],
            )  # fmt: skip


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _screen_each_own(  # type: ignore[no-untyped-def]
    tables,
    log_distance,
    orders,
    turn_mean,
    turn_sd,
    log_any,
    order_weight,
    apart,
    found,
):
    """Screen where each plate has a lens of its own: the best for each bearing."""
    plates, lenses, bearings = tables.shape
    best = np.empty((plates, 1, bearings), dtype=np.float32)
    for k in range(plates):
        for b in range(bearings):
            best[k, 0, b] = tables[k, :, b].max()
    middle = lenses // 2
    _screen_one(
        best, log_distance[middle : middle + 1], orders,
        turn_mean[:, :, middle : middle + 1], turn_sd[:, :, middle : middle + 1],
        log_any, order_weight, apart, found,
    )  # fmt: skip
    for m in range(found.shape[0]):
        for k in range(plates):
            b = int(np.round(found[m, 1 + k] / (2.0 * pi) * bearings)) % bearings
            found[m, 1 + plates + k] = log_distance[int(np.argmax(tables[k, :, b]))]
