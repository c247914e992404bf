"""Write a report in its forms, with its figures apart, all of it or nothing."""

from __future__ import annotations

import tempfile
from collections.abc import Collection
from pathlib import Path
from typing import Literal

import typst

from wherestood.errors import InputError
from wherestood.record.atomic import folder_at_the_end, write_text_atomically
from wherestood.record.report.as_docx import write_docx
from wherestood.record.report.as_html import html_page
from wherestood.record.report.as_odt import write_odt
from wherestood.record.report.as_typst import typst_source
from wherestood.record.report.content import Chapter, Paragraph, Report

__all__ = ["REPORT_FORMS", "require_forms", "write_report"]

NAME = "report"
REPORT_FORMS = ("pdf", "html", "docx", "odt")
#: Archives ask for PDF/A; level 2b allows the transparency that pictures may have.
_PDF: Literal["a-2b"] = "a-2b"


def write_report(
    folder: Path,
    report: Report,
    forms: Collection[str] = REPORT_FORMS,
    *,
    name: str = NAME,
) -> tuple[Path, ...]:
    """Write ``report.pdf`` and the others, figures, and the catalogue paragraphs.

    Parameters
    ----------
    folder : Path
        Where to.
    report : Report
    forms : collection of str
        Some of `REPORT_FORMS`.
    name : str
        Of the files, without their suffix.

    Returns
    -------
    tuple of Path
        The files.

    Raises
    ------
    InputError
        If a form is not known, or the folder cannot be written.
    """
    require_forms(forms)
    with folder_at_the_end(folder, f"{name}.*", "figure-*", "catalogue.txt") as made:
        if "pdf" in forms:
            (made / f"{name}.pdf").write_bytes(pdf_of(report))
        if "html" in forms:
            write_text_atomically(made / f"{name}.html", html_page(report))
        if "docx" in forms:
            write_docx(made / f"{name}.docx", report)
        if "odt" in forms:
            write_odt(made / f"{name}.odt", report)
        for number, picture in enumerate(report.pictures(), start=1):
            stem = f"figure-{number}-{picture.name}"
            (made / f"{stem}.png").write_bytes(picture.png)
            if picture.vector is not None:
                (made / f"{stem}.svg").write_bytes(picture.vector)
        told = _paragraphs(report)
        if told:
            write_text_atomically(made / "catalogue.txt", told)
        names = sorted(path.name for path in made.iterdir())
    return tuple(folder / name for name in names)


def require_forms(forms: Collection[str]) -> None:
    """Refuse a form that is none, before the work.

    Raises
    ------
    InputError
        If one of them is not known.
    """
    unknown = sorted(set(forms) - set(REPORT_FORMS))
    if unknown:
        raise InputError(
            f"A report is not written as {', '.join(unknown)}.",
            f"Choose of: {', '.join(REPORT_FORMS)}.",
        )


def pdf_of(report: Report) -> bytes:
    """Return the report as PDF/A-2b."""
    with tempfile.TemporaryDirectory() as passing:
        for number, picture in enumerate(report.pictures(), start=1):
            (Path(passing) / f"{number}.png").write_bytes(picture.png)
        source = Path(passing) / "report.typ"
        source.write_text(typst_source(report), encoding="utf-8")
        made: bytes = typst.compile(
            str(source), ignore_system_fonts=True, pdf_standards=[_PDF]
        )
        return made


def _paragraphs(report: Report) -> str:
    """Return the catalogue paragraphs, each plate's after its heading if several."""
    told, heading = [], ""
    for chapter in report.chapters:
        if chapter.level == 1:
            heading = f"{chapter.heading}\n"
        if chapter.heading == "Catalogue paragraph":
            told.append(f"{heading}{_first(chapter)}\n")
    return "\n".join(told)


def _first(chapter: Chapter) -> str:
    return next(one.text for one in chapter.blocks if isinstance(one, Paragraph))
