"""Say what lens a fix found."""

from __future__ import annotations

import math

from wherestood.fix.result import Fix
from wherestood.record.doubt import give_or_take
from wherestood.record.inputs import FixInputs

__all__ = ["NOT_LEARNED", "lens_given", "lens_lines"]

NOT_LEARNED = 0.7  # share of the first doubt left, above which nothing was learned
#: Common practice: lens to plate over the plate's diagonal, from and to, for two
#: views in three.
USUAL = (0.72, 1.18)


def lens_lines(fix: Fix, inputs: FixInputs) -> tuple[str, ...]:
    """Say lens to plate, the angle taken in, and how usual that was.

    Nothing is said to be usual where the lens was assumed to be, where the plate
    was trimmed, so that its diagonal is not the scan's, or where the doubt reaches
    from one class into the next.
    """
    lines = [_distance(fix), _angle(fix, inputs)]
    if fix.camera.prior_share.get("principal_distance_px", 0.0) > NOT_LEARNED:
        lines.append(
            "This is what was given: the plate adds little to it."
            if lens_given(inputs)
            else "This was assumed rather than learned from the plate."
        )
    else:
        lines.append(_usual(fix, inputs))
    return tuple(line for line in lines if line)


def lens_given(inputs: FixInputs) -> bool:
    """Say whether lens to plate was given with its doubt, not taken from the trade."""
    return inputs.settings.principal_distance_mm is not None


def _distance(fix: Fix) -> str:
    camera = fix.camera
    sd_px = camera.sd.get("principal_distance_px", math.nan)
    seen_px = camera.principal_distance_px
    words = in_px = give_or_take(seen_px, sd_px, " px of the scan")
    if camera.principal_distance_mm is not None:
        sd_mm = sd_px * camera.principal_distance_mm / seen_px
        in_mm = give_or_take(camera.principal_distance_mm, sd_mm, " mm")
        words = f"{in_mm} ({in_px})"
    lead = "Lens to plate"
    if fix.verdict != "located":
        lead = "At the likeliest place, lens to plate"
    if camera.principal_distance_mm is None:
        words += "; in millimetres only where the plate's size is known"
    return f"{lead}: {words}."


def _angle(fix: Fix, inputs: FixInputs) -> str:
    seen_px, wide_px = fix.camera.principal_distance_px, inputs.plate_px[0]
    sd_px = fix.camera.sd.get("principal_distance_px", math.nan)
    half = wide_px / (2.0 * seen_px)
    angle_deg = math.degrees(2.0 * math.atan(half))
    sd_deg = math.degrees(2.0 * half / (1.0 + half**2)) * sd_px / seen_px
    return f"The scan takes in {give_or_take(angle_deg, sd_deg, '°')}, side to side."


def _usual(fix: Fix, inputs: FixInputs) -> str:
    if inputs.settings.trimmed or inputs.plate.trimmed:
        return ""
    diagonal_px = math.hypot(*inputs.plate_px)
    ratio = fix.camera.principal_distance_px / diagonal_px
    sd = fix.camera.sd.get("principal_distance_px", math.nan) / diagonal_px
    low, high = USUAL
    if ratio + sd < low:
        kind = "a shorter lens and a wider view than was usual"
    elif ratio - sd > high:
        kind = "a longer lens and a narrower view than was usual"
    elif low < ratio - sd and ratio + sd < high:
        kind = "about as long a lens as was usual"
    else:
        return ""
    return (
        f"That is {ratio:.2g} times the plate's diagonal: {kind} for its size (common "
        "practice)."
    )
