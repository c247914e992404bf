"""Take a scan in as it is, or leave it where it is and watch it."""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.book import ORIGINALS, Daybook
from wherestood.daybook.files_held import files_named
from wherestood.daybook.keys import address_of
from wherestood.daybook.originals.look import Seen, look_at
from wherestood.daybook.originals.names import safe_name
from wherestood.daybook.originals.passing import Arrival, arrive, put_back, sweep
from wherestood.daybook.tables import Plate, Scan
from wherestood.daybook.trouble import told_plainly
from wherestood.errors import DaybookError, InputError
from wherestood.plate.likeness import most_alike
from wherestood.progress import SILENT, Progress
from wherestood.terrain.checksum import file_sha256

__all__ = [
    "ScanDetails",
    "TakenIn",
    "files_named",
    "find_plate",
    "is_whole_here",
    "named_files",
    "same_file",
    "take_in",
]


@dataclass(frozen=True)
class ScanDetails:
    """Hold what a person says of a scan.

    Attributes
    ----------
    what : str or None
        What was scanned, one of the choices of `wherestood.daybook.tables.Scan`.
    accession_number : str or None
        Accession number of this copy.
    main : bool or None
        Whether marks are made on it; the plate's first scan is, unless told.
    note : str or None
        Anything else.
    """

    what: str | None = None
    accession_number: str | None = None
    main: bool | None = None
    note: str | None = None


