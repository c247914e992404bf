"""Answer for the program as a whole: what is open, who writes, settings."""

from __future__ import annotations

from pathlib import Path

from fastapi import APIRouter
from sqlalchemy import func, select

import wherestood
from wherestood.daybook import Daybook
from wherestood.daybook.book import ADDRESS_FILE, DATABASE
from wherestood.daybook.tables import ITEMS
from wherestood.errors import InputError
from wherestood.plate.formats import plate_formats
from wherestood.server.desk import Book, Desk, DeskNeeded, WrittenBook, revision_of
from wherestood.server.forms.jobs import Job
from wherestood.server.forms.state import (
    DaybookTold,
    Folder,
    Folders,
    Limits,
    MergeAsked,
    NamedSize,
    PersonGiven,
    PlaceGiven,
    SettingsChange,
    SettingsTold,
    State,
)
from wherestood.server.routes.items import Why
from wherestood.server.settings_kept import keep_settings, kept_settings
from wherestood.server.uploads import LARGEST_PX

__all__ = ["DEMO_FOLDER", "router"]

DEMO_FOLDER = "wherestood-demo"
MOST_FOLDERS = 500
router = APIRouter(prefix="/api", tags=["state"])


@router.get("/state", operation_id="getState")
def state(desk: DeskNeeded) -> State:
    """Tell what is open, and who writes."""
    return _state(desk)


@router.put("/session/person", operation_id="setPerson")
def set_person(desk: DeskNeeded, given: PersonGiven) -> State:
    """Say who writes from now on."""
    name = given.person.strip()
    if not name:
        raise InputError("Nobody is named.", "Say who writes.")
    desk.person = name
    return _state(desk)


@router.patch("/settings", operation_id="setSettings")
def set_settings(desk: DeskNeeded, book: Book, change: SettingsChange) -> State:
    """Remember units, a base map, or that the guide was put away."""
    keep_settings(book, change, desk.person)
    if change.base_map is not None:
        desk.base_maps.agree(change.base_map)  # whoever sets it wants it asked
    return _state(desk)


@router.get("/sizes", operation_id="listSizes")
def sizes() -> list[NamedSize]:
    """List the plate sizes known by name."""
    return [
        NamedSize(
            name=size.name,
            also=list(size.also),
            long_mm=size.long_mm,
            short_mm=size.short_mm,
            used=size.used,
        )
        for size in plate_formats()
    ]


@router.post("/daybook/new", operation_id="newDaybook")
def new_daybook(desk: DeskNeeded, given: PlaceGiven) -> State:
    """Make a daybook and open it."""
    Daybook.create(_place(given)).close()
    desk.open(_place(given))
    return _state(desk)


@router.post("/daybook/open", operation_id="openDaybook")
def open_daybook(desk: DeskNeeded, given: PlaceGiven) -> State:
    """Open a daybook."""
    desk.open(_place(given))
    return _state(desk)


@router.post("/daybook/demo", operation_id="openDemo")
def open_demo(desk: DeskNeeded, given: PlaceGiven | None = None) -> Job:
    """Make the demo's daybook, unless there is one; open it with `openDaybook`."""
    folder = _place(given) if given else demo_folder()
    return desk.jobs.start(
        "demo",
        "Making the demo: an invented place and its plate",
        {"folder": str(folder)},
        person=desk.person,
    )


@router.post("/daybook/merge", operation_id="mergeDaybook")
def merge(desk: DeskNeeded, book: WrittenBook, given: MergeAsked, why: Why = "") -> Job:
    """Merge another copy of the open daybook into it, or say what would come of it."""
    folder = _place(given)
    if folder.resolve() == book.folder.resolve():
        raise InputError("That is this daybook itself.", "Choose the other copy.")
    verb = "Comparing with" if given.dry_run else "Merging"
    return desk.jobs.start(
        "merge",
        f"{verb} {folder.name}",
        {"folder": str(folder), "dry_run": given.dry_run, "why": why},
        person=desk.person,
    )


@router.get("/folders", operation_id="listFolders")
def folders(within: str = "") -> Folders:
    """List the folders within one, to choose from; files are not named."""
    place = Path(within).expanduser() if within else Path.home()
    if not place.is_absolute() or not place.is_dir():
        raise InputError(f"There is no folder {within[:200]!r}.", "Choose another one.")
    place = place.resolve()
    try:
        found = sorted(
            (one for one in place.iterdir() if _may_be_shown(one)),
            key=lambda one: one.name.casefold(),
        )
    except OSError as error:
        raise InputError(
            f"The folder {str(place)!r} cannot be read ({error.strerror}).",
            "Choose another one.",
        ) from error
    return Folders(
        folder=str(place),
        above=str(place.parent) if place.parent != place else None,
        folders=[
            Folder(name=one.name, folder=str(one), is_daybook=_is_daybook(one))
            for one in found[:MOST_FOLDERS]
        ],
    )


def demo_folder() -> Path:
    """Return where a demo daybook is made unless told."""
    return Path.home() / DEMO_FOLDER


def _may_be_shown(path: Path) -> bool:
    try:
        return path.is_dir() and not path.name.startswith(".")
    except OSError:
        return False


def _is_daybook(folder: Path) -> bool:
    return (folder / DATABASE).exists() or (folder / ADDRESS_FILE).exists()


def _place(given: PlaceGiven | MergeAsked) -> Path:
    place = Path(given.folder).expanduser()
    if not place.is_absolute():
        raise InputError(
            f"The folder {given.folder[:200]!r} is not named whole.",
            "Begin with / or with a drive's letter.",
        )
    return place


def _state(desk: Desk) -> State:
    book = desk.book
    told, settings = None, SettingsTold()
    if book is not None:
        told = _daybook(book)
        with book.reading() as session:
            settings = kept_settings(session)
    return State(
        version=wherestood.__version__,
        person=desk.person,
        daybook=told,
        demo_folder=str(demo_folder()),
        demo_there=_is_daybook(demo_folder()),
        limits=Limits(upload_bytes=desk.uploads.largest_bytes, pixels=LARGEST_PX),
        settings=settings,
        base_map_agreed=settings.base_map is not None
        and desk.base_maps.agreed(settings.base_map),
    )


def _daybook(book: Daybook) -> DaybookTold:
    with book.reading() as session:
        counts = {
            name: session.scalar(
                select(func.count()).select_from(kind).where(kind.removed.is_(False))
            )
            or 0
            for name, kind in ITEMS.items()
            if name != "fix_inputs"
        }
    return DaybookTold(
        folder=str(book.folder),
        name=book.folder.resolve().name,
        read_only=book.read_only,
        warnings=list(book.whereabouts.sentences()),
        counts=counts,
        revision=revision_of(book),
    )
