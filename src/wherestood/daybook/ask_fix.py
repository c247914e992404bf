"""Ask for a fix of a plate by all that the daybook knows.

A fix takes minutes, and the daybook is not held meanwhile: `prepare_fix` reads it at
one moment and opens scan and ground, `wherestood.notebook.locate` searches, and
`keep_answer` writes::

    asked = prepare_fix(daybook, "1987.12", Wish(near_enough_m=50.0))
    answer = wherestood.notebook.locate(**asked.given(), progress=progress)
    kept = keep_answer(daybook, asked.read, answer, who, why, more=asked.more())
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from wherestood.daybook.book import Daybook
from wherestood.daybook.keep_answer import KeptAnswer, folder_of_fix, keep_answer
from wherestood.daybook.left_out import LeftOut, ids_called, told_without
from wherestood.daybook.opened_scan import opened_scan
from wherestood.daybook.question import PlateRead, read_plate, settings_for
from wherestood.daybook.searched import area_searched
from wherestood.daybook.tables import Plate
from wherestood.daybook.tell_evidence import ToldEvidence
from wherestood.errors import DaybookError, InputError
from wherestood.evidence.file import read_evidence
from wherestood.evidence.items import Checked, Evidence
from wherestood.evidence.placed import known_heights
from wherestood.evidence.traced_lines import with_traced_lines
from wherestood.fix.area import RING_REACH, Area, read_area
from wherestood.fix.settings import LocateSettings
from wherestood.plate.scan import Plate as Scanned
from wherestood.progress import SILENT, Progress
from wherestood.terrain.model import Terrain
from wherestood.terrain.read import open_terrain

__all__ = [
    "KeptAnswer",
    "PreparedFix",
    "Wish",
    "checked_told",
    "folder_of_fix",
    "ground_searched",
    "keep_answer",
    "prepare_fix",
]


@dataclass(frozen=True)
class Wish:
    """Say how a fix is to be made, where it is not as the daybook has it.

    Attributes
    ----------
    terrain : tuple of Path
        Elevation models; the daybook's layers where empty.
    within : str or None
        Ground searched; the plate's own where None.
    near_enough_m : float or None
        How close the answer must be; the plate's own where None [m].
    skyline, ridge_lines, statements : bool
        Whether they count; the lines are traced where nobody did.
    without : tuple of str
        Items of the plate that do not count, by key or id.
    refraction, horizon_radius_m, seed
        As of `wherestood.fix.settings.LocateSettings`.
    """

    terrain: tuple[Path, ...] = ()
    within: str | None = None
    near_enough_m: float | None = None
    skyline: bool = True
    ridge_lines: bool = True
    statements: bool = True
    without: tuple[str, ...] = ()
    refraction: float = LocateSettings.refraction
    horizon_radius_m: float = LocateSettings.horizon_radius_m
    seed: int = LocateSettings.seed

    def left_out(self, told: ToldEvidence) -> LeftOut:
        """Return what is not to count, of all that a plate's items tell."""
        return LeftOut(
            ids_called(told, self.without),
            without_statements=not self.statements,
            no_skyline=not self.skyline,
            no_ridge_lines=not self.ridge_lines,
        )


@dataclass(frozen=True)
class PreparedFix:
    """Hold all that a fix is made from, opened.

    Attributes
    ----------
    read : PlateRead
        What was read of the plate, less what does not count.
    left_out : LeftOut
        What does not.
    opened : wherestood.plate.scan.Plate
        The scan.
    land, checked, area, settings
        What `wherestood.notebook.locate` takes.
    notes : tuple of str
        What a person must know, in sentences.
    """

    read: PlateRead
    left_out: LeftOut
    opened: Scanned
    land: Terrain
    checked: Checked
    area: Area
    settings: LocateSettings
    notes: tuple[str, ...]

    def given(self) -> dict[str, Any]:
        """Return what `wherestood.notebook.locate` takes, by name."""
        given: dict[str, Any] = {
            "plate": self.opened,
            "land": self.land,
            "evidence": self.checked,
            "within": self.area,
            "settings": self.settings,
            "proposed": self.read.proposed,
        }
        # What the plate's own row says goes before what items say, the usual included.
        if self.read.plate.footing is not None:
            given["footing"] = self.settings.footing
        return given

    def more(self) -> dict[str, Any]:
        """Return how else it was asked, to be kept with the fix."""
        return self.left_out.record()


