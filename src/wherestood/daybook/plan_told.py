"""Tell how a plan is pinned, as the command and the page both need it."""

from __future__ import annotations

from typing import Any

import numpy as np

from wherestood.daybook.plan_pins import Relaid

__all__ = ["pinning_told"]


def pinning_told(done: Relaid) -> dict[str, Any]:
    """Return how a plan is pinned, pin by pin, in metres."""
    pinning, left = done.plan.pinning, done.left_out
    expected = pinning.radius90_m(pinning.pins.sheet_px)

    def number(value: float) -> float | None:
        return round(float(value), 3) if np.isfinite(value) else None

    return {
        "plan": done.plan.key,
        "fit": pinning.kind,
        "metres_per_px": round(pinning.metres_per_px, 5),
        "shared_shift_sd_m": round(done.shared_shift_sd_m, 3),
        "pins": [
            {
                "name": name,
                "counts": bool(counted),
                "wrong": round(float(wrong), 4),
                "left_over_east_m": number(over[0]),
                "left_over_north_m": number(over[1]),
                "left_over_m": number(float(np.hypot(*over))),
                "within90_m": number(radius),
                "left_out_miss_m": number(float(np.hypot(*miss))),
                "left_out_within90_m": number(held),
            }
            for name, counted, wrong, over, radius, miss, held in zip(
                pinning.pins.names, pinning.counted, pinning.errors.wrong,
                pinning.left_over_m, expected, left.miss_m, left.radius90_m,
                strict=True,
            )
        ],
        "left_out_tried": left.tried,
        "left_out_inside": int(left.inside.sum()),
        "moved": [{"feature": key, "m": round(m, 2)} for key, m in done.moved],
        "warnings": list(pinning.warnings),
    }  # fmt: skip
