"""Lay all scans of one plate over the one that is referred to."""

from __future__ import annotations

import heapq
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from wherestood.plate.copies.registration import Registration
from wherestood.plate.copies.warp import Floats

__all__ = ["Laid", "lay_copies"]

_LOOK_NODES = 5


@dataclass(frozen=True)
class Laid:
    """Hold the way from one scan to the reference, over others if need be.

    Attributes
    ----------
    steps : tuple of (Registration, bool)
        Registrations in order, and True where one is used backwards; empty for the
        reference itself.
    error_px : float
        Median standard error of a point carried, one axis, on the reference [px].
    """

    steps: tuple[tuple[Registration, bool], ...]
    error_px: float

    def carry(
        self, points_px: Floats, covariance_px2: Floats | None = None
    ) -> tuple[Floats, Floats]:
        """Carry marks to the reference, with their error; as `Registration.carry`."""
        points = np.atleast_2d(np.asarray(points_px, dtype=np.float64))
        covariance = (
            np.zeros((len(points), 2, 2)) if covariance_px2 is None else covariance_px2
        )
        for step, backwards in self.steps:
            carry = step.carry_back if backwards else step.carry
            points, covariance = carry(points, covariance)
        return points, covariance

    def carry_back(
        self, points_px: Floats, covariance_px2: Floats | None = None
    ) -> tuple[Floats, Floats]:
        """Carry marks from the reference to the scan, with their error."""
        turned = tuple((step, not back) for step, back in reversed(self.steps))
        return Laid(turned, self.error_px).carry(points_px, covariance_px2)


def lay_copies(
    reference: str, pairs: Mapping[tuple[str, str], Registration]
) -> dict[str, Laid]:
    """Find each scan's surest way to the reference.

    Parameters
    ----------
    reference : str
        Name of the scan that is referred to.
    pairs : mapping of (source, target) to Registration
        Registrations between scans, in whatever direction they were made.

    Returns
    -------
    dict of str to Laid
        By scan; those that no chain of registrations reaches are absent. Of several
        ways the one with the least error counts (Dijkstra's search); what the ways
        have between them is not adjusted together.
    """
    joined: dict[str, list[tuple[str, Registration, bool]]] = {}
    for (source, target), registration in pairs.items():
        joined.setdefault(target, []).append((source, registration, False))
        joined.setdefault(source, []).append((target, registration, True))
    laid: dict[str, Laid] = {}
    waiting: list[tuple[float, str, int, Laid]] = [(0.0, reference, 0, Laid((), 0.0))]
    count = 0
    while waiting:
        _, name, _, way = heapq.heappop(waiting)
        if name in laid:
            continue
        laid[name] = way
        for other, registration, backwards in joined.get(name, ()):
            if other in laid:
                continue
            steps = ((registration, backwards), *way.steps)
            error = _error_px(steps)
            count += 1
            heapq.heappush(waiting, (error, other, count, Laid(steps, error)))
    return laid


def _error_px(steps: tuple[tuple[Registration, bool], ...]) -> float:
    """Return the median standard error of points of the first scan, carried on."""
    first, backwards = steps[0]
    frame = first.warp.target if backwards else first.warp.source
    x = np.linspace(0.0, 2.0 * frame.x_px, _LOOK_NODES)
    y = np.linspace(0.0, 2.0 * frame.y_px, _LOOK_NODES)
    points = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    _, covariance = Laid(steps, 0.0).carry(points)
    variance = covariance.trace(axis1=1, axis2=2) / 2.0
    known = np.isfinite(variance)
    return float(np.sqrt(np.median(variance[known]))) if known.any() else np.inf
