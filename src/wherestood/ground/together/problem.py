"""Hold all that is believed of several plates and what they share, as equations."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import linalg, sparse

from wherestood.ground.together.answer import (
    USUALLY_WRONG,
    PlateTogether,
    ThingTogether,
    Together,
)
from wherestood.ground.together.begin import NEAREST_M, beginnings
from wherestood.ground.together.equations import SMALL, Equations
from wherestood.ground.together.plate_prior import UNKNOWNS, PlatePrior
from wherestood.ground.together.projected import project_things, seen_at
from wherestood.ground.together.told import GroundHeights, Habit, Link, Outing, Thing

__all__ = ["UNHEARD", "Problem"]

Array = NDArray[np.float64]
_COUNT = len(UNKNOWNS)
#: A thing that nobody placed lies about the plates, so widely [m].
_ABOUT_M = (10_000.0, 10_000.0, 500.0)
#: A mark of another thing is off by so many standard errors.
_WRONG_SDS = 30.0
#: What lies behind a camera is so far off, in standard errors, whichever way it turns.
_BEHIND = 1e3
#: A mark that counts less than this moves nothing, wherever its thing lies.
UNHEARD = 1e-6
_SLOPE_STEP_M = 2.0
_BEGINNINGS = 3


class Problem:
    """Hold plates, things and marks, and where each unknown stands among all.

    Unknowns are 13 of each plate, one of each habit, and three of each thing. All that
    is believed without marks is linear in them, but for things that stand on the
    ground.
    """

    def __init__(
        self,
        plates: Sequence[PlatePrior],
        things: Sequence[Thing],
        links: Sequence[Link],
        habits: Sequence[Habit],
        outings: Sequence[Outing],
        ground: GroundHeights | None,
        curvature_per_m: float,
    ) -> None:
        """Lay the unknowns out."""
        self.plates, self.things, self.links = plates, things, links
        self.habits, self.outings = habits, outings
        self.ground, self.curvature_per_m = ground, curvature_per_m
        self.firsts = _COUNT * len(plates) + len(habits)
        self.size = self.firsts + 3 * len(things)
        self._of_plate = [
            np.array([i for i, link in enumerate(links) if link.plate == p], dtype=int)
            for p in range(len(plates))
        ]
        self._marked = np.array([[one.x_px, one.y_px] for one in links])
        self._sd_px = np.array([one.sd_px for one in links])
        self.thing_of = np.array([one.thing for one in links], dtype=int)
        self._standing = np.array(
            [
                i for i, one in enumerate(things)
                if ground is not None and one.above_ground_m is not None
            ],
            dtype=int,
        )  # fmt: skip
        # Each plate's own fix in its own standard errors: rows of the inverse root.
        roots = [_inverse_root(plate.covariance) for plate in plates]
        self._believed, self._offset = self._linear(roots)
        rest = self.size - _COUNT * len(plates)
        blocks = [np.linalg.inv(root) for root in roots]
        eye = [sparse.eye_array(rest)] if rest else []
        spread = sparse.csr_array(sparse.block_diag([*blocks, *eye], format="csr"))
        #: What carries scaled unknowns to those in their own units.
        self.spread: Any = spread.toarray() if self.size <= SMALL else spread

    def _linear(self, roots: Sequence[Array]) -> tuple[sparse.csr_array, Array]:
        """Return A and b of what is believed, as A values - b."""
        rows: list[tuple[Array, list[int], Array]] = []
        for number, (plate, root) in enumerate(zip(self.plates, roots, strict=True)):
            first = _COUNT * number
            rows.append((root, list(range(first, first + _COUNT)), root @ plate.mean))
        for number, habit in enumerate(self.habits):
            column = UNKNOWNS.index(habit.unknown)
            at = _COUNT * len(self.plates) + number
            pair = np.array([[1.0, -1.0]]) / habit.sd
            rows += [
                (pair, [_COUNT * p + column, at], np.zeros(1)) for p in habit.plates
            ]
        for outing in self.outings:
            a, b = (_COUNT * p for p in outing.plates)
            apart = np.hstack((np.eye(2), -np.eye(2))) / outing.sd_m
            rows.append((apart, [a, a + 1, b, b + 1], np.zeros(2)))
        middle = np.mean([plate.mean[:3] for plate in self.plates], axis=0)
        for number, thing in enumerate(self.things):
            at = self.firsts + 3 * number
            known = thing.place_m is not None
            place = np.asarray(thing.place_m if known else middle, dtype=np.float64)
            sd = np.asarray(thing.sd_m if known else _ABOUT_M, dtype=np.float64)
            rows.append((np.diag(1.0 / sd), [at, at + 1, at + 2], place / sd))
        high = [block.shape[0] for block, _, _ in rows]
        start = np.concatenate(([0], np.cumsum(high)))
        where = [
            (
                np.repeat(np.arange(begin, begin + block.shape[0]), block.shape[1]),
                np.tile(columns, block.shape[0]),
            )
            for begin, (block, columns, _) in zip(start, rows, strict=False)
        ]
        found = sparse.csr_array(
            (
                np.concatenate([block.ravel() for block, _, _ in rows]),
                tuple(np.concatenate(part) for part in zip(*where, strict=True)),
            ),
            shape=(int(start[-1]), self.size),
        )
        return found, np.concatenate([offset for _, _, offset in rows])

    def begin(self) -> list[Array]:
        """Return values to begin with, the best first."""
        found = []
        for means, places in beginnings(
            self.plates, self.things, self.links, self.curvature_per_m, _BEGINNINGS
        ):
            habits = [
                np.mean([means[p][UNKNOWNS.index(one.unknown)] for p in one.plates])
                for one in self.habits
            ]
            found.append(
                np.concatenate((means.ravel(), np.array(habits), places.ravel()))
            )
        return found

    def parts(self, values: Array) -> tuple[Array, Array]:
        """Return plates' and things' unknowns."""
        plates = values[: _COUNT * len(self.plates)].reshape(-1, _COUNT)
        return plates, values[self.firsts :].reshape(-1, 3)

    def off_px(self, values: Array) -> Array:
        """Return each mark less where its thing shows [px].

        NaN where the thing lies behind the camera, or inside it.
        """
        plates, things = self.parts(values)
        off = np.empty((len(self.links), 2))
        for number, mine in enumerate(self._of_plate):
            if mine.size:
                cameras = self.plates[number].cameras(plates[number][None])
                places = things[self.thing_of[mine]][None]
                x, y = seen_at(cameras, places, self.curvature_per_m)
                off[mine] = self._marked[mine] - np.column_stack((x[0], y[0]))
                apart = np.hypot(*(places[0, :, :2] - plates[number, :2]).T)
                off[mine[apart < NEAREST_M]] = np.nan
        return off

    def squares(self, values: Array) -> Array:
        """Return how far each mark is off, squared, in its own standard errors."""
        size = ((self.off_px(values) / self._sd_px[:, None]) ** 2).sum(axis=1)
        return np.asarray(np.where(np.isfinite(size), size, _BEHIND**2))

    def _odds(self, values: Array) -> tuple[Array, Array]:
        """Return log odds of each mark being of its thing, and of another."""
        size = self.squares(values)
        right = np.log1p(-USUALLY_WRONG) - 0.5 * size
        other = np.log(USUALLY_WRONG / _WRONG_SDS**2) - 0.5 * size / _WRONG_SDS**2
        return right, other

    def wrong(self, values: Array) -> Array:
        """Return how probable it is that each mark is of another thing."""
        right, other = self._odds(values)
        return np.asarray(1.0 / (1.0 + np.exp(np.clip(right - other, -50.0, 50.0))))

    def heard(self, values: Array, within_sds: float | None) -> Array:
        """Return how much each mark counts, 0 to 1.

        Parameters
        ----------
        values : float64 array
            Where all unknowns stand.
        within_sds : float or None
            Marks this many standard errors off count half (Cauchy's weights), which
            lets most marks of a thing outvote a wrong one; None weighs them by how
            probable it is that they are wrong.
        """
        if within_sds is None:
            wrong = self.wrong(values)
            return np.asarray((1.0 - wrong) + wrong / _WRONG_SDS**2)
        size = self.squares(values)
        return np.asarray(1.0 / (1.0 + size / within_sds**2))

    def unlikely(self, values: Array) -> float:
        """Return twice the log odds against some values, wrong marks allowed for."""
        return float(
            self.told_squares(values) - 2.0 * np.logaddexp(*self._odds(values)).sum()
        )

    def cost(self, values: Array, heard: Array) -> float:
        """Return the sum of squares, each mark counted as it is heard."""
        off = self.off_px(values) * self._weight(heard)[:, None]
        behind = np.where(heard > UNHEARD, _BEHIND, 0.0)[:, None]
        off = np.where(np.isfinite(off), off, behind)
        return float((off**2).sum()) + self.told_squares(values)

    def told_squares(self, values: Array) -> float:
        """Return how far values are from what is believed without marks, squared."""
        return float((self._told(values) ** 2).sum())

    def _weight(self, heard: Array) -> Array:
        return np.asarray(np.sqrt(heard) / self._sd_px)

    def _told(self, values: Array) -> Array:
        """Return what is left of beliefs without marks, in standard errors."""
        linear = self._believed @ values - self._offset
        off, _ = self._above(values)
        return np.concatenate((linear, off))

    def _above(self, values: Array) -> tuple[Array, Array]:
        """Return how far things stand off the ground, and the derivatives."""
        standing = self._standing
        if self.ground is None or not standing.size:
            return np.empty(0), np.empty((0, 3))
        place = self.parts(values)[1][standing]
        h = _SLOPE_STEP_M
        east = place[:, :1] + np.array([0.0, h, -h, 0.0, 0.0])
        north = place[:, 1:2] + np.array([0.0, 0.0, 0.0, h, -h])
        z = np.asarray(self.ground(east, north), dtype=np.float64)
        above = np.array([self.things[i].above_ground_m for i in standing], dtype=float)
        sd = np.array([self.things[i].above_ground_sd_m for i in standing])
        slopes = np.column_stack(
            (
                -(z[:, 1] - z[:, 2]) / (2.0 * h),
                -(z[:, 3] - z[:, 4]) / (2.0 * h),
                np.ones(len(z)),
            )
        )
        known: NDArray[np.bool_] = np.asarray(np.isfinite(z).all(axis=1))
        off = np.where(known, (place[:, 2] - z[:, 0] - above) / sd, 0.0)
        return off, np.where(known[:, None], slopes / sd[:, None], 0.0)

    def equations(self, values: Array, heard: Array) -> Equations:
        """Return the equations about some values."""
        marks, residual = self._of_marks(values, heard)
        off, slopes = self._above(values)
        at = self.firsts + 3 * self._standing[:, None] + np.arange(3)
        ground = sparse.csr_array(
            (slopes.ravel(), (np.repeat(np.arange(len(off)), 3), at.ravel())),
            shape=(len(off), self.size),
        )
        rest = np.concatenate((self._believed @ values - self._offset, off))
        whole = np.concatenate((residual, rest))
        parts = (marks, self._believed, ground)
        if self.size <= SMALL:
            dense = np.vstack([part.toarray() for part in parts])
            return Equations(dense @ self.spread, whole, self.firsts)
        jacobian = sparse.csr_array(sparse.vstack(parts, format="csr"))
        return Equations(sparse.csr_array(jacobian @ self.spread), whole, self.firsts)

    def _of_marks(self, values: Array, heard: Array) -> tuple[sparse.csr_array, Array]:
        plates, things = self.parts(values)
        weight = self._weight(heard)
        rows, columns, data = [], [], []
        residual = np.zeros((len(self.links), 2))
        for number, mine in enumerate(self._of_plate):
            if not mine.size:
                continue
            at, by_plate, by_thing = project_things(
                self.plates[number], plates[number], things[self.thing_of[mine]],
                self.curvature_per_m,
            )  # fmt: skip
            apart = np.hypot(*(things[self.thing_of[mine], :2] - plates[number, :2]).T)
            there: NDArray[np.bool_] = np.asarray(
                np.isfinite(at).all(axis=1) & (apart >= NEAREST_M)
            )
            scale = np.where(there, weight[mine], 0.0)[:, None, None]
            off = (at - self._marked[mine]) * weight[mine, None]
            residual[mine] = np.where(there[:, None], off, 0.0)
            row = np.repeat((2 * mine[:, None] + np.arange(2)).ravel(), _COUNT + 3)
            own = np.broadcast_to(
                _COUNT * number + np.arange(_COUNT), (mine.size, _COUNT)
            )
            last = self.firsts + 3 * self.thing_of[mine][:, None] + np.arange(3)
            column = np.repeat(np.hstack((own, last)), 2, axis=0)
            rows.append(row)
            columns.append(column.ravel())
            slopes = np.concatenate((by_plate, by_thing), axis=2)
            data.append((np.nan_to_num(slopes) * scale).ravel())
        marks = sparse.csr_array(
            (np.concatenate(data), (np.concatenate(rows), np.concatenate(columns))),
            shape=(2 * len(self.links), self.size),
        )
        return marks, residual.ravel()

    def answer(
        self, values: Array, heard: Array, rounds: int, settled: bool
    ) -> Together:
        """Return the answer at some values."""
        scaled, of_things = self.equations(values, heard).reduced().covariance()
        spread = self.spread[: self.firsts, : self.firsts]
        whole = np.asarray(spread @ (spread @ scaled).T)
        plates, things = self.parts(values)
        return Together(
            tuple(
                PlateTogether(
                    own, plates[i].copy(),
                    whole[_COUNT * i : _COUNT * (i + 1), _COUNT * i : _COUNT * (i + 1)],
                )
                for i, own in enumerate(self.plates)
            ),
            tuple(
                ThingTogether(
                    thing, things[i].copy(), of_things[i],
                    tuple(sorted({o.plate for o in self.links if o.thing == i})),
                )
                for i, thing in enumerate(self.things)
            ),
            tuple(self.links), self.off_px(values), self.wrong(values), rounds,
            settled, *self._left_over(values),
        )  # fmt: skip

    def _left_over(self, values: Array) -> tuple[float, float]:
        """Return what is left over, squared, and what chance leaves in the mean."""
        right = 1.0 - self.wrong(values)
        told = self._told(values)
        # What is believed of things that nobody placed leaves next to nothing over.
        free = 3 * sum(one.place_m is None for one in self.things)
        left = float((right * self.squares(values)).sum() + (told**2).sum())
        return left, float(2.0 * right.sum() + len(told) - free - self.size)


def _inverse_root(covariance: Array) -> Array:
    """Return R with R'R the inverse of a covariance, each unknown scaled first."""
    sd = np.sqrt(np.diag(covariance))
    lower = np.linalg.cholesky(covariance / np.outer(sd, sd))
    return np.asarray(linalg.solve_triangular(lower, np.diag(1.0 / sd), lower=True))
