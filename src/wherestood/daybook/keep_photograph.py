"""Keep what a photograph made on the spot tells: words in the journal, pictures in out.

The words and the photograph's checksum are items; the pictures lie in ``out`` and can
be made again from the photograph, of which a copy lies with them.
"""

from __future__ import annotations

import json
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.book import OUT, Daybook
from wherestood.daybook.keys import find
from wherestood.daybook.originals.names import safe_name
from wherestood.daybook.tables import Note, Plate, Source
from wherestood.plate.photograph import Photograph
from wherestood.plate.scan import Plate as OpenedPlate
from wherestood.record.atomic import write_text_atomically
from wherestood.terrain.checksum import file_sha256
from wherestood.visit.photograph_compared import Compared
from wherestood.visit.write_then_and_now import (
    THEN_AND_NOW_FILES,
    write_then_and_now,
)

__all__ = ["PhotographKept", "folder_of_photograph", "keep_photograph", "photographs"]

_TOLD = "told.json"
_CITED = "Photograph made on the spot"


@dataclass(frozen=True)
class PhotographKept:
    """Hold a photograph that was kept.

    Attributes
    ----------
    source : str
        Its key as a source.
    citation : str
    sentences : tuple of str
        What it tells.
    told : dict or None
        The same in numbers; None where the pictures are gone.
    """

    source: str
    citation: str
    sentences: tuple[str, ...]
    told: dict[str, Any] | None


def folder_of_photograph(book: Daybook, plate_key: str, source: str) -> Path:
    """Return the folder in ``out`` where its pictures lie."""
    return book.path(OUT) / safe_name(plate_key) / f"photograph-{source}"


def keep_photograph(
    book: Daybook,
    plate_id: str,
    fix_key: str,
    file: Path,
    photo: Photograph,
    opened: OpenedPlate,
    found: Compared,
    caution: str,
    person: str,
    why: str = "",
    *,
    marks: Path | None = None,
) -> str:
    """Keep it in one act, and write its pictures, with what was marked by hand.

    Returns
    -------
    str
        Key of the source that it became.
    """
    with book.writing(person, why or "a photograph made on the spot") as session:
        plate = session.get_one(Plate, plate_id)
        source = Source(
            citation=f"{_CITED}: {file.name}, {found.made}", kind="photograph",
            seen_edtf=photo.taken.date().isoformat() if photo.taken else None,
            note=f"SHA-256 {file_sha256(file)}; compared by {fix_key}",
        )  # fmt: skip
        session.add(source)
        session.flush()
        session.add(
            Note(
                about_table="plates",
                about_id=plate_id,
                plate_id=plate_id,
                words=f"{_CITED} ({source.key}, by {fix_key}): "
                + " ".join(found.sentences),
            )
        )
        # The pictures first: without them nothing is kept.
        folder = folder_of_photograph(book, plate.key, source.key)
        shutil.rmtree(folder, ignore_errors=True)
        folder.parent.mkdir(parents=True, exist_ok=True)
        write_then_and_now(
            folder, found.told, opened, photo, plate.title or plate.key,
            ("the plate", found.made), found.sentences, caution,
        )  # fmt: skip
        shutil.copyfile(file, folder / f"photograph{file.suffix.lower()}")
        if marks is not None:
            shutil.copyfile(marks, folder / "marks.csv")
        told = {
            "source_id": source.id, "fix": fix_key, "caution": caution,
            "notes": list(found.notes), "made": found.made, **found.form(),
        }  # fmt: skip
        write_text_atomically(folder / _TOLD, json.dumps(told, indent=1))
        return str(source.key)


def photographs(book: Daybook, session: Session, plate_id: str) -> list[PhotographKept]:
    """Return the photographs of a plate that stand, the last first."""
    plate = session.get_one(Plate, plate_id)
    wanted = (
        select(Note)
        .where(
            Note.about_table == "plates", Note.about_id == plate_id,
            Note.removed.is_(False), Note.withdrawn.is_(None),
            Note.words.startswith(f"{_CITED} ("),
        )
        .order_by(Note.key.desc())
    )  # fmt: skip
    found = []
    for note in session.scalars(wanted):
        key = note.words[len(_CITED) + 2 :].split(",", 1)[0]
        source = find(session, Source, key)
        if source.removed or source.withdrawn:
            continue
        told = _told(folder_of_photograph(book, plate.key, key), source.id)
        sentences = told["sentences"] if told else [note.words.split("): ", 1)[-1]]
        found.append(PhotographKept(key, source.citation, tuple(sentences), told))
    return found


def _told(folder: Path, source_id: str) -> dict[str, Any] | None:
    try:
        told: dict[str, Any] = json.loads((folder / _TOLD).read_text("utf-8"))
    except (OSError, ValueError):
        return None
    there = all((folder / name).is_file() for name in THEN_AND_NOW_FILES)
    return told if there and told.get("source_id") == source_id else None
