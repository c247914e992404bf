"""Let what a source says of the camera fill the settings that nobody gave."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from wherestood.errors import PlateError
from wherestood.evidence.items.camera import CameraFacts
from wherestood.evidence.items.check import Complaint
from wherestood.fix.settings import LocateSettings
from wherestood.plate.scan import Plate

__all__ = ["USED", "plate_told", "told_by_camera"]

#: Facts of the camera that fill a setting.
USED = (
    "footing",
    "lens_height_m",
    "lens_height_sd_m",
    "principal_distance_mm",
    "principal_distance_sd_mm",
    "principal_distance_least_mm",
    "principal_distance_most_mm",
    "trimmed",
    "process",
    "reversed",
)
_LENS = (
    "principal_distance_mm",
    "principal_distance_sd_mm",
    "principal_distance_least_mm",
    "principal_distance_most_mm",
)
#: What says one thing together: a doubt belongs to its value, and of a lens that a
#: person knows the file tells no more.
_TOGETHER = {"lens_height_sd_m": ("lens_height_m",), **dict.fromkeys(_LENS, _LENS)}


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
        and all(unset(other) for other in _TOGETHER.get(name, ()))
    }
    return replace(settings, **told)


def plate_told(plate: Plate, facts: CameraFacts) -> tuple[Plate, tuple[Complaint, ...]]:
    """Return the plate with what is said of its size and corners, or what is wrong.

    What the plate was opened with stands.
    """
    try:
        return plate.told(size=facts.plate_size, corners=facts.plate_corners_px), ()
    except PlateError as error:
        field = "plate_size" if facts.plate_corners_px is None else "plate_corners_px"
        words = f"The camera: {error.problem}"
        return plate, (Complaint("camera", "camera", words, error.remedy, field=field),)
