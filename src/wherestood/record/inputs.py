"""Hold what a fix was made from."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.items import Complaint, Evidence
from wherestood.plate.straight import straight_plate

if TYPE_CHECKING:
    from wherestood.evidence.items import RidgeLine
    from wherestood.fix.area import Area
    from wherestood.fix.settings import LocateSettings
    from wherestood.plate.scan import Plate
    from wherestood.plate.skyline import Skyline
    from wherestood.terrain.model import Terrain

__all__ = ["FileRecord", "FixInputs", "Making"]


@dataclass(frozen=True)
class FileRecord:
    """Name a file and what was in it.

    Attributes
    ----------
    name : str
        File name without its folder.
    sha256 : str
        Checksum, hexadecimal.
    """

    name: str
    sha256: str

    @classmethod
    def of(cls, path: Path) -> FileRecord:
        """Name a file that stands there, with its checksum."""
        return cls(path.name, hashlib.sha256(path.read_bytes()).hexdigest())


@dataclass(frozen=True)
class Making:
    """Say when and by what a record was made.

    Attributes
    ----------
    made : str
        Date and time, ISO 8601 with its offset from UTC.
    version : str
        Version of the program.
    """

    made: str
    version: str


@dataclass(frozen=True)
class FixInputs:
    """Hold everything a fix rests on, so that it can be made again.

    Attributes
    ----------
    plate, terrain, skyline, area, settings
        What was handed to the search.
    skyline_file : FileRecord or None
        The file that keeps the skyline and ridge lines used, beside the record.
    ridges : tuple of RidgeLine
        Lines below the skyline that were handed to the search.
    evidence : Evidence
        All that was handed to the search; skyline and ridge lines stand above too.
    evidence_file : FileRecord or None
        The file that keeps the rest of it, beside the record.
    complaints : tuple of Complaint
        What is wrong with evidence that was left out.
    called : str
        What the plate is called among others; its scan's name where empty.
    """

    plate: Plate
    terrain: Terrain
    skyline: Skyline
    area: Area
    settings: LocateSettings
    skyline_file: FileRecord | None = None
    ridges: tuple[RidgeLine, ...] = ()
    evidence: Evidence = field(default_factory=Evidence)
    evidence_file: FileRecord | None = None
    complaints: tuple[Complaint, ...] = ()
    called: str = ""

    @property
    def plate_px(self) -> tuple[int, int]:
        """Return width and height of the plate itself, without its scan's margin."""
        straight = straight_plate(self.plate)
        if straight is None:
            return self.plate.width_px, self.plate.height_px
        return straight.width_px, straight.height_px

    def on_plate(self, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return where (..., 2) points of the scan lie on the plate itself [px]."""
        straight = straight_plate(self.plate)
        return points_px if straight is None else straight.to_plate(points_px)

    @property
    def has_skyline(self) -> bool:
        """Say whether a skyline was used."""
        return len(self.skyline.x_px) > 0
