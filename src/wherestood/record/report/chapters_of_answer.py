"""Tell the answer: in plain words, who concluded what, the plate, the map, how sure."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from wherestood.record.doubt import coordinates, odds_in_words
from wherestood.record.page import Section
from wherestood.record.proposed_words import PROPOSED, TWO_ANSWERS
from wherestood.record.report.content import (
    Block,
    Bullets,
    Chapter,
    Paragraph,
    Picture,
    Table,
    against_name,
)
from wherestood.record.report.facts import ConclusionFacts, PlateFacts
from wherestood.record.report.plain_answer import answer_lines, section_lines

__all__ = ["answer_chapters", "section_blocks"]

UNKNOWN = "UNKNOWN"
_CHECKS = (
    "How sure", "Why", "Without each in turn", "Does each kind of evidence agree",
    "With and without statements", "Marks held back",
)  # fmt: skip
_ELSEWHERE = (
    "Other places", "Places, out of 100%", PROPOSED, TWO_ANSWERS,
)  # fmt: skip
_FITS = {
    "fits": "fits", "fits poorly": "fits poorly", "impossible": "is impossible",
}  # fmt: skip
_MARKS = (
    "Of a mark, how far on the scan it lies from where its feature should show. Many "
    "pixels may well agree where the feature is near, or its place or the camera's is "
    "known roughly; a blunder is named as one."
)
_NO_PICTURE = (
    "No picture sets the two side by side: none is drawn of a panorama, where no "
    "camera fits at the other place, or of an answer of an earlier version, which kept "
    "no horizon from there."
)
#: Log ratios nearer to nothing than this favour neither; beyond that one number says
#: no more than another.
_AS_LIKELY, _MOST_LOG = 0.5, math.log(1e6)
#: Sections that have a chapter of their own, or are told anew.
_TOLD = (
    "Where", "What is assumed", "What the plate did not tell", "The lens",
    "Before anybody goes there", "Which way", "What to look for next",
)  # fmt: skip


def answer_chapters(plate: PlateFacts) -> Iterator[Chapter]:
    """Give the chapters that tell what was found, and by whom."""
    yield Chapter("In plain words", tuple(_plain(plate)))
    yield Chapter("What was concluded", tuple(_concluded(plate)))
    pictured = tuple(_lettered(plate))
    if pictured:
        lettered = bool(plate.seen) or not plate.withheld
        yield Chapter("The plate, lettered" if lettered else "The plate", pictured)
    drawn = plate.picture("map")
    missing = tuple(Paragraph(words) for words in plate.missing)
    if drawn is not None or missing:
        shown: tuple[Block, ...] = (drawn,) if drawn else ()
        yield Chapter("On the map", (*shown, *missing))
    yield from _evidence(plate)
    yield from _checks(plate)
    yield from _rivals(plate)
    if plate.dates:
        blocks = [b for section in plate.dates for b in section_blocks(section)]
        yield Chapter("When it was exposed", tuple(blocks))


def section_blocks(section: Section, *, headed: bool = True) -> Iterator[Block]:
    """Give a section of a page of words as paragraphs and a table."""
    if len(section.lines) > 1 and not any(one.endswith(".") for one in section.lines):
        yield Paragraph("", about=f"{section.heading}:")
        yield Bullets(section.lines)
    elif headed and section.lines:
        first, *rest = section.lines
        yield Paragraph(first, about=f"{section.heading}.")
        yield from (Paragraph(line) for line in rest)
    elif headed and section.table:
        yield Paragraph("", about=f"{section.heading}:")
    else:
        yield from (Paragraph(line) for line in section.lines)
    if section.table:
        head, *rows = section.table
        yield Table(tuple(head), tuple(tuple(row) for row in rows), _shares(section))


def _shares(section: Section) -> tuple[float, ...]:
    """Return widths that follow the longest word groups of each column."""
    widest = [
        min(max(len(cell) for cell in column), 60) + 4
        for column in zip(*section.table, strict=True)
    ]
    return tuple(wide / sum(widest) for wide in widest)


def _plain(plate: PlateFacts) -> Iterator[Block]:
    if plate.form is None:
        yield Paragraph(plate.published or "No fix of this plate was made.", "lead")
        return
    first, *rest = answer_lines(plate.form, plate.sections)
    yield Paragraph(first, "lead")
    yield from (Paragraph(line) for line in rest)
    if plate.verdict == "located":
        yield from (
            Paragraph(line)
            for line in section_lines(plate.sections, "Where")
            if line.startswith("Height")
        )
    yield from (Paragraph(line) for line in section_lines(plate.sections, "The lens"))


def _concluded(plate: PlateFacts) -> Iterator[Block]:
    """Tell apart what a person concluded and what the program found."""
    if plate.conclusion is None:
        yield Paragraph("None is recorded.", "person", "A person's decision:")
    else:
        words = _decision(plate.conclusion)
        yield Paragraph(words, "person", "A person's decision:")
    found = plate.verdict or "nothing that may be told here"
    if plate.form is not None:
        near = plate.form["near_enough_m"]
        found = f"{found}, asked to {near:g} m ({plate.fix_key or 'this fix'})"
    yield Paragraph(f"{found}.", "machine", "The program's result:")
    if plate.earlier:
        yield Paragraph("Earlier decisions, replaced since:")
        yield Bullets(tuple(_decision(one) for one in plate.earlier))


def _decision(one: ConclusionFacts) -> str:
    conditions = f" Conditions: {one.conditions}." if one.conditions else ""
    about = f" ({one.about})" if one.about else ""
    words = f" “{one.words}”" if one.words else ""
    by = f", by {one.decided_by}" if one.decided_by else ""
    return f"{one.conclusion}{about}{by}, {one.decided[:10]}.{conditions}{words}"


def _lettered(plate: PlateFacts) -> Iterator[Block]:
    drawn = plate.picture("plate")
    if drawn is not None:
        yield drawn
    if plate.seen:
        rows = tuple(
            (
                one.letter, one.what or UNKNOWN, one.taken_to_be or "not said",
                one.identified_by or UNKNOWN,
            )
            for one in plate.seen
        )  # fmt: skip
        yield Table(
            ("", "what it looks like", "taken to be", "who says so, and how"),
            rows,
            (0.07, 0.36, 0.25, 0.32),
        )
        bare = [one.letter for one in plate.seen if not one.points_px]
        if bare:
            yield Paragraph(f"Not marked on the picture: {', '.join(bare)}.", "small")
    elif drawn is not None and not plate.withheld:
        yield Paragraph("Nothing on the plate was lettered.")


def _evidence(plate: PlateFacts) -> Iterator[Chapter]:
    if plate.evidence:
        rows = tuple(
            (one.id, one.kind, one.says, one.told or "", one.source or UNKNOWN)
            for one in plate.evidence
        )
        table = Table(
            ("item", "kind", "what it says", "what the answer says of it", "source"),
            rows,
            (0.12, 0.13, 0.29, 0.23, 0.23),
        )
        blocks: list[Block] = [table]
        if any(one.kind == "mark" and one.told for one in plate.evidence):
            blocks.append(Paragraph(_MARKS, "small"))
        yield Chapter("The evidence", tuple(blocks))
    if plate.set_aside:
        items = tuple(
            f"{one.id} ({one.kind}): {one.says}. Because: {one.told or 'nobody said'}."
            for one in plate.set_aside
        )
        yield Chapter("Evidence set aside, and why", (Bullets(items),), level=3)
    elif plate.form is not None:
        none = (Paragraph("No evidence was set aside."),)
        yield Chapter("Evidence set aside, and why", none, level=3)
    looked: list[Block] = [Bullets(plate.not_found)] if plate.not_found else []
    if plate.still_open:
        looked += [Paragraph("Not ended yet:"), Bullets(plate.still_open)]
    if not looked and plate.form is not None:
        looked = [Paragraph("No search without result is recorded.")]
    if looked:
        yield Chapter("Looked for, and not found", tuple(looked), level=3)
    if plate.sources:
        yield Chapter("Sources", (Bullets(plate.sources),), level=3)


def _checks(plate: PlateFacts) -> Iterator[Chapter]:
    blocks: list[Block] = []
    drawn = (plate.picture("comparison"), plate.picture("view"))
    blocks += [one for one in drawn if one is not None]
    other = (*_TOLD, *_ELSEWHERE)
    for section in plate.sections:
        if section.heading in _CHECKS or section.heading not in other:
            blocks += section_blocks(section)
    blocks += _others(plate)
    if blocks:
        yield Chapter("Checks: how sure, and why", tuple(blocks))
    for section in plate.sections:
        if section.heading == "What to look for next":
            told = tuple(section_blocks(section, headed=False))
            yield Chapter("What would make it surer", told, level=3)


def _others(plate: PlateFacts) -> Iterator[Picture]:
    """Give pictures that have no place of their own."""
    proposed = range(1, 1 + len(plate.form["proposed"])) if plate.form else ()
    known = {"plate", "map", "comparison", "view", *map(against_name, proposed)}
    yield from (one for one in plate.pictures if one.name not in known)


def _rivals(plate: PlateFacts) -> Iterator[Chapter]:
    """Tell other places, and why they lost."""
    if plate.form is None:
        return
    blocks: list[Block] = []
    others = plate.form["alternatives"]
    if others:
        blocks.append(_odds_table(plate.form))
        blocks.append(
            Paragraph(
                "All places were weighed on the same evidence; how much less likely "
                "another is, is why it lost. The chances are those of standing within "
                f"{plate.form['near_enough_m']:g} m."
            )
        )
    else:
        blocks.append(Paragraph("No other place held a chance worth telling."))
    for section in plate.sections:
        if section.heading in _ELSEWHERE:
            blocks += section_blocks(section)
    yield Chapter("Other places, and why they lost", tuple(blocks))
    for number, one in enumerate(plate.form["proposed"], start=1):
        yield _against(one, plate.picture(against_name(number)))


def _against(one: Mapping[str, Any], drawn: Picture | None) -> Chapter:
    """Set a proposed position against the answer, item by item."""
    place = coordinates(one["lon"], one["lat"], max(one["doubt_m"] or 0.0, 1.0))
    reason = f" Reason given: “{one['reason']}”." if one["reason"] else ""
    fits, times = _FITS[one["verdict"]], _times(one["log_ratio"])
    blocks: list[Block] = [
        Paragraph(
            f"{one['name']} proposes {place}. On the same evidence it {fits}: "
            f"{times} than the answer.{reason}"
        )
    ]
    if drawn is not None:
        blocks.append(drawn)
    else:
        blocks.append(Paragraph(_NO_PICTURE, "small"))
    rows = tuple((item["id"], _times(item["log_ratio"])) for item in one["because"])
    if rows:
        table = Table(
            ("item", "how likely there, against the answer"), rows, (0.4, 0.6)
        )
        blocks.append(table)
    heading = f"The answer against {one['name']}, on the same evidence"
    return Chapter(heading, tuple(blocks), level=3)


def _times(log_ratio: float | None) -> str:
    """Say how likely something is against something else, by the log of the ratio."""
    if log_ratio is None or not math.isfinite(log_ratio):
        return "not to be told how likely"
    if abs(log_ratio) < _AS_LIKELY:
        return "neither more nor less likely"
    times = math.exp(min(abs(log_ratio), _MOST_LOG))
    over = "over " if abs(log_ratio) > _MOST_LOG else ""
    less = "less" if log_ratio < 0 else "more"
    return f"{over}{float(f'{times:.1g}'):,.0f} times {less} likely"


def _odds_table(form: Any) -> Table:
    here = float(form["near_enough_share"] or 0.0)
    near = form["near_enough_m"]
    rows = []
    for number, one in enumerate((form, *form["alternatives"]), start=1):
        chance = here if number == 1 else float(one["probability"])
        station = one["station"]
        place = coordinates(station["lon"], station["lat"], near)
        less = f"{here / chance:.2g} times" if number > 1 and chance > 0 else ""
        rows.append((str(number), place, odds_in_words(chance), less))
    return Table(
        ("", "place", "chance", "less likely than place 1"),
        tuple(rows),
        (0.08, 0.42, 0.25, 0.25),
    )
