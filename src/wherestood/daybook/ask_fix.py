"""Ask for a fix of a plate by all that the daybook knows, and keep the answer.

A fix takes minutes, and the daybook is not held meanwhile: `prepare_fix` reads it at
one moment and opens scan and ground, `wherestood.notebook.locate` searches, and
`keep_answer` writes::

    asked = prepare_fix(daybook, "1987.12")
    answer = wherestood.notebook.locate(
        asked.opened,
        asked.land,
        asked.checked,
        within=asked.area,
        settings=asked.settings,
        proposed=asked.proposed,
        **asked.typed,
    )
    key = keep_answer(daybook, asked, answer.answer, answer.inputs, answer.words(), who)
    answer.save(folder_of_fix(daybook, "1987.12", key))
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from datetime import UTC
from importlib.metadata import version
from pathlib import Path
from typing import Any

from wherestood.daybook.asked import Asked, named_within
from wherestood.daybook.book import OUT, Daybook
from wherestood.daybook.kept_fix import keep_fix
from wherestood.daybook.opened_scan import opened_scan
from wherestood.daybook.originals.names import safe_name
from wherestood.daybook.question import read_plate, settings_for
from wherestood.daybook.searched import area_searched
from wherestood.daybook.tables import Plate, Scan
from wherestood.daybook.tell_evidence import ToldEvidence
from wherestood.errors import InputError
from wherestood.evidence.file import read_evidence
from wherestood.evidence.items import Checked, Evidence
from wherestood.evidence.placed import known_heights
from wherestood.evidence.traced_lines import with_traced_lines
from wherestood.fix.area import RING_REACH, Area, read_area
from wherestood.fix.result import Fix as Answer
from wherestood.fix.result import Proposed
from wherestood.fix.settings import LocateSettings
from wherestood.plate.scan import Plate as Scanned
from wherestood.progress import SILENT, Progress
from wherestood.record.inputs import FixInputs, Making
from wherestood.terrain.model import Terrain
from wherestood.terrain.read import open_terrain

__all__ = [
    "PreparedFix",
    "Wish",
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
    skyline, ridge_lines : bool
        Whether they are traced where nobody did.
    refraction, horizon_radius_m, seed
        As of `wherestood.fix.settings.LocateSettings`.
    """

    terrain: tuple[Path, ...] = ()
    within: str | None = None
    near_enough_m: float | None = None
    skyline: bool = True
    ridge_lines: bool = True
    refraction: float = LocateSettings.refraction
    horizon_radius_m: float = LocateSettings.horizon_radius_m
    seed: int = LocateSettings.seed


@dataclass(frozen=True)
class PreparedFix:
    """Hold all that a fix is made from, opened.

    Attributes
    ----------
    plate, scan : Plate, Scan
        The rows.
    told : ToldEvidence
        What the plate's items tell.
    opened : wherestood.plate.scan.Plate
        The scan.
    land, checked, area, settings, proposed, typed
        What `wherestood.notebook.locate` takes.
    terrain : tuple of Path
        The files of the ground.
    after_journal : int
        Number of the journal's last row when the items were read.
    notes : tuple of str
        What a person must know, in sentences.
    """

    plate: Plate
    scan: Scan
    told: ToldEvidence
    opened: Scanned
    land: Terrain
    checked: Checked
    area: Area
    settings: LocateSettings
    proposed: tuple[Proposed, ...]
    typed: dict[str, Any]
    terrain: tuple[Path, ...]
    after_journal: int
    notes: tuple[str, ...]


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
        Where; nothing is written.
    plate_key : str
        The plate.
    wish : Wish, optional
        How, where not as usual.
    progress : Progress
        Told how far the opening has come.

    Raises
    ------
    InputError
        If the plate has no scan, no ground to search, no terrain, or nothing to be
        searched by.
    TerrainError
        If the ground does not cover what is searched.
    """
    wish = wish or Wish()
    read = read_plate(daybook, plate_key, wish.terrain)
    area = ground_searched(read.plate, wish.within)
    settings = settings_for(
        read,
        near_enough_m=wish.near_enough_m,
        refraction=wish.refraction,
        horizon_radius_m=wish.horizon_radius_m,
        seed=wish.seed,
    )
    with tempfile.TemporaryDirectory() as passing:
        folder = Path(passing)
        opened = opened_scan(daybook.folder, read.plate, read.scan)
        land = open_terrain(
            list(read.terrain),
            around=area.centre,
            radius_m=RING_REACH * area.radius_m + settings.horizon_radius_m,
            surface=settings.surface,
            refraction=settings.refraction,
            progress=progress,
        )
        checked = Checked(Evidence(), ())
        if not read.told.is_empty:
            checked = read_evidence(
                read.told.write(folder),
                width_px=opened.width_px,
                height_px=opened.height_px,
                has_height=known_heights(land),
            )
    evidence, note = with_traced_lines(
        opened,
        checked.evidence,
        skyline=wish.skyline,
        ridge_lines=wish.ridge_lines,
        progress=progress,
    )
    # What the plate's own row says goes before what items say, the usual included.
    typed = {"footing": settings.footing} if read.plate.footing is not None else {}
    return PreparedFix(
        read.plate,
        read.scan,
        read.told,
        opened,
        land,
        Checked(evidence, checked.complaints),
        area,
        settings,
        read.proposed,
        typed,
        read.terrain,
        read.after_journal,
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
    area = read_area(within) if within else area_searched(plate)
    if area is None:
        raise InputError(
            f"Plate {plate.key} does not say where to search.",
            "Give --within, or set it: wherestood plates change "
            f"{plate.key} --ground-searched 8.5,46.1,3km",
        )
    return area


def keep_answer(
    daybook: Daybook,
    asked: PreparedFix,
    answer: Answer,
    inputs: FixInputs,
    words: str,
    person: str,
    why: str = "",
) -> str:
    """Keep an answer as a fix of its plate; return the fix's key.

    Parameters
    ----------
    daybook : Daybook
        Where.
    asked : PreparedFix
        What it was made from.
    answer, inputs, words
        What `wherestood.notebook.locate` returned, and its page of words.
    person, why : str
        Who asked, and why.
    """
    record = Asked(
        named_within(daybook.folder, asked.opened.path),
        tuple(named_within(daybook.folder, path) for path in asked.terrain),
        asked.area.centre,
        RING_REACH * asked.area.radius_m + asked.settings.horizon_radius_m,
        asked.scan.scan_ppi,
    )
    made = daybook.clock().astimezone(UTC).replace(microsecond=0).isoformat()
    with daybook.writing(person, why) as session:
        kept = keep_fix(
            session,
            daybook.folder,
            asked.plate,
            answer,
            inputs,
            Making(made, version("wherestood")),
            record,
            items=[asked.scan, *asked.told.items],
            words=words,
            after_journal=asked.after_journal,
        )
        return kept.key


def folder_of_fix(daybook: Daybook, plate_key: str, fix_key: str) -> Path:
    """Return the folder in ``out`` where the pictures of a fix are written."""
    return daybook.path(OUT) / safe_name(plate_key) / fix_key