@dataclass(frozen=True)
class TakenIn:
    """Hold a scan that was taken in.

    Attributes
    ----------
    address : str
        What it is called by: ``1987.12/1``.
    file : str
        Where it is: within the daybook, or whole where it was left.
    sha256 : str
        Its checksum.
    alike : str
        Address of a scan that shows the same picture; empty if none.
    way : str
        How that one does: ``the same``, ``reversed``, ``a negative`` ...
    words : dict of str to str
        What was written inside it.
    notes : tuple of str
        What a person should know.
    new_plate : bool
        Whether its plate was made with it.
    put_back : bool
        Whether it was there already and its file, lost or damaged, was put back.
    """

    address: str
    file: str
    sha256: str
    alike: str = ""
    way: str = ""
    words: dict[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    new_plate: bool = False
    put_back: bool = False


def take_in(
    daybook: Daybook,
    plate_key: str,
    source: Path,
    person: str,
    *,
    why: str = "",
    details: ScanDetails | None = None,
    leave: bool = False,
    again: bool = False,
    new_plate: dict[str, Any] | None = None,
    complete: Callable[[Session, Plate], None] | None = None,
    progress: Progress = SILENT,
) -> TakenIn:
    """Take a scan in.

    Parameters
    ----------
    daybook : Daybook
        Where.
    plate_key : str
        The plate's key.
    source : Path
        The scan's file, which is only read.
    person, why : str
        Who takes it in, and why.
    details : ScanDetails, optional
        What they say of it.
    leave : bool
        Leave the file where it is, and watch it by its checksum.
    again : bool
        Take in a file of which the daybook has every byte already. Unless told so,
        such a file is refused, or put back where the daybook's own was lost.
    new_plate : dict, optional
        Columns of the plate, made in the same act if there is none of that key;
        without it a plate must be there.
    complete : callable, optional
        Called with the plate in the same act, to add what belongs to it.
    progress : Progress
        Told how far the copy has come.

    Raises
    ------
    PlateError
        If the file is no picture that can be read whole.
    InputError
        If there is no such plate, the file is there already, or its name is bad.
    DaybookError
        If it cannot be written. Nothing is half-taken, whatever happens.
    """
    details = details or ScanDetails()
    if not source.is_file():
        raise InputError(f"There is no file {str(source)!r}.", "Check its name.")
    seen = look_at(source)
    sha256 = file_sha256(source)
    with daybook.reading() as session:
        there = None if again else same_file(session, sha256)
        address = "" if there is None else address_of(session, there)
        if not again:
            refuse_withdrawn(session, source, sha256)
        if there is None:
            find_plate(session, plate_key, new_plate)
    if there is not None:
        return _put_back(daybook, there, address, source, seen, progress)

    def has_row(file: str) -> bool:
        return file in named_files(daybook)

    with told_plainly(daybook.folder):
        if not daybook.read_only:
            sweep(daybook.folder, has_row)
        with ExitStack() as stack:
            if leave:
                whole = os.path.abspath(source)  # noqa: PTH100 (links stay)
                arrival = Arrival(whole, sha256, source.stat().st_size)
            else:
                if daybook.read_only:
                    # Says why, before anything is copied.
                    stack.enter_context(daybook.writing(person, why))
                arrival = stack.enter_context(
                    arrive(
                        daybook.folder,
                        source,
                        f"{ORIGINALS}/{safe_name(plate_key)}",
                        safe_name(source.name),
                        has_row,
                        expected_sha256=sha256,
                        progress=progress,
                    )
                )
            with daybook.writing(person, why) as session:
                plate = find_plate(session, plate_key, new_plate)
                # Somebody may have taken it in while it was copied.
                there = None if again else same_file(session, sha256)
                if there is not None:
                    raise _there_already(source, address_of(session, there))
                is_new = plate is None
                if plate is None:
                    plate = Plate(key=plate_key, **(new_plate or {}))
                    session.add(plate)
                    session.flush()
                alike, way = _alike(session, seen)
                scan = _scan(session, plate, source, seen, arrival, details, leave)
                session.add(scan)
                if complete is not None:
                    complete(session, plate)
                session.flush()
                address = address_of(session, scan)
    notes = tuple(seen.embedded.get("notes", ()))
    if alike:
        notes += (f"It shows the same picture as {alike}: {way}.",)
    return TakenIn(address, arrival.file, sha256, alike, way, seen.words, notes, is_new)


def named_files(daybook: Daybook) -> set[str]:
    """Return every file within the daybook that an item names."""
    with daybook.reading() as session:
        return files_named(session)


def find_plate(
    session: Session, key: str, new_plate: dict[str, Any] | None
) -> Plate | None:
    """Return the plate a scan goes to; None where it is a new one.

    Raises
    ------
    InputError
        If there is none, or it was set aside or withdrawn.
    """
    plate = session.scalars(select(Plate).where(Plate.key == key)).first()
    if plate is None and new_plate is None:
        raise InputError(
            f"There is no plate {key!r} in this daybook.",
            "Add it first, or ask for a new one with --new.",
        )
    if plate is not None and (plate.removed or plate.withdrawn):
        state = "withdrawn" if plate.withdrawn else "set aside"
        raise InputError(
            f"The plate {key!r} was {state}.",
            "Choose another key." if plate.withdrawn else "Restore it first.",
        )
    return plate


def same_file(session: Session, sha256: str) -> Scan | None:
    """Return the scan of which a file has every byte, if there is one."""
    wanted = select(Scan).where(
        Scan.sha256 == sha256, Scan.removed.is_(False), Scan.withdrawn.is_(None)
    )
    return session.scalars(wanted.order_by(Scan.id)).first()


def refuse_withdrawn(session: Session, source: Path, sha256: str) -> None:
    """Refuse a file that was withdrawn from the daybook, known by its checksum.

    Raises
    ------
    InputError
        Naming the file, the day and the scan.
    """
    wanted = select(Scan).where(Scan.sha256 == sha256, Scan.withdrawn.is_not(None))
    gone = session.scalars(wanted).first()
    if gone is not None and same_file(session, sha256) is None:
        raise InputError(
            f"The file {source.name!r} was withdrawn from this daybook on "
            f"{str(gone.withdrawn)[:10]}, as {address_of(session, gone)}.",
            "If there is leave to have it again, say --again.",
        )


def is_whole_here(daybook: Daybook, scan: Scan) -> bool:
    """Tell whether a scan's file stands in its place, as it was when it came."""
    path = daybook.path(scan.file)
    return path.is_file() and file_sha256(path) == scan.sha256


def _put_back(
    daybook: Daybook,
    scan: Scan,
    address: str,
    source: Path,
    seen: Seen,
    progress: Progress,
) -> TakenIn:
    """Put the file of a scan back that was lost or damaged, or refuse it."""
    if is_whole_here(daybook, scan):
        raise _there_already(source, address)
    if scan.kept == "left in place":
        raise InputError(
            f"The file {source.name!r} is {address}, which was left in place at "
            f"{scan.file!r} and is no longer there as it was.",
            "Put it back there; or, to take it in as another scan, say --again.",
        )
    if daybook.read_only:
        raise DaybookError(
            f"The file of {address} is lost or damaged, and the daybook's folder "
            "cannot be written to put it back.",
            "Ask for leave to write there.",
        )
    with told_plainly(daybook.folder):
        damaged = put_back(daybook.folder, source, scan.file, scan.sha256, progress)
    note = "It was in the daybook and its file was gone: the file was put back."
    if damaged is not None:
        note = (
            "It was in the daybook and its file was damaged: the file was put back, "
            f"and the damaged one is {damaged.name!r} beside it."
        )
    return TakenIn(
        address, scan.file, scan.sha256, words=seen.words, notes=(note,), put_back=True
    )


def _there_already(source: Path, address: str) -> InputError:
    return InputError(
        f"The file {source.name!r} is in the daybook already, byte for byte, as "
        f"{address}.",
        "Nothing needs doing; if it belongs to another plate too, say --again.",
    )


def _alike(session: Session, seen: Seen) -> tuple[str, str]:
    """Return the address of a scan that shows the same picture, and which way."""
    wanted = select(Scan.id, Scan.perceptual_hash).where(
        Scan.perceptual_hash.is_not(None),
        Scan.removed.is_(False),
        Scan.withdrawn.is_(None),
    )
    rows = session.execute(wanted.order_by(Scan.id)).all()
    found = most_alike(seen.looks, [str(row[1]) for row in rows])
    if found is None:
        return "", ""
    scan = session.get_one(Scan, rows[found.index][0])
    return address_of(session, scan), found.way


def _scan(
    session: Session,
    plate: Plate,
    source: Path,
    seen: Seen,
    arrival: Arrival,
    details: ScanDetails,
    leave: bool,
) -> Scan:
    others = select(Scan.id).where(
        Scan.plate_id == plate.id, Scan.removed.is_(False), Scan.withdrawn.is_(None)
    )
    first = session.scalars(others.limit(1)).first() is None
    number = details.accession_number or seen.words.get("accession_number")
    return Scan(
        plate_id=plate.id,
        file=arrival.file,
        kept="left in place" if leave else "taken in",
        original_name=source.name,
        accession_number=number,
        what=details.what,
        main=first if details.main is None else details.main,
        sha256=arrival.sha256,
        size_bytes=arrival.size_bytes,
        width_px=seen.width_px,
        height_px=seen.height_px,
        perceptual_hash=seen.looks.words,
        embedded=seen.embedded or None,
        note=details.note,
    )
