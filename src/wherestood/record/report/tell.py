"""Make a report of what is known: its chapters, in the order in which they are read."""

from __future__ import annotations

from collections.abc import Iterator

from wherestood.errors import InputError
from wherestood.record.report.chapters_of_answer import answer_chapters
from wherestood.record.report.chapters_of_making import making_chapters
from wherestood.record.report.content import (
    Block,
    Bullets,
    Chapter,
    Paragraph,
    Report,
    Table,
)
from wherestood.record.report.facts import PlateFacts, ReportFacts
from wherestood.record.report.paragraph import catalogue_paragraph
from wherestood.record.report.plain_answer import CONDITION

__all__ = ["PICTURE_GIVES_AWAY", "tell_report"]

PICTURE_GIVES_AWAY = (
    "A picture itself may still give its place away: hills, houses and shores can be "
    "recognised, by people and by programs. If a place must not be found, do not "
    "publish its picture."
)
UNKNOWN_AUTHOR = "UNKNOWN (the author of this report)"
_VERDICTS = {
    "located": "Located",
    "several places": "Several places remain",
    "not determined": "Not determined",
}


def tell_report(facts: ReportFacts) -> Report:
    """Return the report of one plate or of several.

    Parameters
    ----------
    facts : ReportFacts

    Raises
    ------
    InputError
        If it is of no plate, or a catalogue paragraph has no room.
    """
    if not facts.plates:
        raise InputError("A report is of one plate at least.", "Name a plate.")
    several = len(facts.plates) > 1
    chapters: list[Chapter] = []
    if several:
        chapters.append(_overview(facts))
    for plate in facts.plates:
        if several:
            chapters.append(Chapter(_name(plate), tuple(_state(plate)), level=1))
        chapters += _of_plate(plate, facts)
    chapters.append(_how_to_cite(facts))
    return Report(
        _title(facts), _subtitle(facts), tuple(_face(facts)), tuple(chapters),
        facts.made, facts.version, facts.author,
    )  # fmt: skip


def _name(plate: PlateFacts) -> str:
    return f"{plate.key}, {plate.title}" if plate.title else plate.key


def _title(facts: ReportFacts) -> str:
    if len(facts.plates) == 1:
        return f"Where the camera stood: {_name(facts.plates[0])}"
    return f"Where the camera stood: {len(facts.plates)} plates"


def _subtitle(facts: ReportFacts) -> str:
    keys = [plate.key for plate in facts.plates]
    named = ", ".join(keys[:4]) + (", ..." if len(keys) > 4 else "")
    kind = "public copy" if facts.public else "full report, restricted"
    issue = "draft, not issued" if facts.issue is None else f"issue {facts.issue}"
    return f"{named}, {issue}, {kind}"


def _state(plate: PlateFacts) -> Iterator[Paragraph]:
    """Say on its face what of a plate is not settled, and what is withheld."""
    if plate.form is not None and plate.verdict != "located":
        near = plate.form["near_enough_m"]
        yield Paragraph(
            f"{_VERDICTS[plate.verdict]}, asked to {near:g} m: this report does not "
            "say where the camera stood, and no single place in it is an answer.",
            "caution",
        )
    if plate.form is not None and plate.conclusion is None:
        yield Paragraph(
            "Nobody has concluded anything yet: what follows is what a program found.",
            "caution",
        )
    if plate.conclusion is not None and plate.conclusion.conclusion == "rejected":
        yield Paragraph(
            f"{plate.conclusion.decided_by or 'A person'} rejected "
            f"{plate.conclusion.about or 'this answer'}; see What was concluded.",
            "caution",
        )
    if plate.withheld:
        yield Paragraph(
            "Withheld from this public copy: " + " ".join(plate.withheld), "caution"
        )


def _face(facts: ReportFacts) -> Iterator[Paragraph]:
    if len(facts.plates) == 1:
        yield from _state(facts.plates[0])
    else:
        open_ones = [p.key for p in facts.plates if p.verdict != "located"]
        if open_ones:
            yield Paragraph(
                f"Of {len(facts.plates)} plates these are not located: "
                f"{', '.join(open_ones)}.",
                "caution",
            )
        held = [p.key for p in facts.plates if p.withheld]
        if held:
            yield Paragraph(
                f"Of these the place is not told as it is known: {', '.join(held)}.",
                "caution",
            )
    if facts.public:
        yield Paragraph(PICTURE_GIVES_AWAY, "caution")
    for erratum in facts.errata:
        yield Paragraph(f"Erratum to an earlier issue: {erratum}", "caution")
    for name, words in facts.given.items():
        yield Paragraph(f"{name}: {words}", "small")


def _overview(facts: ReportFacts) -> Chapter:
    rows = []
    for plate in facts.plates:
        found = _VERDICTS.get(plate.verdict, "not told" if plate.withheld else "no fix")
        one = plate.conclusion
        person = "nothing yet"
        if one is not None:
            person = ", ".join(filter(None, (one.conclusion, one.decided_by)))
        rows.append((plate.key, plate.title, found, person))
    return Chapter(
        "The plates",
        (
            Table(
                ("plate", "title", "the program found", "a person concluded"),
                tuple(rows),
                (0.14, 0.4, 0.2, 0.26),
            ),
        ),
    )


def _of_plate(plate: PlateFacts, facts: ReportFacts) -> list[Chapter]:
    chapters = [*answer_chapters(plate), *making_chapters(plate)]
    told = catalogue_paragraph(plate, facts.paragraph_length)
    note = (
        f"For a catalogue entry, at most {facts.paragraph_length} characters; it has "
        f"{len(told)}."
    )
    text: tuple[Block, ...] = (Paragraph(told), Paragraph(note, "small"))
    chapters.append(Chapter("Catalogue paragraph", text))
    return chapters


def _how_to_cite(facts: ReportFacts) -> Chapter:
    nobody = "Author not named" if facts.public else UNKNOWN_AUTHOR
    who = facts.author or nobody
    issue = "draft" if facts.issue is None else f"issue {facts.issue}"
    held = f" {facts.collection}." if facts.collection else ""
    cite = (
        f"{who} ({facts.made[:4]}): {_title(facts)}. Report, {issue}, "
        f"{facts.made[:10]}.{held} Made with wherestood {facts.version}."
    )
    frozen = (
        "An issue never changes: what is found wrong later is told by an erratum slip "
        "and mended in the next issue. Cite the issue that you read."
        if facts.issue is not None
        else "This is a draft: it may change without notice. Cite a numbered issue."
    )
    return Chapter(
        "How to cite, and how to challenge",
        (
            Paragraph(cite),
            Paragraph(frozen),
            Bullets(
                (
                    f"Every position here holds only {CONDITION}.",
                    "Whoever holds another place for the right one can have it tested "
                    "on the same evidence, item by item, and both set side by side.",
                    "A line or a point here is no evidence of a boundary, a title or "
                    "a claim without a surveyor.",
                    "Nothing here says that a place is safe to reach, or open to you.",
                )
            ),
        ),
    )
