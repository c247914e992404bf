"""Write a registration as a JSON record, and read it again."""

from __future__ import annotations

from typing import Any, cast

import numpy as np

from wherestood.errors import PlateError
from wherestood.plate.copies.fit import WarpFit
from wherestood.plate.copies.registration import Registration
from wherestood.plate.copies.warp import KINDS, Frame, Kind, Warp

__all__ = ["registration_as_json", "registration_of"]

_FORM = 1


def registration_as_json(registration: Registration) -> dict[str, Any]:
    """Return all that is needed to carry marks by it, and what a person should know.

    The terms' meaning is that of `wherestood.plate.copies.warp`; frames are centre and
    half-diagonal [px].
    """
    warp, fit = registration.warp, registration.fit
    return {
        "form": _FORM,
        "kind": warp.kind,
        "terms": warp.terms.tolist(),
        "covariance": fit.covariance.tolist(),
        "mirrored": warp.mirrored,
        "source_px": _frame(warp.source),
        "target_px": _frame(warp.target),
        "sd_px": fit.sd_px,
        "bend_sd_px": fit.bend_sd_px,
        "features": registration.features,
        "hand_points": registration.hand_points,
        "agreement": registration.agreement,
        "tone_inverted": registration.tone_inverted,
        "held_px": registration.held_px.tolist(),
    }


def registration_of(record: dict[str, Any]) -> Registration:
    """Read a record that `registration_as_json` made; single pairs are not kept.

    Raises
    ------
    PlateError
        If it is none.
    """
    try:
        kind = cast(Kind, record["kind"])
        if record["form"] != _FORM or kind not in KINDS:
            raise ValueError(kind)
        warp = Warp(
            kind,
            np.array(record["terms"], dtype=np.float64),
            bool(record["mirrored"]),
            Frame(*map(float, record["source_px"])),
            Frame(*map(float, record["target_px"])),
        )
        fit = WarpFit(
            warp=warp,
            covariance=np.array(record["covariance"], dtype=np.float64),
            residual_px=np.empty((0, 2)),
            inside=np.empty(0, dtype=np.bool_),
            sd_px=float(record["sd_px"]),
            bend_sd_px=float(record["bend_sd_px"]),
        )
        return Registration(
            warp=warp,
            fit=fit,
            tone_inverted=bool(record["tone_inverted"]),
            hand_points=int(record["hand_points"]),
            features=int(record["features"]),
            agreement=float(record["agreement"]),
            held_px=np.array(record["held_px"], dtype=np.float64).reshape(-1, 2),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise PlateError(
            "How a copy lies on another is not recorded in a form that can be read.",
            "Register it again.",
        ) from error


def _frame(frame: Frame) -> list[float]:
    return [frame.x_px, frame.y_px, frame.half_diagonal_px]
