"""Find where an early photograph was taken, and say honestly how sure.

The names offered here are those of a notebook::

    import wherestood as ws

    land = ws.Terrain.open("valley.tif")
    plate = ws.Plate.open("scan.tif", size="whole plate")
    sky = ws.trace_skyline(plate)
    fix = ws.locate(plate, land, [sky], within="8.5,46.1,3km", near_enough_m=50)
    fix.comparison().save("comparison.png")
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wherestood.evidence.items import RidgeLine
    from wherestood.evidence.items.tie import TieMark
    from wherestood.fix.area import Area, read_area
    from wherestood.fix.result import Proposed
    from wherestood.fix.settings import LocateSettings
    from wherestood.notebook import LocatedPlate, Picture, locate, machine_ridges
    from wherestood.panorama import LocatedPanorama, locate_panorama, machine_ties
    from wherestood.plate.scan import Plate
    from wherestood.plate.skyline import (
        Skyline,
        read_skyline_csv,
        write_skyline_csv,
    )
    from wherestood.plate.trace import trace_skyline
    from wherestood.plate.two_tracings import TwoTracings, compare_tracings
    from wherestood.terrain.model import Terrain

__all__ = [
    "Area",
    "LocateSettings",
    "LocatedPanorama",
    "LocatedPlate",
    "Picture",
    "Plate",
    "Proposed",
    "RidgeLine",
    "Skyline",
    "Terrain",
    "TieMark",
    "TwoTracings",
    "__version__",
    "compare_tracings",
    "locate",
    "locate_panorama",
    "machine_ridges",
    "machine_ties",
    "read_area",
    "read_skyline_csv",
    "trace_skyline",
    "write_skyline_csv",
]

__version__ = "0.1.0"

# Loaded when first asked for: a part of the program that needs one module of
# numbers should not wait for all the others.
_HOMES = {
    "Area": "wherestood.fix.area",
    "LocateSettings": "wherestood.fix.settings",
    "LocatedPanorama": "wherestood.panorama",
    "LocatedPlate": "wherestood.notebook",
    "Picture": "wherestood.notebook",
    "Plate": "wherestood.plate.scan",
    "Proposed": "wherestood.fix.result",
    "RidgeLine": "wherestood.evidence.items",
    "Skyline": "wherestood.plate.skyline",
    "Terrain": "wherestood.terrain.model",
    "TieMark": "wherestood.evidence.items.tie",
    "TwoTracings": "wherestood.plate.two_tracings",
    "compare_tracings": "wherestood.plate.two_tracings",
    "locate": "wherestood.notebook",
    "locate_panorama": "wherestood.panorama",
    "machine_ridges": "wherestood.notebook",
    "machine_ties": "wherestood.panorama",
    "read_area": "wherestood.fix.area",
    "read_skyline_csv": "wherestood.plate.skyline",
    "trace_skyline": "wherestood.plate.trace",
    "write_skyline_csv": "wherestood.plate.skyline",
}


def __getattr__(name: str) -> object:
    """Load a public name from the module it lives in."""
    if name not in _HOMES:
        raise AttributeError(f"module 'wherestood' has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)


def __dir__() -> list[str]:
    """List the public names."""
    return sorted(__all__)
