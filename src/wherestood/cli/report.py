"""Answer ``wherestood report``."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wherestood.cli.book import DaybookFolder, Person, Why, open_daybook, person_named
from wherestood.cli.options import AsJson
from wherestood.cli.screen import say, say_json, say_written, stages, warn
from wherestood.errors import InputError

if TYPE_CHECKING:
    from wherestood.daybook import Daybook
    from wherestood.record.report.facts import ReportFacts

__all__ = ["report"]


def report(
    given: Annotated[
        list[str],
        typer.Argument(
            metavar="PLATE...|FIX_FOLDER",
            help="Plates of the daybook, or the one folder of a fix.",
        ),
    ],
    out: Annotated[
        Path, typer.Option(metavar="DIR", help="Folder for the report.")
    ] = Path("report"),
    fix: Annotated[
        str,
        typer.Option(
            metavar="KEY",
            help="The plate's fix; the one decided on unless told, else the newest.",
        ),
    ] = "",
    form: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME",
            help="pdf, html, docx or odt; all unless told. May be repeated.",
        ),
    ] = None,
    public: Annotated[
        bool,
        typer.Option(
            "--public", help="Leave out what may not be published, and say what."
        ),
    ] = False,
    leave_out: Annotated[
        bool,
        typer.Option(
            "--leave-out", help="Leave out what recorded terms forbid, without asking."
        ),
    ] = False,
    paragraph: Annotated[
        int,
        typer.Option(metavar="N", help="Longest catalogue paragraph, characters."),
    ] = 600,
    author: Annotated[
        str | None,
        typer.Option(
            metavar="NAME",
            help="Who makes the report; you unless told, nobody in a public one.",
        ),
    ] = None,
    collection: Annotated[
        str, typer.Option(metavar="WORDS", help="What the plates belong to, to cite.")
    ] = "",
    issue: Annotated[
        bool,
        typer.Option(
            "--issue", help="Freeze it as a numbered issue, kept in the daybook."
        ),
    ] = False,
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Write a report: PDF, HTML, DOCX and ODT, with its figures apart."""
    from wherestood.record.atomic import check_folder
    from wherestood.record.report import REPORT_FORMS, tell_report, write_report
    from wherestood.record.report.write import require_forms

    forms = tuple(form or REPORT_FORMS)
    require_forms(forms)
    check_folder(out)
    if len(given) == 1 and (Path(given[0]) / "fix.json").is_file():
        _refuse_of_folder(public=public or leave_out, issue=issue, fix=fix)
        facts = _of_folder(Path(given[0]), author or "", paragraph, collection)
        files = write_report(out, tell_report(facts), forms)
        _say(files, None, as_json=json)
        return
    if fix and len(given) > 1:
        raise InputError("A fix is of one plate.", "Name one plate with --fix.")
    from wherestood.daybook.report_issues import keep_issue
    from wherestood.daybook.report_made import report_of_plates

    named = (author or "") if public or author is not None else person_named(person)
    with open_daybook(daybook) as book, stages() as shown:
        if public and not leave_out:
            _ask_of_terms(book, given, fix, may_ask=not json)
        facts = report_of_plates(
            book, given, fix_key=fix, public=public, author=named,
            collection=collection, paragraph_length=paragraph, progress=shown,
        )  # fmt: skip
        cautions = _cautions(book, given) if public else ()
        key = None
        if issue:
            kept = keep_issue(
                book, facts, forms, person_named(person), why, progress=shown
            )
            key = kept.key
            facts = replace(facts, issue=kept.number)
        shown.stage("writing the report")
        files = write_report(out, tell_report(facts), forms)
    _say(files, key, as_json=json)
    _warn(facts)
    for caution in cautions:
        warn(f"Note: {caution}")


def _cautions(book: Daybook, given: list[str]) -> tuple[str, ...]:
    """Say which places stand by others that may not be told so closely."""
    from wherestood.daybook.keys import find
    from wherestood.daybook.public.near import near_hidden
    from wherestood.daybook.tables import Plate

    with book.reading() as session:
        return near_hidden(session, [find(session, Plate, key) for key in given])


def _ask_of_terms(
    book: Daybook, given: list[str], fix_key: str, *, may_ask: bool
) -> None:
    """Stop where publishing would break a recorded term, but for a person's leave."""
    from wherestood.daybook.handing_out_files import term_trouble
    from wherestood.daybook.keys import find
    from wherestood.daybook.report_public import terms_of_reports
    from wherestood.daybook.tables import Plate

    with book.reading() as session:
        plates = [find(session, Plate, key) for key in given]
        broken = terms_of_reports(session, plates, fix_key)
    if not broken:
        return
    trouble = term_trouble(broken)
    if not (may_ask and sys.stdin.isatty()):
        raise trouble
    warn(trouble.problem)
    if not typer.confirm("Go on without these?", err=True):
        raise typer.Abort


def _say(files: tuple[Path, ...], key: str | None, *, as_json: bool) -> None:
    if as_json:
        say_json({"files": [str(path) for path in files], "issue": key})
        return
    say_written(files)
    if key is not None:
        say(f"Kept as {key}. When it goes out: wherestood reports received {key} ...")


def _warn(facts: ReportFacts) -> None:
    """Say what must be known before it goes out."""
    for plate in facts.plates:
        for missing in plate.missing:
            warn(f"Note: {plate.key}: {missing}")
        for withheld in plate.withheld:
            warn(f"Note: {plate.key}: withheld: {withheld}")
    if facts.public:
        warn("Note: a picture itself may still give its place away.")
    else:
        warn(
            "Note: full, restricted: it tells what is withheld from a public copy too. "
            "For others make it with --public."
        )


def _refuse_of_folder(*, public: bool, issue: bool, fix: str) -> None:
    if public or issue or fix:
        raise InputError(
            "What may be published, issues and other fixes are known to a daybook "
            "alone.",
            "Leave --public, --leave-out, --issue and --fix out, or name a plate of a "
            "daybook.",
        )


def _of_folder(
    folder: Path, author: str, paragraph: int, collection: str
) -> ReportFacts:
    """Return what the folder of a fix tells, its pictures as they were drawn."""
    from importlib.metadata import version

    from wherestood.record.fix_json import read_fix
    from wherestood.record.report.beside import files_told, pictures_beside
    from wherestood.record.report.facts import PlateFacts, ReportFacts
    from wherestood.record.report.words_read import read_words

    fix = read_fix(folder / "fix.json")
    words = folder / "words.txt"
    text = words.read_text(encoding="utf-8") if words.is_file() else ""
    plate = PlateFacts(
        str(fix["plate"]), "", form=fix, sections=read_words(text),
        pictures=pictures_beside(folder), files=tuple(files_told(fix)),
    )  # fmt: skip
    return ReportFacts(
        (plate,), str(fix["made"]), version("wherestood"), author=author,
        collection=collection, paragraph_length=paragraph,
    )  # fmt: skip
