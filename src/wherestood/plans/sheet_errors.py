"""Weigh how a sheet may be warped and which of its pins are wrong.

What a straight map leaves over at the pins has three causes: each pin's own error,
known beforehand; a warp of the paper and of the survey, which neighbours share and of
which neither size nor reach is known; and a pin that is simply wrong. Every size and
reach of warp from a table, with every pin (and pairs of the likeliest) wrong or not,
makes a *case*. Each is weighed by how likely it makes the leftovers, whatever the terms
of the map are, and foretells the true place of any point of the sheet. The stated error
is that of the map in use over all cases: what each leaves in doubt, and how far each
says that the map is off.

Symbols
-------
y  (2 pins,) leftovers at the pins [m]
B  (2 pins, terms) how places move with the terms of the map
C  covariance of y: pins' own, warp, and the wide error of pins that are wrong
P  C^-1 - C^-1 B (B' C^-1 B)^-1 B' C^-1
k  covariance of the warp at a place with that at the pins

References
----------
H. D. Patterson, R. Thompson, "Recovery of inter-block information when block sizes are
unequal", Biometrika 58 (1971) 545-554: likelihood whatever the terms.
N. A. C. Cressie, "Statistics for Spatial Data", Wiley 1993, 3.4: foretelling a place
by what its neighbours leave over, the terms unknown. Both from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

__all__ = ["Case", "SheetErrors", "weigh_cases"]

Floats = NDArray[np.float64]

#: Warps that are tried, as shares of the pins' diagonal on the ground, one axis, and
#: what is believed of them: most sheets are off by a few metres in a thousand.
#: Common practice: chained surveys closed to 1 in 500 or 1000, paper stretches 1%.
WARPS = np.array([0.0, 0.0003, 0.0007, 0.0015, 0.003, 0.006, 0.012, 0.025])
_MEDIAN_WARP, _LOG_SD = 0.002, 1.3
#: How far a warp reaches, in half-diagonals of the pins: a fold, a whole sheet.
REACHES = np.array([0.3, 1.0])
#: How probable it is beforehand that a pin is wrong: common practice.
WRONG = 0.04
#: How far a wrong pin is off, one axis, as a share of the pins' diagonal.
WRONG_BY = 0.1
_LIKELIEST_PAIRS = 6
#: Cases less likely than this share of all are forgotten, and those past a count.
_FORGOTTEN, _MOST_CASES = 1e-3, 60


@dataclass(frozen=True)
class Case:
    """Be one way in which a sheet may be warped, and its pins wrong.

    Attributes
    ----------
    share : float
        Its probability.
    warp_m : float
        Standard error of the warp, one axis [m].
    reach : float
        How far it reaches, in half-diagonals of the pins, no unit.
    wrong : tuple of int
        Numbers of the pins that are wrong.
    """

    share: float
    warp_m: float
    reach: float
    wrong: tuple[int, ...]


@dataclass(frozen=True)
class SheetErrors:
    """Hold the cases of a sheet.

    Attributes
    ----------
    cases : tuple of Case
        Their shares add up to 1.
    wrong : (pins,) float64 array
        How probable it is that each pin is wrong.
    pins_u, own_m, wide_m : (pins, 2), (pins,) float64 arrays and float
        Pins on the sheet, their own errors and how far wrong ones are off [m].
    B, y : (2 pins, terms), (2 pins,) float64 arrays
        As in *Symbols*.
    """

    cases: tuple[Case, ...]
    wrong: Floats
    pins_u: Floats
    own_m: Floats
    wide_m: float
    B: Floats
    y: Floats

    def foretold(self, u: Floats, b: Floats) -> list[tuple[float, Floats, Floats]]:
        """Foretell how far true places are from those of the map, case by case.

        Parameters
        ----------
        u : (places, 2) float64 array
            Places of the sheet.
        b : (places, 2, terms) float64 array
            How they move with the terms.

        Returns
        -------
        list of (share, off_m, covariance_m2)
            off (2 places,), covariance (2 places, 2 places) of all together; east and
            north of each place stand side by side.
        """
        return [(one.share, *self._foretold(one, u, b)) for one in self.cases]

    def _foretold(self, case: Case, u: Floats, b: Floats) -> tuple[Floats, Floats]:
        own = self.own_m**2
        own = own + self.wide_m**2 * np.isin(np.arange(len(own)), case.wrong)
        C = _doubled(
            case.warp_m**2 * _alike(self.pins_u, self.pins_u, case.reach) + np.diag(own)
        )
        held = cho_factor(C)
        k = _doubled(case.warp_m**2 * _alike(u, self.pins_u, case.reach))
        flat = b.reshape(-1, b.shape[2])
        Ci_B, Ci_k = cho_solve(held, self.B), cho_solve(held, k.T)
        normal = np.linalg.inv(self.B.T @ Ci_B)
        terms = normal @ (Ci_B.T @ self.y)
        off = flat @ terms + Ci_k.T @ (self.y - self.B @ terms)
        free = flat - k @ Ci_B
        itself = _doubled(case.warp_m**2 * _alike(u, u, case.reach))
        return off, itself - k @ Ci_k + free @ normal @ free.T


def weigh_cases(
    pins_u: Floats, own_m: Floats, B: Floats, y: Floats, diagonal_m: float
) -> SheetErrors:
    """Weigh every case by the leftovers.

    Parameters
    ----------
    pins_u : (pins, 2) float64 array
        Pins on the sheet, in half-diagonals.
    own_m : (pins,) float64 array
        Their own standard errors, one axis [m].
    B, y : (2 pins, terms), (2 pins,) float64 arrays
        As in *Symbols*.
    diagonal_m : float
        The pins' diagonal on the ground [m].
    """
    count = len(pins_u)
    wide = WRONG_BY * diagonal_m
    weighed: list[tuple[float, Case]] = []
    for warp, reach, believed in _warps():
        alike = _alike(pins_u, pins_u, reach)
        C = _doubled((warp * diagonal_m) ** 2 * alike + np.diag(own_m**2))
        held = cho_factor(C)
        Ci_B = cho_solve(held, B)
        normal = B.T @ Ci_B
        P = cho_solve(held, np.eye(2 * count)) - Ci_B @ np.linalg.solve(normal, Ci_B.T)
        base = -0.5 * (
            2.0 * float(np.log(np.diag(held[0])).sum())
            + float(np.linalg.slogdet(normal)[1])
            + float(y @ P @ y)
        )
        base += np.log(believed) + count * np.log1p(-WRONG)
        odds = np.log(WRONG / (1.0 - WRONG))
        singles = [(one,) for one in range(count)]
        alone = odds + _likelier(P, y, singles, wide)
        # Where both are wrong neither may stand out alone, so pairs are of the worst.
        worst = sorted(np.argsort(-alone)[:_LIKELIEST_PAIRS].tolist())
        pairs = list(combinations(worst, 2))
        both = 2.0 * odds + _likelier(P, y, pairs, wide)
        more: dict[tuple[int, ...], float] = {(): 0.0}
        more |= dict(zip(singles, alone.tolist(), strict=True))
        more |= dict(zip(pairs, both.tolist(), strict=True))
        weighed += [
            (base + value, Case(0.0, warp * diagonal_m, reach, wrong))
            for wrong, value in more.items()
        ]
    logs = np.array([log for log, _ in weighed])
    shares = np.exp(logs - logs.max())
    shares /= shares.sum()
    wrong = np.zeros(count)
    for share, (_, case) in zip(shares, weighed, strict=True):
        wrong[list(case.wrong)] += share
    order = np.argsort(-shares)[:_MOST_CASES]
    order = order[shares[order] > _FORGOTTEN]
    total = float(shares[order].sum())
    cases = tuple(
        Case(float(shares[i]) / total, c.warp_m, c.reach, c.wrong)
        for i, c in ((i, weighed[i][1]) for i in order)
    )
    return SheetErrors(cases, wrong, pins_u, own_m, wide, B, y)


def _likelier(
    P: Floats, y: Floats, wrong: Sequence[tuple[int, ...]], wide: float
) -> Floats:
    """Return how much likelier the leftovers are if these pins are wrong, as logs.

    Wrong pins add wide^2 to their own variance, an update of few rows of C.
    """
    rows = np.array([[2 * i + axis for i in one for axis in (0, 1)] for one in wrong])
    inner = P[rows[:, :, None], rows[:, None, :]]
    seen = (P @ y)[rows]
    none = np.eye(rows.shape[1])
    solved = np.linalg.solve(none / wide**2 + inner, seen[..., None])[..., 0]
    gain = (seen * solved).sum(axis=1)
    wider = np.linalg.slogdet(none + wide**2 * inner)[1]
    return np.asarray(0.5 * gain - 0.5 * wider, dtype=np.float64)


def _warps() -> list[tuple[float, float, float]]:
    """Return warp, reach and what is believed of each; they add up to 1."""
    some = WARPS[1:]
    believed = np.exp(-0.5 * (np.log(some / _MEDIAN_WARP) / _LOG_SD) ** 2)
    believed = np.append(0.1, 0.9 * believed / believed.sum())
    made = [(0.0, float(REACHES[-1]), float(believed[0]))]
    for warp, share in zip(some, believed[1:], strict=True):
        made += [(float(warp), float(r), float(share) / len(REACHES)) for r in REACHES]
    return made


def _alike(u: Floats, other: Floats, reach: float) -> Floats:
    """Return how alike the warp is at places, 1 on one spot."""
    apart = np.linalg.norm(u[:, None] - other[None], axis=2)
    return np.asarray(np.exp(-apart / reach), dtype=np.float64)


def _doubled(one_axis: Floats) -> Floats:
    """Return a matrix of both axes, which share nothing, side by side."""
    return np.asarray(np.kron(one_axis, np.eye(2)), dtype=np.float64)
