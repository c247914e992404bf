"""Write a query sheet: a lettered plate and numbered questions, no place given away."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import typst

from wherestood.errors import InputError
from wherestood.plate.scan import Plate
from wherestood.record.report.facts import SeenFacts
from wherestood.record.report.figures import keyed_plate_picture

__all__ = ["QuerySheet", "Question", "query_sheet_pdf", "questions_about"]

#: More questions do not leave room to answer on one page.
MOST_QUESTIONS = 9
_LONGEST_QUESTION = 240
#: Room that the picture takes at most [mm].
_PICTURE_MM = 104
#: Lines to write on, of a question at most and of all about.
_MOST_LINES, _LINES = 3, 12


@dataclass(frozen=True)
class Question:
    """Be a question of a sheet.

    Attributes
    ----------
    number : int
        From 1.
    words : str
    letter : str
        Of what it asks about; empty for the plate as a whole.
    about : str
        What an answer speaks of: ``place``, ``date``, ``subject``, ``other``.
    """

    number: int
    words: str
    letter: str = ""
    about: str = "subject"


@dataclass(frozen=True)
class QuerySheet:
    """Hold a query sheet.

    Attributes
    ----------
    code : str
        By which replies find their plate: nothing of it tells what the plate is.
    seen : tuple of SeenFacts
        What is lettered; what anybody took it for stays off the sheet.
    questions : tuple of Question
    back_to : str
        Whom the sheet goes back to.
    """

    code: str
    seen: tuple[SeenFacts, ...]
    questions: tuple[Question, ...]
    back_to: str = ""


def questions_about(
    letters: Sequence[str], more: Sequence[str] = ()
) -> tuple[Question, ...]:
    """Return the questions of a sheet: of each letter, of the plate, and one's own.

    Raises
    ------
    InputError
        If there are too many for a page, or one is too long.
    """
    asked = [
        (f"What is {one}? Since when did it stand, and until when?", one, "subject")
        for one in letters
    ]
    asked += [
        ("Where do you think the photographer stood? What tells you so?", "", "place"),
        ("When may it have been taken? What tells you so?", "", "date"),
    ]
    asked += [(words.strip(), "", "other") for words in more if words.strip()]
    if len(asked) > MOST_QUESTIONS:
        raise InputError(
            f"There are {len(asked)} questions; a page has room for {MOST_QUESTIONS}.",
            "Ask about fewer letters, or make two sheets.",
        )
    for words, _, _ in asked:
        if len(words) > _LONGEST_QUESTION:
            raise InputError(
                f"The question {words[:40]!r}... has {len(words)} letters, more than "
                f"{_LONGEST_QUESTION}.",
                "Ask it shorter.",
            )
    return tuple(
        Question(number, words, letter, about)
        for number, (words, letter, about) in enumerate(asked, start=1)
    )


def query_sheet_pdf(sheet: QuerySheet, plate: Plate) -> bytes:
    """Return a sheet as a page of PDF.

    Notes
    -----
    The picture is drawn anew, so that nothing written inside the scan comes along; the
    sheet holds no title, place, date, name of a file or of a person. What the picture
    shows may still give the place away to who knows it: that is what it is for.
    """
    bare = [
        SeenFacts(one.letter, "", points_px=one.points_px, shape=one.shape)
        for one in sheet.seen
    ]
    picture = keyed_plate_picture(plate, bare)
    with tempfile.TemporaryDirectory() as passing:
        (Path(passing) / "plate.png").write_bytes(picture.png)
        source = Path(passing) / "sheet.typ"
        source.write_text(_typst_source(sheet), encoding="utf-8")
        made: bytes = typst.compile(str(source), ignore_system_fonts=True)
    return made


def _typst_source(sheet: QuerySheet) -> str:
    lines = max(1, min(_MOST_LINES, _LINES // len(sheet.questions)))
    # Lines share what room the page has left.
    rule = "#v(1fr)#line(length: 100%, stroke: 0.4pt + luma(60%))"
    parts = [
        '#set document(title: "Query sheet", author: (), date: none)',
        '#set page(paper: "a4", margin: (x: 18mm, y: 13mm))',
        '#set text(size: 10pt, lang: "en")',
        "#set par(leading: 0.5em, spacing: 0.55em)",
        "#grid(columns: (1fr, auto), text(size: 15pt)[Can you help with this "
        f"photograph?], text(size: 10pt, {_string('Sheet ' + sheet.code)}))",
        "#v(1mm)",
        f'#align(center, image("plate.png", height: {_PICTURE_MM}mm, fit: "contain"))',
        "#v(1mm)",
        "Answer what you can, and leave the rest. A guess is welcome if you say that "
        "it is one. You may draw on the picture.",
    ]
    for question in sheet.questions:
        parts.append(f"*{question.number}.* #text({_string(question.words)})")
        parts += [rule] * lines
    back = f" Please send it back to {sheet.back_to}." if sheet.back_to else ""
    parts += [
        "#v(2mm)",
        "Your name: #box(width: 55mm, line(length: 100%, stroke: 0.4pt)) #h(3mm) How "
        "you know: #box(width: 1fr, line(length: 100%, stroke: 0.4pt))",
        "#v(1mm)",
        "You may name me: ☐ yes ☐ by initials ☐ no. #h(6mm) You may publish: ☐ my "
        "words ☐ a summary ☐ nothing.",
        "#v(1mm)",
        "Date and signature: #box(width: 70mm, line(length: 100%, stroke: 0.4pt))",
    ]
    if back:
        parts.append(f"#v(0.5mm)\n#text(size: 9pt, {_string(back.strip())})")
    return "\n\n".join(parts) + "\n"


def _string(words: str) -> str:
    """Return words as a string of typst, in which no sign has a meaning."""
    return json.dumps(words, ensure_ascii=False)
