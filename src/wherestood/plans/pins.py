"""Hold the pins of a sheet, and refuse pins that cannot hold one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wherestood.errors import PlanError

__all__ = ["Pins", "refuse_bad_pins"]

Floats = NDArray[np.float64]

#: How well a person puts a pin on a clean corner of a sheet [px]: common practice.
SHEET_SD_PX = 2.0
#: ... and reads the same corner on a modern map or model [m]: common practice.
GROUND_SD_M = 2.0
#: Pins whose spread across is less than this share of their spread along lie in a
#: line: what stands off the line would be guessed.
_IN_A_LINE = 0.02
#: Pins nearer than this share of the spread of all are on one spot.
_ON_ONE_SPOT = 1e-3


@dataclass(frozen=True)
class Pins:
    """Hold places of a sheet, and where each is on the ground.

    Attributes
    ----------
    names : tuple of str
        What each is called.
    sheet_px : (pins, 2) float64 array
        On the sheet, x right and y down [px].
    ground_m : (pins, 2) float64 array
        On the ground, east and north [m].
    sheet_sd_px : (pins,) float64 array
        Standard error of each on the sheet, along each axis [px].
    ground_sd_m : (pins,) float64 array
        ... and on the ground [m].
    """

    names: tuple[str, ...]
    sheet_px: Floats
    ground_m: Floats
    sheet_sd_px: Floats
    ground_sd_m: Floats

    @classmethod
    def of(
        cls,
        sheet_px: ArrayLike,
        ground_m: ArrayLike,
        *,
        names: Sequence[str] | None = None,
        sheet_sd_px: ArrayLike = SHEET_SD_PX,
        ground_sd_m: ArrayLike = GROUND_SD_M,
    ) -> Pins:
        """Make pins of lists.

        Parameters
        ----------
        sheet_px, ground_m : (pins, 2) array_like
            Places [px], [m].
        names : sequence of str, optional
            Names; numbers from 1 unless told.
        sheet_sd_px, ground_sd_m : float or (pins,) array_like
            Standard errors [px], [m].

        Raises
        ------
        PlanError
            If the lists do not belong together, or hold what is no number.
        """
        sheet = np.asarray(sheet_px, dtype=np.float64).reshape(-1, 2)
        ground = np.asarray(ground_m, dtype=np.float64).reshape(-1, 2)
        if len(sheet) != len(ground):
            raise PlanError(
                f"There are {len(sheet)} places on the sheet and {len(ground)} on the "
                "ground.",
                "Give each pin both.",
            )
        count = len(sheet)
        called = tuple(names or (str(one + 1) for one in range(count)))
        doubts = [
            np.broadcast_to(np.asarray(sd, dtype=np.float64), (count,)).copy()
            for sd in (sheet_sd_px, ground_sd_m)
        ]
        pins = cls(called, sheet, ground, doubts[0], doubts[1])
        for name, place, on_ground, *sds in zip(
            called, sheet, ground, *doubts, strict=True
        ):
            if not np.all(np.isfinite([*place, *on_ground])):
                raise PlanError(
                    f"Pin {name} holds what is no number.", "Give it anew, in numbers."
                )
            if not all(np.isfinite(sd) and sd >= 0.0 for sd in sds) or sum(sds) == 0.0:
                raise PlanError(
                    f"The standard error of pin {name} is not above 0.",
                    "Say how far off it may be.",
                )
        return pins

    @property
    def count(self) -> int:
        """Return how many there are."""
        return len(self.names)

    def some(self, chosen: NDArray[np.bool_]) -> Pins:
        """Return those that are chosen."""
        names = tuple(n for n, one in zip(self.names, chosen, strict=True) if one)
        return replace(
            self,
            names=names,
            sheet_px=self.sheet_px[chosen],
            ground_m=self.ground_m[chosen],
            sheet_sd_px=self.sheet_sd_px[chosen],
            ground_sd_m=self.ground_sd_m[chosen],
        )


def refuse_bad_pins(pins: Pins, least: int) -> None:
    """Refuse pins that are too few, on one spot or in a line.

    Parameters
    ----------
    pins : Pins
        The pins.
    least : int
        How many the fit needs.

    Raises
    ------
    PlanError
        With what to do.
    """
    if pins.count < 2:
        raise PlanError(
            f"The sheet has {pins.count} pin{'' if pins.count == 1 else 's'}, which "
            "gives it no scale.",
            "Pin a second place, as far from the first as the sheet allows.",
        )
    if pins.count < least:
        raise PlanError(
            f"The sheet has {pins.count} pins; this fit needs {least}.",
            "Pin more places, or choose a stiffer fit.",
        )
    for places, where in ((pins.sheet_px, "sheet"), (pins.ground_m, "ground")):
        _refuse_one_spot(pins, places, where)
        if least > 2 and _spread(places) < _IN_A_LINE:
            raise PlanError(
                f"The pins lie in a line on the {where}: what stands beside that line "
                "would be guessed.",
                "Pin a place well off the line, or choose the fit of two pins, "
                "similarity.",
            )


def _refuse_one_spot(pins: Pins, places: Floats, where: str) -> None:
    apart = np.linalg.norm(places[:, None] - places[None], axis=2)
    near = apart < _ON_ONE_SPOT * float(apart.max())
    one, other = np.nonzero(np.triu(near, 1) | np.triu(apart == 0.0, 1))
    if len(one):
        raise PlanError(
            f"Pins {pins.names[one[0]]} and {pins.names[other[0]]} are on one spot of "
            f"the {where}.",
            "Move one of them, or take it away.",
        )


def _spread(places: Floats) -> float:
    """Return the spread across the line that fits best over that along it."""
    across = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)
    return float(across[-1] / across[0])
