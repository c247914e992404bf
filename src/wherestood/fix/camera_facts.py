"""Let what a source says of the camera fill the settings that nobody gave."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from wherestood.evidence.items.camera import CameraFacts
from wherestood.fix.settings import LocateSettings

__all__ = ["USED", "told_by_camera"]

#: Facts of the camera that fill a setting.
USED = (
    "footing",
    "lens_height_m",
    "lens_height_sd_m",
    "principal_distance_mm",
    "principal_distance_sd_mm",
    "trimmed",
    "process",
    "reversed",
)
#: A doubt belongs to its value: of what a person set it is theirs too.
_VALUE_OF = {
    "lens_height_sd_m": "lens_height_m",
    "principal_distance_sd_mm": "principal_distance_mm",
}


def told_by_camera(
    settings: LocateSettings, facts: CameraFacts, given: dict[str, Any]
) -> LocateSettings:
    """Return the settings with what is said of the camera.

    Parameters
    ----------
    settings : LocateSettings
        As set by hand or usual.
    facts : CameraFacts
        What the evidence says; None is not known.
    given : dict
        Settings named by the person: they stand.
    """
    usual = LocateSettings()

    def unset(name: str) -> bool:
        return name not in given and getattr(settings, name) == getattr(usual, name)

    told = {
        name: getattr(facts, name)
        for name in USED
        if getattr(facts, name) is not None
        and unset(name)
        and unset(_VALUE_OF.get(name, name))
    }
    return replace(settings, **told)
