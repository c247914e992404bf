"""Be a sheet that is pinned to the ground, and say how far off any place may be."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wherestood.plans.bending import bending_weights
from wherestood.plans.pins import Pins
from wherestood.plans.sheet_errors import SheetErrors
from wherestood.plans.straight import carried, columns

__all__ = ["FitKind", "Pinning"]

Floats = NDArray[np.float64]
FitKind = Literal["similarity", "affine", "projective", "bending"]

_NEWTON_STEPS = 30
#: Equally likely steps of a plane's normal scatter, by which cases are mixed.
_RINGS, _RAYS = 24, 16


@dataclass(frozen=True)
class Pinning:
    """Be a sheet that is pinned to the ground.

    Attributes
    ----------
    pins : Pins
        All of them.
    kind : {"similarity", "affine", "projective", "bending"}
        The map from sheet to ground.
    counted : (pins,) bool array
        Pins that the map rests on; the others are set aside as wrong.
    errors : SheetErrors
        How the sheet may be warped.
    warnings : tuple of str
        What to know before it is used.
    """

    pins: Pins
    kind: FitKind
    counted: NDArray[np.bool_]
    errors: SheetErrors
    warnings: tuple[str, ...]
    _middle_px: Floats
    _half_px: float
    _middle_m: Floats
    _matrix: Floats
    _knots: tuple[Floats, Floats] | None = field(default=None, repr=False)

    def to_ground(self, sheet_px: ArrayLike) -> Floats:
        """Return where places of the sheet are on the ground.

        Parameters
        ----------
        sheet_px : (..., 2) array_like
            Places [px].

        Returns
        -------
        (..., 2) float64 array
            East and north, NaN where the sheet's own horizon is passed [m].
        """
        places = np.asarray(sheet_px, dtype=np.float64)
        return self._on_ground(self._inwards(places)) + self._middle_m

    def to_sheet(self, ground_m: ArrayLike) -> Floats:
        """Return where places of the ground are on the sheet; NaN for none [px]."""
        ground = np.asarray(ground_m, dtype=np.float64)
        flat = ground.reshape(-1, 2) - self._middle_m
        back = np.linalg.inv(self._matrix)
        u = carried(back / back[2, 2], flat)
        if self._knots is not None:
            u = self._bent_back(flat, u)
        y_down = u * [1.0, -1.0]
        return np.asarray(
            (y_down * self._half_px + self._middle_px).reshape(ground.shape)
        )

    @property
    def metres_per_px(self) -> float:
        """Return the sheet's scale in the middle of its pins [m/px]."""
        step = np.array([[0.0, 0.0], [1e-3, 0.0], [0.0, 1e-3]])
        at = self._on_ground(step)
        area = abs(float(np.linalg.det((at[1:] - at[0]) / 1e-3)))
        return float(np.sqrt(area)) / self._half_px

    @property
    def left_over_m(self) -> Floats:
        """Return how far each pin's ground place is from the map's.

        Returns
        -------
        (pins, 2) float64 array
            East and north [m].
        """
        return self.pins.ground_m - self.to_ground(self.pins.sheet_px)

    def covariance_m2(self, sheet_px: ArrayLike) -> Floats:
        """Return the error to expect at places of the sheet.

        Parameters
        ----------
        sheet_px : (places, 2) array_like
            Places [px].

        Returns
        -------
        (places, 2, 2) float64 array
            Of east and north, mean square about the map's own place [m^2].
        """
        whole = self.joint_covariance_m2(sheet_px)
        count = whole.shape[0] // 2
        return np.stack(
            [whole[2 * i : 2 * i + 2, 2 * i : 2 * i + 2] for i in range(count)]
        )

    def joint_covariance_m2(self, sheet_px: ArrayLike) -> Floats:
        """Return the error to expect at places of the sheet, and how they share it.

        Returns
        -------
        (2 places, 2 places) float64 array
            East and north of each place side by side [m^2].
        """
        u = self._inwards(np.asarray(sheet_px, dtype=np.float64).reshape(-1, 2))
        total = np.zeros((2 * len(u), 2 * len(u)))
        bend = self._bend(u)
        for share, off, covariance in self.errors.foretold(u, self._columns(u)):
            away = off - bend
            total += share * (covariance + np.outer(away, away))
        return total

    def sd_m(self, sheet_px: ArrayLike) -> Floats:
        """Return the standard error to expect at places, along one axis [m]."""
        covariance = self.covariance_m2(sheet_px)
        return np.asarray(np.sqrt(np.trace(covariance, axis1=1, axis2=2) / 2.0))

    def within_m2(self, sheet_px: ArrayLike, probability: float = 0.9) -> Floats:
        """Return the ellipse about a place that holds its true place so often.

        Parameters
        ----------
        sheet_px : (places, 2) array_like
            Places [px].
        probability : float
            How often, 0 to 1.

        Returns
        -------
        (places, 2, 2) float64 array
            M of each, such that e' M^-1 e <= 1 for errors e inside [m^2].

        Notes
        -----
        Of the shape of `covariance_m2`. Its size is that at which the cases together
        reach the probability: few pins leave long tails, which a single normal scatter
        of the same mean square would draw too large a ring for.
        """
        u = self._inwards(np.asarray(sheet_px, dtype=np.float64).reshape(-1, 2))
        whole = self.covariance_m2(sheet_px)
        cases = self.errors.foretold(u, self._columns(u))
        bend, steps = self._bend(u), _normal_steps()
        ellipses = np.empty_like(whole)
        for i, shape in enumerate(whole):
            at = slice(2 * i, 2 * i + 2)
            errors = [
                (off - bend)[at] + steps @ _root(covariance[at, at]).T
                for _, off, covariance in cases
            ]
            shares = np.repeat([share for share, _, _ in cases], len(steps))
            scatter = np.vstack(errors)
            size = (scatter * np.linalg.solve(shape, scatter.T).T).sum(axis=1)
            order = np.argsort(size)
            reached = np.cumsum(shares[order]) / shares.sum()
            ellipses[i] = shape * np.interp(probability, reached, size[order])
        return ellipses

    def radius90_m(self, sheet_px: ArrayLike) -> Floats:
        """Return the mean radius of the ellipse that holds 9 true places in 10 [m]."""
        ellipses = self.within_m2(sheet_px)
        return np.asarray(np.sqrt(np.trace(ellipses, axis1=1, axis2=2) / 2.0))

    def _inwards(self, places_px: Floats) -> Floats:
        inwards = (places_px - self._middle_px) / self._half_px
        return np.asarray(inwards * [1.0, -1.0])

    def _on_ground(self, u: Floats) -> Floats:
        if self._knots is None:
            return carried(self._matrix, u)
        pins_u, pins_v = self._knots
        flat = bending_weights(pins_u, u.reshape(-1, 2)) @ pins_v
        return np.asarray(flat.reshape(u.shape))

    def _columns(self, u: Floats) -> Floats:
        # Under a bent sheet lies the affine map, from which it bends.
        kind = "affine" if self.kind == "bending" else self.kind
        return columns(kind, self._matrix, u)

    def _bend(self, u: Floats) -> Floats:
        """Return how far the map bends away from its straight part [m]."""
        if self._knots is None:
            return np.zeros(2 * len(u))
        return np.asarray((self._on_ground(u) - carried(self._matrix, u)).ravel())

    def _bent_back(self, v: Floats, start: Floats) -> Floats:
        """Find the places of a bent sheet by Newton's steps from its straight part."""
        u = start.copy()
        h = 1e-6
        for _ in range(_NEWTON_STEPS):
            miss = v - self._on_ground(u)
            slopes = [
                (self._on_ground(u + h * step) - self._on_ground(u - h * step))
                / (2.0 * h)
                for step in np.eye(2)
            ]
            step = np.linalg.solve(np.stack(slopes, axis=-1), miss[..., None])[..., 0]
            u = u + step
            if float(np.abs(step).max(initial=0.0)) < 1e-13:
                break
        lost = np.linalg.norm(v - self._on_ground(u), axis=1) > 1e-6
        return np.where(lost[:, None], np.nan, u)


def _normal_steps() -> Floats:
    """Return steps of a plane's normal scatter, each as likely as any other."""
    radius = np.sqrt(-2.0 * np.log1p(-(np.arange(_RINGS) + 0.5) / _RINGS))
    # Each ring is turned against the last, so that its rays do not line up.
    turn = (np.arange(_RAYS) + np.arange(_RINGS)[:, None] * 0.382) * 2 * np.pi / _RAYS
    return np.stack(
        [(radius[:, None] * np.cos(turn)), (radius[:, None] * np.sin(turn))], axis=-1
    ).reshape(-1, 2)


def _root(covariance: Floats) -> Floats:
    """Return a square root of a covariance, rounding below nothing set to nothing."""
    values, axes = np.linalg.eigh(covariance)
    return np.asarray(axes * np.sqrt(np.maximum(values, 0.0)))
