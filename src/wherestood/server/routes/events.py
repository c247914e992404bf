"""Tell pages of tasks and changes as they happen, by server-sent events.

Source of the form: WHATWG, *HTML Living Standard*, section 9.2 "Server-sent events".
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator

from fastapi import APIRouter, Request
from fastapi.responses import StreamingResponse
from sqlalchemy import func, select
from starlette.concurrency import run_in_threadpool

from wherestood.daybook import Daybook
from wherestood.daybook.tables import JournalRow
from wherestood.errors import WherestoodError
from wherestood.server.desk import Desk, DeskNeeded
from wherestood.server.forms.jobs import Changed, Job

__all__ = ["changes_since", "router"]

LOOK_S = 0.4  # how often the journal is looked at for what others wrote
ALIVE_S = 15.0
router = APIRouter(prefix="/api", tags=["events"])


@router.get(
    "/events",
    operation_id="listen",
    response_class=StreamingResponse,
    responses={200: {"content": {"text/event-stream": {}}}},
)
async def events(request: Request, desk: DeskNeeded) -> StreamingResponse:
    """Stream events ``job`` (a Job), ``changed`` (a Changed) and ``alive``."""
    return StreamingResponse(
        _stream(request, desk),
        media_type="text/event-stream",
        headers={"X-Accel-Buffering": "no"},
    )


async def _stream(request: Request, desk: Desk) -> AsyncIterator[str]:
    loop = asyncio.get_running_loop()
    jobs: asyncio.Queue[Job] = asyncio.Queue()

    def heard(job: Job) -> None:
        loop.call_soon_threadsafe(jobs.put_nowait, job)

    stop_listening = desk.jobs.listen(heard)
    try:
        for job in desk.jobs.all():
            if job.state in ("waiting", "running"):
                yield _event("job", job.model_dump_json())
        book = desk.book
        seen = await run_in_threadpool(_last, book) if book else 0
        last_said = time.monotonic()
        yield _event("alive", "{}")
        while not await request.is_disconnected():
            try:
                job = await asyncio.wait_for(jobs.get(), LOOK_S)
                yield _event("job", job.model_dump_json())
                last_said = time.monotonic()
            except TimeoutError:
                pass
            if desk.book is not book:
                book = desk.book
                seen = await run_in_threadpool(_last, book) if book else 0
            if book is not None:
                for change in await run_in_threadpool(changes_since, book, seen):
                    seen = change.revision
                    yield _event("changed", change.model_dump_json())
                    last_said = time.monotonic()
            if time.monotonic() - last_said > ALIVE_S:
                yield _event("alive", "{}")
                last_said = time.monotonic()
    finally:
        stop_listening()


def _event(name: str, data: str) -> str:
    return f"event: {name}\ndata: {data}\n\n"


def _last(book: Daybook) -> int:
    with book.reading() as session:
        return session.scalar(select(func.max(JournalRow.number))) or 0


def changes_since(book: Daybook, revision: int) -> list[Changed]:
    """Return the acts after a row of the journal, the earliest first."""
    wanted = (
        select(
            JournalRow.number,
            JournalRow.act,
            JournalRow.person,
            JournalRow.table_name,
            JournalRow.plate_id,
        )
        .where(JournalRow.number > revision)
        .order_by(JournalRow.number)
    )
    try:
        with book.reading() as session:
            rows = session.execute(wanted).all()
    except WherestoodError:
        return []
    acts: dict[str, Changed] = {}
    for number, act, person, table, plate_id in rows:
        told = acts.setdefault(
            act,
            Changed(revision=number, act=act, person=person, tables=[], plate_ids=[]),
        )
        told.revision = number
        if table not in told.tables:
            told.tables.append(table)
        if plate_id and plate_id not in told.plate_ids:
            told.plate_ids.append(plate_id)
    return sorted(acts.values(), key=lambda change: change.revision)
