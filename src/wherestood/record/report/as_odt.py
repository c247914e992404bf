"""Write a report as an ODT document that others may edit."""

from __future__ import annotations

import io
from datetime import datetime
from html import escape
from pathlib import Path
from typing import Any

from odfdo import Document, Element, Frame, Header, List, ListItem
from odfdo import Paragraph as Written
from odfdo import Table as Grid
from PIL import Image

from wherestood.record.report.content import (
    Block,
    Bullets,
    Paragraph,
    Picture,
    Report,
    Table,
)

__all__ = ["write_odt"]

_TEXT_MM = 170.0
_SERIF, _SANS = "Liberation Serif", "Liberation Sans"
_PARAGRAPHS = {
    "text": (_SERIF, "10.5pt", "", ""),
    "lead": (_SERIF, "13pt", "", ""),
    "small": (_SERIF, "9pt", 'fo:color="#6E6A62"', ""),
    "cell": (_SERIF, "9pt", "", ""),
    "head": (_SERIF, "9pt", 'fo:font-weight="bold"', ""),
    "caution": (_SERIF, "10.5pt", 'fo:font-weight="bold"',
                'fo:border="1.2pt solid #B58A1B" fo:padding="2mm"'),
    "person": (_SERIF, "10.5pt", "",
               'fo:border-left="2.2pt solid #A23B2A" fo:padding-left="3mm"'),
    "machine": (_SERIF, "10.5pt", "",
                'fo:border-left="2.2pt dashed #1F4E79" fo:padding-left="3mm"'),
}  # fmt: skip


def write_odt(path: Path, report: Report) -> None:
    """Write the document."""
    document = Document("text")
    _dress(document)
    document.meta.title = report.title
    document.meta.creator = report.author or "wherestood"
    made = datetime.fromisoformat(report.made).replace(tzinfo=None)
    document.meta.set_creation_date(made)
    body = document.body
    body.clear()
    body.append(_heading(1, report.title, "report-title"))
    body.append(_written(report.subtitle, "small"))
    for one in report.face:
        body.append(_paragraph(one))
    named = iter(range(1, 10_000))
    for chapter in report.chapters:
        style = f"report-h{chapter.level}"
        body.append(_heading(chapter.level, chapter.heading, style))
        for block in chapter.blocks:
            for element in _elements(document, block, named):
                body.append(element)
    body.append(_written(report.foot(), "small"))
    document.save(str(path))


def _style(document: Any, xml: str) -> None:
    document.insert_style(Element.from_tag(xml), automatic=False)


def _automatic(document: Any, xml: str) -> None:
    document.insert_style(Element.from_tag(xml), automatic=True)


def _dress(document: Document) -> None:
    for name, (font, size, letters, box) in _PARAGRAPHS.items():
        after = "0.3mm" if name in ("cell", "head") else "1.8mm"
        _style(
            document,
            f'<style:style style:name="report-{name}" style:family="paragraph">'
            f'<style:paragraph-properties fo:margin-bottom="{after}" {box}/>'
            f'<style:text-properties fo:font-family="{font}" fo:font-size="{size}" '
            f"{letters}/></style:style>",
        )
    for name, size, before in (
        ("title", "20pt", ""), ("h1", "16pt", 'fo:break-before="page"'),
        ("h2", "13.5pt", ""), ("h3", "11.5pt", ""),
    ):  # fmt: skip
        _style(
            document,
            f'<style:style style:name="report-{name}" style:family="paragraph" '
            'style:parent-style-name="Heading">'
            f'<style:paragraph-properties fo:margin-top="4mm" fo:margin-bottom="1.5mm" '
            f'fo:keep-with-next="always" {before}/><style:text-properties '
            f'fo:font-family="{_SANS}" fo:font-size="{size}" fo:font-weight="bold" '
            'fo:font-style="normal" fo:color="#2A2926"/></style:style>',
        )
    _style(
        document,
        '<style:style style:name="report-about" style:family="text">'
        '<style:text-properties fo:font-weight="bold"/></style:style>',
    )
    _automatic(
        document,
        '<style:style style:name="report-table" style:family="table">'
        f'<style:table-properties style:width="{_TEXT_MM}mm" table:align="left" '
        'fo:margin-bottom="3mm"/></style:style>',
    )
    _automatic(
        document,
        '<style:style style:name="report-box" style:family="table-cell">'
        '<style:table-cell-properties fo:border-bottom="0.4pt solid #A39E94" '
        'fo:padding="1mm"/></style:style>',
    )
    _automatic(
        document,
        '<style:style style:name="report-row" style:family="table-row">'
        '<style:table-row-properties fo:keep-together="always"/></style:style>',
    )


def _elements(document: Document, block: Block, named: Any) -> list[Any]:
    if isinstance(block, Paragraph):
        return [_paragraph(block)]
    if isinstance(block, Bullets):
        listed = List()
        for item in block.items:
            listed.append(ListItem(_written(item, "text")))
        return [listed]
    if isinstance(block, Table):
        return [_table(document, block, next(named))]
    return _picture(document, block, next(named))


def _heading(level: int, text: str, style: str) -> Header:
    made = Header(level, text, formatted=False)
    made.set_attribute("text:style-name", style)  # what the class takes, it forgets
    made.set_attribute("text:is-list-header", "true")  # no number before it
    return made


def _paragraph(one: Paragraph) -> Written:
    made = _written(f"{one.about} {one.text}" if one.about else one.text, one.style)
    if one.about:
        made.set_span("report-about", offset=0, length=len(one.about))
    return made


def _written(text: str, style: str) -> Written:
    return Written(text, style=f"report-{style}", formatted=False)


def _table(document: Document, table: Table, number: int) -> Any:
    columns = ""
    for index, share in enumerate(table.shares):
        name = f"report-{number}-{index}"
        _automatic(
            document,
            f'<style:style style:name="{name}" style:family="table-column">'
            f"<style:table-column-properties style:column-width="
            f'"{_TEXT_MM * share:.1f}mm"/></style:style>',
        )
        columns += f'<table:table-column table:style-name="{name}"/>'
    head = _row(table.head, "head")
    rows = "".join(_row(row, "cell") for row in table.rows)
    return Grid.from_tag(
        f'<table:table table:name="Table{number}" table:style-name="report-table">'
        f"{columns}<table:table-header-rows>{head}</table:table-header-rows>{rows}"
        "</table:table>"
    )


def _row(cells: tuple[str, ...], style: str) -> str:
    inside = "".join(
        '<table:table-cell table:style-name="report-box" office:value-type="string">'
        f'<text:p text:style-name="report-{style}">{escape(cell, quote=False)}</text:p>'
        "</table:table-cell>"
        for cell in cells
    )
    return f'<table:table-row table:style-name="report-row">{inside}</table:table-row>'


def _picture(document: Any, one: Picture, number: int) -> list[Any]:
    with Image.open(io.BytesIO(one.png)) as opened:
        wide_px, tall_px = opened.size
    wide_mm = min(one.width_mm, _TEXT_MM)
    name = f"Pictures/{number}-{one.name}.png"
    document.container.set_part(name, one.png)
    document.manifest.add_full_path(name, "image/png")
    frame = Frame.image_frame(
        name,
        name=f"{number}-{one.name}",
        size=(f"{wide_mm:.1f}mm", f"{wide_mm * tall_px / wide_px:.1f}mm"),
        anchor_type="as-char",
    )
    frame.svg_description = one.alt
    held = Written("", style="report-text")
    held.append(frame)
    return [held, _written(one.caption, "small")]
