"""Answer for what is handed out: what would go, the making of it, and the file."""

from __future__ import annotations

import re
import uuid

from fastapi import APIRouter
from fastapi.responses import FileResponse
from sqlalchemy.orm import Session

from wherestood.daybook.handing_out import Wanted, gather
from wherestood.daybook.handing_out_files import (
    MOST_REPORTED,
    REPORT,
    TOO_MANY,
    term_trouble,
)
from wherestood.daybook.handing_out_then_and_now import kept_photographs
from wherestood.record.export.formats import FORMATS, check_formats
from wherestood.server.desk import Book, Desk, DeskNeeded
from wherestood.server.forms.handing_out import (
    FormOffered,
    HandOutAsked,
    HandOutWould,
    PhotographsOffered,
)
from wherestood.server.forms.jobs import Job
from wherestood.server.routes.items import item_of
from wherestood.server.troubles import NotThereError

__all__ = ["router"]

router = APIRouter(prefix="/api/handing-out", tags=["handing out"])

#: Files lie where the server works, not in the daybook: what is withdrawn from that
#: must not stay in a copy beside it.
HANDED_OUT = "handed-out"
MOST_KEPT = 5
_REPORT = "A report: PDF and HTML to read, DOCX and ODT to edit, its figures apart"
_NAME = re.compile(r"[\w.-]+\.zip")


@router.get("", operation_id="listForms")
def forms() -> list[FormOffered]:
    """List the forms in which plates can be handed out."""
    forms = {REPORT: _REPORT, **FORMATS}
    return [FormOffered(name=name, what=what) for name, what in forms.items()]


@router.get("/photographs", operation_id="listPhotographsOffered")
def offered(book: Book) -> PhotographsOffered:
    """Name the plates of which a photograph made on the spot could go along."""
    with book.reading() as session:
        return PhotographsOffered(plate_ids=list(kept_photographs(book, session)))


@router.post("/would", operation_id="lookHandOut")
def would(book: Book, asked: HandOutAsked) -> HandOutWould:
    """Say what would go out, what would not, and which terms would be broken."""
    with book.reading() as session:
        wanted = _wanted(session, asked)
    gathered = gather(book, wanted)
    plates = gathered.handed.plates
    public = asked.audience == "public"
    left_out = [one.sentence() for one in gathered.left_out]
    if REPORT in asked.forms and not 0 < len(wanted.plates) <= MOST_REPORTED:
        left_out.insert(0, TOO_MANY)
    return HandOutWould(
        plates=len(plates),
        places=sum(bool(plate.places) for plate in plates),
        withheld=sum(bool(plate.withheld) for plate in plates),
        broken=[one.sentence() for one in gathered.broken] if public else [],
        left_out=left_out,
        cautions=list(gathered.cautions),
    )


@router.post("", operation_id="handOut")
def hand_out(desk: DeskNeeded, book: Book, asked: HandOutAsked) -> Job:
    """Write it as a zip; stop where a recorded term would be broken."""
    check_formats([name for name in asked.forms if name != REPORT])
    with book.reading() as session:
        wanted = _wanted(session, asked)
    if wanted.kind == "public" and not asked.leave_out:
        broken = gather(book, wanted).broken
        if broken:
            raise term_trouble(broken)
    folder = desk.passing / HANDED_OUT
    folder.mkdir(parents=True, exist_ok=True)
    older = sorted(folder.glob("*.zip"), key=lambda one: one.stat().st_mtime)
    for path in older[: -(MOST_KEPT - 1)]:
        path.unlink(missing_ok=True)
    name = f"{asked.audience}-{uuid.uuid4().hex[:8]}.zip"
    return desk.jobs.start(
        "hand_out",
        "Handing out for everybody" if wanted.kind == "public" else "Handing out",
        {
            "target": str(folder / name),
            "audience": wanted.kind,
            "plates": list(wanted.plates),
            "forms": asked.forms,
            "title": asked.title,
            "address": asked.address,
            "pictures": asked.pictures,
            "photographs": asked.photographs,
            "leave_out": asked.leave_out,
            "author": "" if wanted.kind == "public" else desk.person,
        },
        person=desk.person,
    )


@router.get("/{job_id}", operation_id="getHandedOut", response_class=FileResponse)
def handed_out(desk: DeskNeeded, job_id: str) -> FileResponse:
    """Give the zip that a task wrote, to keep."""
    job = desk.jobs.get(job_id)
    if job is None or job.kind != "hand_out" or job.state != "done":
        raise NotThereError(
            "Nothing was handed out by this task.", "Hand it out again."
        )
    return FileResponse(
        _file_of(desk, job), media_type="application/zip",
        filename=f"{job.asked.get('audience', 'handed-out')}.zip",
    )  # fmt: skip


def _file_of(desk: Desk, job: Job) -> str:
    # Only by its name, and where such files lie: a task's record can be changed.
    name = str(job.asked.get("target", "")).replace("\\", "/").rsplit("/", 1)[-1]
    path = desk.passing / HANDED_OUT / name
    if not _NAME.fullmatch(name) or not path.is_file():
        raise NotThereError("This file is no longer kept.", "Hand it out again.")
    return str(path)


def _wanted(session: Session, asked: HandOutAsked) -> Wanted:
    keys = tuple(item_of(session, "plates", one).key for one in asked.plate_ids)
    return Wanted(
        asked.audience, keys, asked.title, asked.pictures, asked.address,
        photographs=asked.photographs,
    )  # fmt: skip
