"""Pin a sheet to the ground by its pins, and set wrong ones aside."""

from __future__ import annotations

from typing import get_args

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import PlanError
from wherestood.plans.pinned import FitKind, Pinning
from wherestood.plans.pins import Pins, refuse_bad_pins
from wherestood.plans.sheet_errors import weigh_cases
from wherestood.plans.straight import (
    STRAIGHT_TERMS,
    StraightKind,
    carried,
    columns,
    fit_straight,
)

__all__ = ["BENDING_PINS", "chosen_kind", "pin_sheet"]

Floats = NDArray[np.float64]

#: A sheet is bent by a dozen pins or more: fewer bend it to their own errors.
BENDING_PINS = 12
#: A pin more likely wrong than right is set aside.
_SET_ASIDE = 0.5
#: A mirrored fit that leaves less than this share over says that the sheet is mirrored.
_MIRRORED = 0.25


def chosen_kind(count: int) -> FitKind:
    """Return the fit that so many pins get unless told: projective from four on."""
    return {0: "similarity", 1: "similarity", 2: "similarity", 3: "affine"}.get(
        count, "projective"
    )  # type: ignore[return-value]


def pin_sheet(
    pins: Pins,
    kind: FitKind | None = None,
    *,
    mirrored: bool = False,
    set_aside: bool = True,
) -> Pinning:
    """Pin a sheet to the ground.

    Parameters
    ----------
    pins : Pins
        The pins.
    kind : {"similarity", "affine", "projective", "bending"}, optional
        The map; projective unless told, or the one that two or three pins hold.
    mirrored : bool
        Whether the sheet is known to be seen from behind.
    set_aside : bool
        Whether a pin more likely wrong than right is left out of the map.

    Raises
    ------
    PlanError
        If the pins do not hold the sheet, or say that it is seen from behind.

    Notes
    -----
    The map minimises the sum of squares of what is left over on the ground, each in its
    pin's own standard errors. Measured over 400 invented sheets a kind of trouble
    (`tests/plans/test_stated_error.py`), the stated error holds the true one at points
    not used 9 times in 10.
    """
    if kind is not None and kind not in get_args(FitKind):
        raise PlanError(
            f"The fit {kind!r} is not known.",
            f"Choose one of: {', '.join(get_args(FitKind))}.",
        )
    wanted = kind or chosen_kind(pins.count)
    straight: StraightKind = "affine" if wanted == "bending" else wanted
    least = BENDING_PINS if wanted == "bending" else STRAIGHT_TERMS[straight] // 2
    refuse_bad_pins(pins, least)
    if not mirrored:
        _refuse_mirrored(pins)
    counted = np.ones(pins.count, dtype=bool)
    while True:
        pinning = _pinned(pins, wanted, straight, counted, mirrored)
        if not set_aside:
            return pinning
        wrong = pinning.errors.wrong
        worst = int(np.argmax(np.where(counted, wrong, -1.0)))
        left = counted.copy()
        left[worst] = False
        # What is left must still hold the map with something over.
        if wrong[worst] <= _SET_ASIDE or left.sum() <= least:
            return pinning
        try:
            refuse_bad_pins(pins.some(left), least)
            _ = _pinned(pins, wanted, straight, left, mirrored)
        except PlanError:
            return pinning
        counted = left


def _pinned(
    pins: Pins,
    wanted: FitKind,
    straight: StraightKind,
    counted: NDArray[np.bool_],
    mirrored: bool,
) -> Pinning:
    low, high = pins.sheet_px.min(axis=0), pins.sheet_px.max(axis=0)
    middle_px, half_px = (low + high) / 2.0, float(np.linalg.norm(high - low)) / 2.0
    middle_m = pins.ground_m[counted].mean(axis=0)
    u = (pins.sheet_px - middle_px) / half_px * [1.0, -1.0]
    v = pins.ground_m - middle_m
    H, own = _mapped(pins, wanted, straight, counted, u, v, half_px, mirrored)
    B = columns(straight, H, u).reshape(2 * pins.count, -1)
    y = (v - carried(H, u)).ravel()
    diagonal = 2.0 * float(np.median(_scale(H, u)))
    return Pinning(
        pins=pins,
        kind=wanted,
        counted=counted,
        errors=weigh_cases(u, own, B, y, diagonal),
        warnings=_warnings(pins, wanted, straight, counted),
        _middle_px=middle_px,
        _half_px=half_px,
        _middle_m=middle_m,
        _matrix=H,
        _knots=(u[counted], v[counted]) if wanted == "bending" else None,
    )


def _mapped(
    pins: Pins,
    wanted: FitKind,
    straight: StraightKind,
    counted: NDArray[np.bool_],
    u: Floats,
    v: Floats,
    half_px: float,
    mirrored: bool,
) -> tuple[Floats, Floats]:
    """Return the straight map, and the pins' own errors on the ground [m]."""
    own = np.ones(pins.count)
    for first in (True, False):
        found = fit_straight(
            straight, u[counted], v[counted], 1.0 / own[counted], mirrored=mirrored
        )
        if found is None or not np.all(np.isfinite(carried(found, u))):
            raise PlanError(
                f"The pins do not hold a {wanted} fit: too many of them lie in a line.",
                "Pin places in all corners of the sheet, or choose a stiffer fit.",
            )
        H = found
        if first:
            # A pin's error on the sheet counts on the ground, at its scale there.
            own = np.hypot(pins.ground_sd_m, _scale(H, u) / half_px * pins.sheet_sd_px)
    return H, own


def _scale(H: Floats, u: Floats) -> Floats:
    """Return metres in a half-diagonal about each place [m]."""
    h = 1e-4
    across = [carried(H, u + h * step) - carried(H, u - h * step) for step in np.eye(2)]
    area = across[0][:, 0] * across[1][:, 1] - across[0][:, 1] * across[1][:, 0]
    return np.asarray(np.sqrt(np.abs(area)) / (2.0 * h))


def _refuse_mirrored(pins: Pins) -> None:
    if pins.count < 3:
        return
    u = pins.sheet_px - pins.sheet_px.mean(axis=0)
    u = u / float(np.abs(u).max()) * [1.0, -1.0]
    v = pins.ground_m - pins.ground_m.mean(axis=0)
    left = []
    for mirrored in (False, True):
        H = fit_straight("similarity", u, v, np.ones(pins.count), mirrored=mirrored)
        if H is None:
            return
        # Medians, so that one wrong pin does not mirror a sheet.
        left.append(float(np.median(np.linalg.norm(v - carried(H, u), axis=1))))
    if left[1] < _MIRRORED * left[0]:
        raise PlanError(
            "The pins say that the sheet is seen from behind, left for right.",
            "Check that no two pins are exchanged; if it is a copy made from behind, "
            "say that it is mirrored.",
        )


def _warnings(
    pins: Pins, wanted: FitKind, straight: StraightKind, counted: NDArray[np.bool_]
) -> tuple[str, ...]:
    said = []
    if wanted == "bending":
        said.append(
            "A bent sheet meets every pin, right or wrong, and bends freely between: "
            "prefer a projective fit unless its leftovers show a real warp."
        )
    elif counted.sum() * 2 <= STRAIGHT_TERMS[straight]:
        said.append(
            f"{int(counted.sum())} pins just hold a {wanted} fit: nothing is left over "
            "by which a wrong pin would show. Pin more places."
        )
    if pins.count == 2:
        said.append("Two pins cannot tell whether the sheet is seen from behind.")
    return tuple(said)
