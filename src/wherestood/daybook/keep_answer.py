"""Keep an answer in the daybook, with its pictures and what the screens show."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC
from importlib.metadata import version
from pathlib import Path
from typing import Any, Protocol

from sqlalchemy.orm import Session

from wherestood.daybook.asked import Asked, named_within
from wherestood.daybook.book import OUT, Daybook
from wherestood.daybook.kept_fix import keep_fix
from wherestood.daybook.originals.names import safe_name
from wherestood.daybook.question import PlateRead
from wherestood.daybook.skylines import keep_skyline, lines_on
from wherestood.daybook.tables import Evidence
from wherestood.fix.area import RING_REACH
from wherestood.fix.result import Fix as Answer
from wherestood.progress import SILENT, Progress
from wherestood.record.atomic import write_text_atomically
from wherestood.record.inputs import FixInputs, Making
from wherestood.record.screen_form import screen_form

__all__ = [
    "SCREEN",
    "KeptAnswer",
    "Located",
    "asked_of",
    "folder_of_fix",
    "keep_answer",
    "keep_traced",
]

#: What the screens show of an answer, beside its pictures.
SCREEN = "screen.json"


class Located(Protocol):
    """Be what a search returned, as `wherestood.notebook.LocatedPlate` is."""

    @property
    def answer(self) -> Answer:
        """Return everything that was found."""

    @property
    def inputs(self) -> FixInputs:
        """Return everything it rests on."""

    def words(self) -> str:
        """Return the page of words."""

    def save(self, folder: Path) -> tuple[Path, ...]:
        """Write the fix and its pictures; return the files."""


@dataclass(frozen=True)
class KeptAnswer:
    """Name a fix that was kept, and the files beside it.

    Attributes
    ----------
    id, key : str
        Of the fix.
    files : tuple of Path
        In `folder_of_fix`.
    skyline_id, skyline : str or None
        Id and key of the skyline that the machine traced for it, where that became
        an item of the plate.
    """

    id: str
    key: str
    files: tuple[Path, ...]
    skyline_id: str | None = None
    skyline: str | None = None


def folder_of_fix(daybook: Daybook, plate_key: str, fix_key: str) -> Path:
    """Return the folder in ``out`` where the pictures of a fix are written."""
    return daybook.path(OUT) / safe_name(plate_key) / fix_key


def keep_answer(
    daybook: Daybook,
    read: PlateRead,
    located: Located,
    person: str,
    why: str = "",
    *,
    more: Mapping[str, Any] | None = None,
    progress: Progress = SILENT,
) -> KeptAnswer:
    """Keep an answer as a fix of its plate, and draw its pictures.

    A skyline that the machine traced for the search becomes an item of the plate, if
    the plate has none by now: it was read off it, and is there to be mended.

    Parameters
    ----------
    daybook : Daybook
        Where.
    read : PlateRead
        What was read of the plate before the search, less what did not count.
    located : Located
        What was found.
    person, why : str
        Who asked, and why.
    more : mapping, optional
        How else it was asked, to be kept with it.
    progress : Progress
        Told of each step.
    """
    inputs = located.inputs
    asked = asked_of(daybook, read, inputs, more)
    progress.stage("writing the answer down")
    made = daybook.clock().astimezone(UTC).replace(microsecond=0).isoformat()
    with daybook.writing(person, why) as session:
        traced = keep_traced(session, read, inputs)
        kept = keep_fix(
            session,
            daybook.folder,
            read.plate,
            located.answer,
            inputs,
            Making(made, version("wherestood")),
            asked,
            items=[read.scan, *read.told.items, *([traced] if traced else [])],
            words=located.words(),
            after_journal=read.after_journal,
        )
        fix_id, key = kept.id, kept.key
        line = (traced.id, traced.key) if traced else (None, None)
    progress.stage("drawing pictures")
    folder = folder_of_fix(daybook, read.plate.key, key)
    files = located.save(folder)
    told = json.dumps(screen_form(located.answer, inputs), allow_nan=False)
    write_text_atomically(folder / SCREEN, told)
    return KeptAnswer(fix_id, key, files, *line)


def asked_of(
    daybook: Daybook,
    read: PlateRead,
    inputs: FixInputs,
    more: Mapping[str, Any] | None = None,
) -> Asked:
    """Return how plate and ground were opened for a fix."""
    return Asked(
        read.scan.file,
        tuple(named_within(daybook.folder, path) for path in read.terrain),
        inputs.area.centre,
        RING_REACH * inputs.area.radius_m + inputs.settings.horizon_radius_m,
        read.scan.scan_ppi,
        dict(more or {}),
    )


def keep_traced(
    session: Session, read: PlateRead, inputs: FixInputs
) -> Evidence | None:
    """Keep the skyline that was traced for the search, where the plate has none."""
    if "skyline" in read.told.document or not inputs.has_skyline:
        return None
    if lines_on(session, read.plate.id, "skyline"):
        return None
    kept = keep_skyline(
        session, read.plate.id, read.scan.id, inputs.skyline, by_hand=False
    )
    session.flush()
    return kept
