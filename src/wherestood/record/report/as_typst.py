"""Set a report as a document for typst, which makes the PDF."""

from __future__ import annotations

from collections.abc import Iterator

from wherestood.record.report.content import (
    Block,
    Bullets,
    Paragraph,
    Picture,
    Report,
    Table,
)

__all__ = ["typst_source"]

_HEAD = """#set document(title: "{title}", author: "{author}", date: {date})
#set page(paper: "a4", margin: (x: 20mm, top: 20mm, bottom: 22mm), footer: context [
  #set text(size: 8pt, fill: rgb("#6E6A62"))
  {foot} #h(1fr) #counter(page).display("1 / 1", both: true)])
#set text(size: 10pt, lang: "en", hyphenate: true, fill: rgb("#2A2926"))
#set par(leading: 0.6em, spacing: 0.85em)
#show heading: set text(weight: 600)
#show heading.where(level: 1): set text(size: 16pt)
#show heading.where(level: 2): set text(size: 13pt)
#show heading.where(level: 3): set text(size: 11pt)
#show heading: set block(above: 1.5em, below: 0.7em, sticky: true)
#show table.cell.where(y: 0): set text(weight: 600)
#set table(stroke: (x, y) => (bottom: if y == 0 {{ 0.8pt }} else {{ 0.3pt }} + gray),
  inset: (x: 3pt, y: 3.5pt))
#show table: set text(size: 8.5pt, hyphenate: false)
#show table: set par(leading: 0.5em, justify: false)
#show figure.caption: set text(size: 8.5pt)
#show figure.caption: set align(left)
"""
_BOXES = {
    "lead": "#block(above: 0.6em, below: 1em)[#text(size: 13pt)[{words}]]",
    "caution": "#block(stroke: 1.2pt + rgb(\"#B58A1B\"), inset: 8pt, width: 100%, "
    "radius: 2pt)[#text(weight: 600)[{words}]]",
    "person": "#block(stroke: (left: 2.5pt + rgb(\"#A23B2A\")), inset: (left: 8pt, "
    "y: 3pt))[{words}]",
    "machine": "#block(stroke: (left: (paint: rgb(\"#1F4E79\"), thickness: 2.5pt, "
    "dash: \"dashed\")), inset: (left: 8pt, y: 3pt))[{words}]",
    "small": "#text(size: 8.5pt, fill: rgb(\"#6E6A62\"))[{words}]",
    "text": "{words}",
}  # fmt: skip


def typst_source(report: Report) -> str:
    """Return the document; its pictures lie beside it as ``NUMBER.png``."""
    year, month, day = (int(part) for part in report.made[:10].split("-"))
    parts = [
        _HEAD.format(
            title=_quoted(report.title), author=_quoted(report.author),
            date=f"datetime(year: {year}, month: {month}, day: {day})",
            foot=_typ(report.foot()),
        ),
        f"#text(size: 20pt, weight: 600, hyphenate: false)[{_typ(report.title)}]\n",
        f"#text(size: 10pt, fill: rgb(\"#6E6A62\"))[{_typ(report.subtitle)}]\n",
    ]  # fmt: skip
    parts += [_paragraph(one) for one in report.face]
    number = 0
    for chapter in report.chapters:
        if chapter.level == 1:
            parts.append("#pagebreak(weak: true)")
        parts.append(f"{'=' * chapter.level} {_typ(chapter.heading)}")
        for block in chapter.blocks:
            if isinstance(block, Picture):
                number += 1
            parts += _block(block, number)
    return "\n\n".join(parts) + "\n"


def _block(block: Block, number: int) -> Iterator[str]:
    if isinstance(block, Paragraph):
        yield _paragraph(block)
    elif isinstance(block, Bullets):
        yield "\n".join(f"- {_typ(item)}" for item in block.items)
    elif isinstance(block, Table):
        yield _table(block)
    else:
        yield (
            f'#figure(image("{number}.png", width: {min(block.width_mm, 170):.1f}mm, '
            f'alt: "{_quoted(block.alt)}"), caption: [{_typ(block.caption)}], '
            "numbering: none)"
        )


def _paragraph(one: Paragraph) -> str:
    about = f"#strong[{_typ(one.about)}] " if one.about else ""
    return _BOXES[one.style].format(words=about + _typ(one.text))


def _table(table: Table) -> str:
    columns = ", ".join(f"{share:.3f}fr" for share in table.shares)
    head = ", ".join(f"[{_typ(cell)}]" for cell in table.head)
    rows = "\n".join(
        ", ".join(f"[{_typ(cell)}]" for cell in row) + "," for row in table.rows
    )
    return (
        f"#table(columns: ({columns}), align: left,\ntable.header({head}),\n{rows}\n)"
    )


def _quoted(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"')


def _typ(text: str) -> str:
    """Return text that typst sets as it stands, its quotation marks too."""
    return "".join(
        f"\\{sign}" if sign in "\\#*_`$<>@[]=~-+/\"'" else sign for sign in text
    )
