"""Say what became of the ridge lines traced below the skyline."""

from __future__ import annotations

from typing import Any

from wherestood.fix.result import Fix

__all__ = ["explained", "ridges_counted", "ridges_sentence"]

#: A line is called explained from here on: e times likelier where the ground shows
#: such a ridge than if the line were none.
LEAST_LOG_ODDS = 1.0


def ridges_counted(fix: Fix) -> tuple[dict[str, Any], ...]:
    """Return what the fix says of each ridge line that was long enough to count."""
    return tuple(item for item in _ridges(fix) if item["log_odds"] is not None)


def explained(item: dict[str, Any]) -> bool:
    """Return whether a ridge line agrees with the ground seen by the camera."""
    return bool(item["log_odds"] > LEAST_LOG_ODDS)


def ridges_sentence(fix: Fix) -> str:
    """Say how many ridge lines the ground explains; nothing without any."""
    counted = ridges_counted(fix)
    short = len(_ridges(fix)) - len(counted)
    if not counted:
        none = "No ridge line traced inside the picture is long enough to count."
        return none if short else ""
    agree = sum(explained(item) for item in counted)
    lines = "1 ridge line" if len(counted) == 1 else f"{len(counted)} ridge lines"
    where = "there" if fix.verdict == "located" else "the likeliest place"
    words = (
        f"Of {lines} traced inside the picture, {agree or 'none'} "
        f"{'agrees' if agree <= 1 else 'agree'} with the ground seen from {where}"
    )
    if agree < len(counted):
        words += "; what is left may be edges of shade or of woods"
    if short:
        words += f". {short} more {'is' if short == 1 else 'are'} too short to count"
    return f"{words}."


def _ridges(fix: Fix) -> tuple[dict[str, Any], ...]:
    return tuple(item for item in fix.evidence if item["kind"] == "ridge line")
