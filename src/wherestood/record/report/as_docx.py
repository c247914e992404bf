"""Write a report as a DOCX document that others may edit."""

from __future__ import annotations

import io
from datetime import datetime
from pathlib import Path
from typing import Any

from docx import Document
from docx.document import Document as Opened
from docx.oxml import OxmlElement
from docx.oxml.ns import qn
from docx.shared import Mm, Pt, RGBColor

from wherestood.record.report.content import (
    Block,
    Bullets,
    Paragraph,
    Picture,
    Report,
    Table,
)

__all__ = ["write_docx"]

_TEXT_MM = 170.0
_COLOURS = {"person": "A23B2A", "machine": "1F4E79", "caution": "B58A1B"}
_GRAPHITE, _PENCIL = RGBColor(0x2A, 0x29, 0x26), RGBColor(0x6E, 0x6A, 0x62)


def write_docx(path: Path, report: Report) -> None:
    """Write the document."""
    document = Document()
    _dress(document)
    core = document.core_properties
    core.title, core.author = report.title, report.author or "wherestood"
    core.comments, core.language = report.subtitle, "en"
    core.created = core.modified = datetime.fromisoformat(report.made).replace(
        tzinfo=None
    )
    document.add_heading(report.title, 0)
    _small(document.add_paragraph(report.subtitle))
    for one in report.face:
        _add(document, one)
    for chapter in report.chapters:
        heading = document.add_heading(chapter.heading, chapter.level)
        heading.paragraph_format.page_break_before = chapter.level == 1
        for block in chapter.blocks:
            _add(document, block)
    _foot(document, report.foot())
    document.save(str(path))


def _dress(document: Opened) -> None:
    section = document.sections[0]
    section.page_width, section.page_height = Mm(210), Mm(297)
    section.left_margin = section.right_margin = Mm(20)
    section.top_margin, section.bottom_margin = Mm(20), Mm(22)
    normal: Any = document.styles["Normal"]
    normal.font.name, normal.font.size = "Liberation Serif", Pt(10.5)
    normal.font.color.rgb = _GRAPHITE
    normal.paragraph_format.space_after = Pt(5)
    for name, size in (("Title", 20), ("Heading 1", 16), ("Heading 2", 13.5)):
        _heading(document.styles[name], size)
    _heading(document.styles["Heading 3"], 11.5)


def _heading(style: Any, size_pt: float) -> None:
    style.font.name, style.font.size = "Liberation Sans", Pt(size_pt)
    style.font.color.rgb, style.font.bold = _GRAPHITE, True
    fonts = style.element.get_or_add_rPr().get_or_add_rFonts()
    for name in list(fonts.attrib):
        if "Theme" in name or "theme" in name:
            del fonts.attrib[name]
    for name in ("w:ascii", "w:hAnsi", "w:cs", "w:eastAsia"):
        fonts.set(qn(name), "Liberation Sans")


def _add(document: Opened, block: Block) -> None:
    if isinstance(block, Paragraph):
        _add_paragraph(document, block)
    elif isinstance(block, Bullets):
        for item in block.items:
            document.add_paragraph(item, style="List Bullet")
    elif isinstance(block, Table):
        _add_table(document, block)
    else:
        _add_picture(document, block)


def _add_paragraph(document: Opened, one: Paragraph) -> None:
    made = document.add_paragraph()
    if one.about:
        made.add_run(f"{one.about} ").font.bold = True
    made.add_run(one.text)
    if one.style == "small":
        _small(made)
    elif one.style == "lead":
        made.runs[-1].font.size = Pt(13)
    elif one.style in _COLOURS:
        sides = ("left",) if one.style != "caution" else ("top", "left", "bottom",
                                                          "right")  # fmt: skip
        line = "dashed" if one.style == "machine" else "single"
        _border(made, sides, line, _COLOURS[one.style])
        made.runs[-1].font.bold = one.style == "caution"


def _small(made: Any) -> None:
    for run in made.runs:
        run.font.size, run.font.color.rgb = Pt(9), _PENCIL


def _border(made: Any, sides: tuple[str, ...], line: str, colour: str) -> None:
    borders = OxmlElement("w:pBdr")
    for side in sides:
        edge = OxmlElement(f"w:{side}")
        for name, value in (
            ("val", line), ("sz", "12"), ("space", "6"), ("color", colour),
        ):  # fmt: skip
            edge.set(qn(f"w:{name}"), value)
        borders.append(edge)
    properties = made._p.get_or_add_pPr()
    # The schema wants borders before spacing and what follows it.
    properties.insert_element_before(
        borders, "w:shd", "w:tabs", "w:suppressAutoHyphens", "w:spacing", "w:ind",
        "w:jc", "w:rPr",
    )  # fmt: skip


def _add_table(document: Opened, table: Table) -> None:
    made: Any = document.add_table(rows=1, cols=len(table.head))
    made.style, made.autofit = "Table Grid", False
    for column, share in zip(made.columns, table.shares, strict=True):
        column.width = Mm(_TEXT_MM * share)
    _fill(made.rows[0], table.head, table.shares, bold=True)
    repeated = OxmlElement("w:tblHeader")
    repeated.set(qn("w:val"), "true")
    made.rows[0]._tr.get_or_add_trPr().append(repeated)
    for row in table.rows:
        _fill(made.add_row(), row, table.shares)
    _small(document.add_paragraph())


def _fill(
    row: Any, cells: tuple[str, ...], shares: tuple[float, ...], *, bold: bool = False
) -> None:
    whole = OxmlElement("w:cantSplit")
    row._tr.get_or_add_trPr().append(whole)
    for cell, words, share in zip(row.cells, cells, shares, strict=True):
        cell.width = Mm(_TEXT_MM * share)
        run = cell.paragraphs[0].add_run(words)
        run.font.size, run.font.bold = Pt(9), bold
        cell.paragraphs[0].paragraph_format.space_after = Pt(1)


def _add_picture(document: Opened, one: Picture) -> None:
    width = Mm(min(one.width_mm, _TEXT_MM))
    held = document.add_paragraph()
    held.paragraph_format.keep_with_next = True
    shown = held.add_run().add_picture(io.BytesIO(one.png), width=width)
    described: Any = shown._inline.docPr
    described.set("descr", one.alt)
    _small(document.add_paragraph(one.caption))


def _foot(document: Opened, words: str) -> None:
    made = document.sections[0].footer.paragraphs[0]
    made.add_run(f"{words}   ")
    number = made.add_run()
    for kind, text in (("begin", None), (None, "PAGE"), ("end", None)):
        if kind is None:
            field: Any = OxmlElement("w:instrText")
            field.set(qn("xml:space"), "preserve")
            field.text = text
        else:
            field = OxmlElement("w:fldChar")
            field.set(qn("w:fldCharType"), kind)
        number._r.append(field)
    _small(made)