def prepare_fix(
    daybook: Daybook,
    plate_key: str,
    wish: Wish | None = None,
    progress: Progress = SILENT,
) -> PreparedFix:
    """Open everything that a fix of a plate is made from.

    Parameters
    ----------
    daybook : Daybook
        Where; nothing is written yet.
    plate_key : str
        The plate, by key or id.
    wish : Wish, optional
        How, where not as usual.
    progress : Progress
        Told how far the opening has come.

    Raises
    ------
    DaybookError
        If the answer could not be kept.
    InputError
        If the plate has no scan, no ground to search, no terrain, or nothing to be
        searched by.
    TerrainError
        If the ground does not cover what is searched.
    """
    wish = wish or Wish()
    if daybook.read_only:
        raise DaybookError(
            "The daybook is open for reading: a fix of it could not be kept.",
            "Copy the folder to where you may write, or use wherestood locate.",
        )
    read = read_plate(daybook, plate_key, wish.terrain)
    out = wish.left_out(read.told)
    read = replace(read, told=told_without(read.told, out))
    area = ground_searched(read.plate, wish.within)
    settings = settings_for(
        read,
        near_enough_m=wish.near_enough_m,
        refraction=wish.refraction,
        horizon_radius_m=wish.horizon_radius_m,
        seed=wish.seed,
    )
    opened = opened_scan(daybook.folder, read.plate, read.scan)
    land = open_terrain(
        list(read.terrain),
        around=area.centre,
        radius_m=RING_REACH * area.radius_m + settings.horizon_radius_m,
        surface=settings.surface,
        refraction=settings.refraction,
        progress=progress,
    )
    checked = checked_told(read.told, opened, land)
    evidence, note = with_traced_lines(
        opened,
        checked.evidence,
        skyline=wish.skyline,
        ridge_lines=wish.ridge_lines,
        progress=progress,
    )
    if not any(True for _ in evidence.items()):
        raise InputError(
            "There is no evidence to go by: nothing is traced or marked that counts.",
            "Trace the skyline, or mark things and tie them to the map.",
        )
    return PreparedFix(
        read,
        out,
        opened,
        land,
        replace(checked, evidence=evidence),
        area,
        settings,
        (*read.told.left_out, *opened.notes, *([note] if note else [])),
    )


def ground_searched(plate: Plate, within: str | None = None) -> Area:
    """Return the ground in which a plate's station is sought.

    Parameters
    ----------
    plate : Plate
        The plate, which says where, unless told.
    within : str, optional
        Where, as ``--within`` takes it.

    Raises
    ------
    InputError
        If neither says where, or it cannot be read.
    """
    area = read_area(within.strip()) if within else area_searched(plate)
    if area is None:
        raise InputError(
            f"Plate {plate.key} does not say where to search.",
            "Give --within, or set it: wherestood plates change "
            f"{plate.key} --ground-searched 8.5,46.1,3km",
        )
    return area


def checked_told(told: ToldEvidence, opened: Scanned, land: Terrain) -> Checked:
    """Read what the plate's items tell, and say what is wrong with it."""
    if told.is_empty:
        return Checked(Evidence(), ())
    with tempfile.TemporaryDirectory() as folder:
        return read_evidence(
            told.write(Path(folder)),
            width_px=opened.width_px,
            height_px=opened.height_px,
            has_height=known_heights(land),
        )
