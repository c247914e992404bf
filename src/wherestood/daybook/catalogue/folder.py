"""Take a folder of scans in, each with what is written inside it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.book import Daybook
from wherestood.daybook.check_items import check_item
from wherestood.daybook.keys import address_of
from wherestood.daybook.originals import TakenIn, take_in
from wherestood.daybook.originals.look import look_at
from wherestood.daybook.originals.take import find_plate, is_whole_here, same_file
from wherestood.daybook.sheets import Refusal
from wherestood.daybook.tables import Maker, Plate, Right
from wherestood.errors import DaybookError, InputError
from wherestood.progress import SILENT, Progress
from wherestood.terrain.checksum import file_sha256

__all__ = ["SCAN_SUFFIXES", "FolderTaken", "scans_in", "take_folder"]

SCAN_SUFFIXES = frozenset(
    {".tif", ".tiff", ".jpg", ".jpeg", ".png", ".webp", ".jp2", ".j2k", ".jpx", ".jpf"}
)


@dataclass(frozen=True)
class FolderTaken:
    """Hold what came of a folder.

    Attributes
    ----------
    taken : tuple of TakenIn
        Scans taken in; empty in a dry run.
    would_take : tuple of (str, str)
        File and plate's key of each that was, or would be, taken.
    refused : tuple of Refusal
        Files that were not, and why.
    passed_over : tuple of str
        Files that are no scans by their names.
    new_plates : tuple of str
        Keys of plates that were, or would be, made for them.
    """

    taken: tuple[TakenIn, ...]
    would_take: tuple[tuple[str, str], ...]
    refused: tuple[Refusal, ...]
    passed_over: tuple[str, ...] = ()
    new_plates: tuple[str, ...] = ()


def scans_in(folder: Path) -> Iterator[Path]:
    """Give every scan in a folder, to any depth, by its name; links are not followed.

    Raises
    ------
    InputError
        If there is no such folder.
    """
    if not folder.is_dir():
        raise InputError(f"There is no folder {str(folder)!r}.", "Check its name.")
    yield from (path for path in _files_in(folder) if _is_scan(path))


def _files_in(folder: Path) -> Iterator[Path]:
    """Give the files of a folder that are not hidden, by name; links are none."""
    for path in sorted(folder.rglob("*")):
        inside = path.relative_to(folder)
        hidden = any(part.startswith(".") for part in inside.parts)
        if not hidden and path.is_file() and not path.is_symlink():
            yield path


def _is_scan(path: Path) -> bool:
    return path.suffix.lower() in SCAN_SUFFIXES


def take_folder(
    daybook: Daybook,
    folder: Path,
    person: str,
    *,
    why: str = "",
    leave: bool = False,
    plates: Mapping[str, str] | None = None,
    dry_run: bool = False,
    progress: Progress = SILENT,
) -> FolderTaken:
    """Take every scan of a folder in, each in an act of its own.

    Parameters
    ----------
    daybook : Daybook
        Where.
    folder : Path
        The folder.
    person, why : str
        Who takes them in, and why.
    leave : bool
        Leave the files where they are, and watch them.
    plates : mapping of str to str, optional
        The plate's key by the file's name, where a catalogue says so; otherwise it
        is the accession number written inside, else the name without its suffix.
    dry_run : bool
        Whether only to say what would happen.
    progress : Progress
        Told of each file.
    """
    by_name = {name.casefold(): key for name, key in (plates or {}).items()}
    files = list(scans_in(folder))
    others = [path for path in _files_in(folder) if not _is_scan(path)]
    taken, would, refused = [], [], []
    new: dict[str, None] = {}
    progress.stage("taking scans in", len(files))
    for path in files:
        shown = path.relative_to(folder).as_posix()
        try:
            seen = look_at(path)
            key = by_name.get(path.name.casefold()) or _key_of(path, seen.words)
            values = _plate_values(seen.words)
            check_item(Plate(key=key, **values), added=True)
            if dry_run:
                if _would_be_new(daybook, key, path):
                    new[key] = None
            else:
                one = take_in(
                    daybook,
                    key,
                    path,
                    person,
                    why=why,
                    leave=leave,
                    new_plate=values,
                    complete=partial(_complete, seen.words),
                )
                taken.append(one)
                if one.new_plate:
                    new[key] = None
            would.append((shown, key))
        except DaybookError:
            raise  # nothing more can be written
        except InputError as error:
            refused.append(Refusal(_printable(shown), "", str(error)))
        progress.advance()
    passed_over = (_printable(one.relative_to(folder).as_posix()) for one in others)
    return FolderTaken(
        tuple(taken), tuple(would), tuple(refused), tuple(passed_over), tuple(new)
    )


def _would_be_new(daybook: Daybook, key: str, path: Path) -> bool:
    """Tell whether a scan's plate would be made with it.

    Raises
    ------
    InputError
        If it would be refused: its plate was set aside, or it is there already.
    """
    with daybook.reading() as session:
        there = same_file(session, file_sha256(path))
        if there is None:
            return find_plate(session, key, {}) is None
        address = address_of(session, there)
    if is_whole_here(daybook, there):
        raise InputError(f"it is in the daybook already, byte for byte, as {address}.")
    return False


def _key_of(path: Path, words: Mapping[str, str]) -> str:
    return words.get("accession_number", "").split(";")[0].strip() or path.stem


def _plate_values(words: Mapping[str, str]) -> dict[str, Any]:
    """Return the plate's columns that a file's own words give."""
    values: dict[str, Any] = {
        column: words[name]
        for name, column in (
            ("title", "title"),
            ("description", "description"),
            ("date", "date_words"),
            ("place", "place_words"),
            ("source", "held_by"),
        )
        if words.get(name)
    }
    if words.get("subjects"):
        values["subjects"] = [p.strip() for p in words["subjects"].split(";")]
    return values


def _printable(name: str) -> str:
    return name if name.isprintable() else ascii(name)[1:-1]


def _complete(words: Mapping[str, str], session: Session, plate: Plate) -> None:
    """Add maker and rights of a plate that has none; what is there stays."""
    if words.get("creator") and plate.maker_id is None:
        wanted = select(Maker).where(Maker.name == words["creator"])
        maker = session.scalars(wanted).first()
        if maker is None:
            maker = Maker(name=words["creator"])
            session.add(maker)
            session.flush()
        plate.maker_id = maker.id
    if not (words.get("rights") or words.get("credit")):
        return
    there = select(Right.id).where(
        Right.about_id == plate.id, Right.what == "image", Right.removed.is_(False)
    )
    if session.scalars(there).first() is None:
        session.add(
            Right(
                about_table="plates",
                about_id=plate.id,
                plate_id=plate.id,
                what="image",
                terms=words.get("rights"),
                credit=words.get("credit"),
            )
        )
