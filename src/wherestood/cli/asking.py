"""Answer ``wherestood ask`` and ``wherestood reply``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wherestood.cli.book import (
    DaybookFolder,
    Person,
    PlateKey,
    Why,
    open_daybook,
    person_named,
)
from wherestood.cli.options import AsJson
from wherestood.cli.screen import say, say_json
from wherestood.errors import InputError

if TYPE_CHECKING:
    from wherestood.daybook.queries import Pointed

__all__ = ["ask", "reply"]


def ask(
    plate: PlateKey,
    out: Annotated[
        Path, typer.Option(metavar="FILE.pdf", help="Where the sheet is written.")
    ] = Path("query-sheet.pdf"),
    letters: Annotated[
        str | None,
        typer.Option(metavar="A,B", help="What is asked about; all that is marked."),
    ] = None,
    question: Annotated[
        list[str] | None,
        typer.Option(metavar="WORDS", help="A question of your own; name no place."),
    ] = None,
    of: Annotated[
        str, typer.Option(metavar="WHOM", help="Who is asked; stays in the daybook.")
    ] = "",
    back_to: Annotated[
        str, typer.Option(metavar="WORDS", help="Where the sheet is to be sent back.")
    ] = "",
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Write a page of questions to people who may know, no place given away."""
    from wherestood.daybook.queries import ask_people
    from wherestood.record.atomic import write_bytes_atomically

    chosen = [one.strip() for one in letters.split(",")] if letters else None
    with open_daybook(daybook) as book:
        asked = ask_people(
            book, plate, person_named(person), letters=chosen, more=question or [],
            whom=of, back_to=back_to, why=why,
            keep=lambda pdf: write_bytes_atomically(out, pdf),
        )  # fmt: skip
    if json:
        say_json(
            {
                "lead": asked.lead,
                "sheet": asked.sheet.code,
                "questions": [one.words for one in asked.sheet.questions],
                "files": [str(out)],
            }
        )
        return
    say(f"Wrote {out}: sheet {asked.sheet.code}, kept as {asked.lead}.")
    say(
        "It names no place, date or person. The picture itself may still give the "
        "place away to who knows it."
    )


def reply(
    sheet: Annotated[
        str, typer.Argument(metavar="SHEET", help="The number on the sheet.")
    ],
    answer: Annotated[
        list[str] | None,
        typer.Option(metavar="N=WORDS", help="The answer to question N, as said."),
    ] = None,
    pointed: Annotated[
        list[str] | None,
        typer.Option(
            metavar="X,Y=WORDS", help="A spot pointed out on the picture, pixels."
        ),
    ] = None,
    informant: Annotated[
        str | None,
        typer.Option(metavar="KEY", help="Who answered, if the daybook knows them."),
    ] = None,
    name: Annotated[
        str | None, typer.Option(metavar="NAME", help="Their name otherwise.")
    ] = None,
    how_they_know: Annotated[
        str | None, typer.Option(metavar="WORDS", help="How they know.")
    ] = None,
    may_be_named: Annotated[
        str | None,
        typer.Option(metavar="TERM", help="yes, initials, no; not asked unless told."),
    ] = None,
    may_be_published: Annotated[
        str | None,
        typer.Option(
            metavar="TERM", help="all, summary, nothing; not asked unless told."
        ),
    ] = None,
    consent: Annotated[
        str | None,
        typer.Option(metavar="WORDS", help="What they agreed to, and how."),
    ] = None,
    consent_date: Annotated[
        str | None, typer.Option(metavar="DATE", help="When they agreed.")
    ] = None,
    weight: Annotated[
        float | None,
        typer.Option(metavar="W", help="How probable they are right, 0 to 1."),
    ] = None,
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Keep what somebody replied to a query sheet, with their terms."""
    from wherestood.daybook.queries import keep_replies

    terms = {
        "name": name, "how-they-know": how_they_know, "may-be-named": may_be_named,
        "may-be-published": may_be_published, "consent-words": consent,
        "consent": consent_date,
    }  # fmt: skip
    with open_daybook(daybook) as book:
        made = keep_replies(
            book, sheet, person_named(person), informant=informant,
            terms={field: said for field, said in terms.items() if said is not None},
            answers=_answers(answer or []),
            pointed=[_pointed(one) for one in pointed or []], weight=weight, why=why,
        )  # fmt: skip
    if json:
        say_json({"kept": made})
    else:
        say(f"Kept {', '.join(made)}, with the informant's terms.")


def _answers(texts: list[str]) -> dict[int, str]:
    found: dict[int, str] = {}
    for number, words in map(_answer, texts):
        if number in found:
            raise InputError(
                f"Two answers are given to question {number}.",
                "Write both in one, or keep them as two replies.",
            )
        found[number] = words
    return found


def _answer(text: str) -> tuple[int, str]:
    number, sign, words = text.partition("=")
    if not sign or not number.strip().isdecimal():
        raise InputError(
            f"The answer {text[:60]!r} does not begin with its question's number.",
            'Write it as --answer "2=The gate of the brewery".',
        )
    return int(number), words


def _pointed(text: str) -> Pointed:
    from wherestood.daybook.queries import Pointed

    place, sign, words = text.partition("=")
    try:
        x, y = (float(part) for part in place.split(","))
    except ValueError as error:
        raise InputError(
            f"The spot {text[:60]!r} does not begin with two numbers.",
            'Write it as --pointed "812,431=the old gate", in pixels of the scan.',
        ) from error
    if not sign or not words.strip():
        raise InputError(
            f"Nothing is said of the spot {place}.", "Say what was pointed out there."
        )
    return Pointed((x, y), words.strip())
