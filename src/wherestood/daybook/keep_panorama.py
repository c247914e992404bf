"""Keep the answer of a panorama: one fix for each plate, all in one act.

Every plate gets a fix of its own, with its own camera and lines, so that whatever looks
at a plate's fix finds it; station, regions and verdict are the same in all, and each
tells how the plates hang together.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Sequence
from dataclasses import asdict
from datetime import UTC
from importlib.metadata import version
from pathlib import Path
from typing import Any, Protocol

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.ask_panorama import PreparedPanorama
from wherestood.daybook.book import Daybook
from wherestood.daybook.keep_answer import (
    SCREEN,
    KeptAnswer,
    Located,
    asked_of,
    folder_of_fix,
    keep_traced,
)
from wherestood.daybook.kept_fix import Together, keep_fix
from wherestood.daybook.tables import Fix
from wherestood.evidence.items.tie import TieMark
from wherestood.fix.panorama_result import Panorama
from wherestood.progress import SILENT, Progress
from wherestood.record.atomic import write_text_atomically
from wherestood.record.inputs import FixInputs, Making
from wherestood.record.joined_picture import JoinedPicture
from wherestood.record.page import Section
from wherestood.record.panorama_json import together_form
from wherestood.record.panorama_words import panorama_words
from wherestood.record.plain import plain
from wherestood.record.screen_form import screen_form

__all__ = ["JOINED", "LocatedTogether", "fixes_together", "keep_panorama", "ties_of"]

#: The plates joined, beside the other pictures of each plate's fix.
JOINED = "panorama.png"


class _Drawn(Protocol):
    def save(self, path: Path) -> object:
        """Write it."""


class LocatedTogether(Protocol):
    """Be what a search of several plates returned."""

    @property
    def answer(self) -> Panorama:
        """Return everything that was found."""

    @property
    def inputs(self) -> tuple[FixInputs, ...]:
        """Return everything it rests on, one a plate."""

    def one(self, number: int) -> Located:
        """Return the answer as one plate sees it."""

    def joined(self) -> JoinedPicture:
        """Return the plates joined in one picture."""

    def map(self) -> _Drawn:
        """Draw the answer on a map."""

    def words(self) -> str:
        """Return the page of words."""


def keep_panorama(
    daybook: Daybook,
    asked: PreparedPanorama,
    located: LocatedTogether,
    person: str,
    why: str = "",
    *,
    progress: Progress = SILENT,
) -> tuple[KeptAnswer, ...]:
    """Keep an answer as a fix of each of its plates, and draw the pictures.

    Parameters
    ----------
    daybook : Daybook
        Where.
    asked : PreparedPanorama
        What it was made from.
    located : LocatedTogether
        What was found, the plates in the same order.
    person, why : str
        Who asked, and why.
    progress : Progress
        Told of each step.

    Returns
    -------
    tuple of KeptAnswer
        One a plate, in that order.
    """
    progress.stage("writing the answer down")
    made = daybook.clock().astimezone(UTC).replace(microsecond=0).isoformat()
    making = Making(made, version("wherestood"))
    form = together_form(located.answer, located.inputs, making)
    for one in form["plates"]:
        one.pop("draws", None)  # each fix has its own
    run = uuid.uuid4().hex
    kept: list[tuple[Fix, str | None, str | None]] = []
    with daybook.writing(person, why) as session:
        traced = [
            keep_traced(session, plate.read, inputs)
            for plate, inputs in zip(asked.plates, located.inputs, strict=True)
        ]
        session.flush()
        items = [
            item
            for plate, line in zip(asked.plates, traced, strict=True)
            for item in (
                plate.read.scan,
                *plate.read.told.items,
                *([line] if line else []),
            )
        ]
        for number, plate in enumerate(asked.plates):
            inputs = located.inputs[number]
            others = [one.read.plate for one in asked.plates if one is not plate]
            fix = keep_fix(
                session,
                daybook.folder,
                plate.read.plate,
                located.answer.fixes[number],
                inputs,
                making,
                asked_of(daybook, plate.read, inputs, plate.more()),
                items=_once([*others, *items, *asked.tie_items]),
                words=located.words(),
                after_journal=min(one.read.after_journal for one in asked.plates),
                together=Together(form, _question(asked, run, number)),
            )
            line = traced[number]
            kept.append((fix, line.id if line else None, line.key if line else None))
        named = [(fix.id, fix.key, line, key) for fix, line, key in kept]
    progress.stage("drawing pictures", len(named) + 1)
    joined = located.joined()
    progress.advance()
    sections = panorama_words(located.answer, located.inputs)
    answers = []
    for number, (fix_id, key, line_id, line_key) in enumerate(named):
        one = located.one(number)
        folder = folder_of_fix(daybook, asked.plates[number].read.plate.key, key)
        files = one.save(folder)
        joined.save(folder / JOINED)
        located.map().save(folder / "map.png")
        write_text_atomically(folder / "words.txt", located.words())
        told = screen_form(one.answer, one.inputs)
        told["sections"] = [_section(section) for section in sections]
        write_text_atomically(folder / SCREEN, json.dumps(told, allow_nan=False))
        files = (*files, folder / JOINED)
        answers.append(KeptAnswer(fix_id, key, files, line_id, line_key))
        progress.advance()
    return tuple(answers)


def fixes_together(session: Session, fix: Fix) -> list[Fix]:
    """Return the fixes of all plates that were made in one with this, in their order.

    Empty where it was made of one plate alone.
    """
    told = (fix.question or {}).get("panorama")
    if not told:
        return []
    wanted = select(Fix).where(Fix.plate_id.in_(told["plates"]), Fix.made == fix.made)
    found = {
        (one.question or {}).get("panorama", {}).get("number"): one
        for one in session.scalars(wanted)
        if (one.question or {}).get("panorama", {}).get("run") == told["run"]
    }
    return [found[number] for number in sorted(found)]


def ties_of(fix: Fix) -> tuple[TieMark, ...]:
    """Return the tie marks that a fix of a panorama was made with."""
    told = (fix.question or {})["panorama"]["ties"]
    return tuple(TieMark(**one) for one in told)


def _question(asked: PreparedPanorama, run: str, number: int) -> dict[str, Any]:
    return {
        "run": run,
        "number": number,
        "names": list(asked.names),
        "plates": [one.read.plate.id for one in asked.plates],
        "each_own_lens": asked.each_own_lens,
        "ties": [plain(asdict(tie)) for tie in asked.ties],
    }


def _once(items: Sequence[Any]) -> list[Any]:
    """Return items without those that come again: plates may share a feature's row."""
    return list({(one.__tablename__, one.id): one for one in items}.values())


def _section(section: Section) -> dict[str, Any]:
    return {
        "heading": section.heading,
        "lines": list(section.lines),
        "table": [list(row) for row in section.table],
    }
