"""Set a report as one HTML file that needs no network."""

from __future__ import annotations

import base64
from html import escape
from itertools import count

from wherestood.record.report.content import (
    Block,
    Bullets,
    Chapter,
    Paragraph,
    Picture,
    Report,
    Table,
)

__all__ = ["html_page"]

_PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<style>
:root {{ color-scheme: light dark; --paper: #F7F4EE; --text: #2A2926; --soft: #6E6A62;
  --blue: #1F4E79; --madder: #A23B2A; --straw: #B58A1B; --rule: #D8D2C6; }}
@media (prefers-color-scheme: dark) {{ :root {{ --paper: #1C1B19; --text: #ECE8E0;
  --soft: #A39E94; --blue: #7FB2E5; --madder: #F08A74; --straw: #E3BE5A;
  --rule: #45423C; }} }}
body {{ margin: 0 auto; padding: 24px 16px 48px; max-width: 46rem;
  background: var(--paper); color: var(--text);
  font: 1.06rem/1.55 Georgia, "Times New Roman", serif; }}
h1 {{ font-size: 1.8rem; line-height: 1.2; margin: 0 0 4px; }}
h2 {{ font-size: 1.35rem; margin: 2em 0 0.4em; }}
h3 {{ font-size: 1.1rem; margin: 1.6em 0 0.3em; }}
h4 {{ font-size: 1rem; margin: 1.4em 0 0.3em; }}
p {{ margin: 0.6em 0; }} li {{ margin: 0.3em 0; }}
.subtitle, .small, figcaption, footer {{ color: var(--soft); font-size: 0.88rem; }}
.lead {{ font-size: 1.22rem; }}
.caution {{ border: 2px solid var(--straw); border-radius: 4px; padding: 8px 12px;
  font-weight: bold; }}
.person {{ border-left: 3px solid var(--madder); padding-left: 12px; }}
.machine {{ border-left: 3px dashed var(--blue); padding-left: 12px; }}
figure {{ margin: 1.2em 0; }}
figure img {{ width: 100%; height: auto; background: #fff; }}
.scroll {{ overflow-x: auto; }}
table {{ border-collapse: collapse; width: 100%; font-size: 0.88rem;
  line-height: 1.35; }}
th, td {{ text-align: left; vertical-align: top; padding: 4px 6px;
  border-bottom: 1px solid var(--rule); overflow-wrap: break-word; }}
th {{ border-bottom: 2px solid var(--soft); }}
nav ol {{ columns: 2; font-size: 0.92rem; }} a {{ color: var(--blue); }}
@media print {{ body {{ background: none; max-width: none; }} nav {{ display: none; }}
  h2, h3 {{ break-after: avoid; }} figure, tr {{ break-inside: avoid; }} }}
</style>
</head>
<body>
<h1>{title}</h1>
<p class="subtitle">{subtitle}</p>
{face}
<nav aria-label="Contents"><ol>{contents}</ol></nav>
<main>
{body}
</main>
<footer>{foot}</footer>
</body>
</html>
"""


def html_page(report: Report) -> str:
    """Return the page; its pictures stand in it."""
    numbers = count(1)
    body, contents = [], []
    for chapter in report.chapters:
        number = next(numbers)
        level = chapter.level + 1 if chapter.level < 3 else 4
        body.append(
            f'<h{level} id="part-{number}">{escape(chapter.heading)}</h{level}>'
        )
        body += _blocks(chapter)
        if chapter.level < 3:
            contents.append(
                f'<li><a href="#part-{number}">{escape(chapter.heading)}</a></li>'
            )
    return _PAGE.format(
        title=escape(report.title), subtitle=escape(report.subtitle),
        face="\n".join(_block(one) for one in report.face), contents="".join(contents),
        body="\n".join(body), foot=escape(report.foot()),
    )  # fmt: skip


def _blocks(chapter: Chapter) -> list[str]:
    return [_block(one) for one in chapter.blocks]


def _block(block: Block) -> str:
    if isinstance(block, Paragraph):
        kind = "" if block.style == "text" else f' class="{block.style}"'
        about = f"<strong>{escape(block.about)}</strong> " if block.about else ""
        return f"<p{kind}>{about}{escape(block.text)}</p>"
    if isinstance(block, Bullets):
        return f"<ul>{''.join(f'<li>{escape(one)}</li>' for one in block.items)}</ul>"
    if isinstance(block, Table):
        return _table(block)
    return _picture(block)


def _picture(one: Picture) -> str:
    held = base64.b64encode(one.png).decode("ascii")
    return (
        f'<figure><img alt="{escape(one.alt)}" src="data:image/png;base64,{held}">'
        f"<figcaption>{escape(one.caption)}</figcaption></figure>"
    )


def _table(table: Table) -> str:
    wide = "".join(f'<col style="width: {100 * s:.1f}%">' for s in table.shares)
    head = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in table.head)
    rows = "".join(
        f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>"
        for row in table.rows
    )
    return (
        f'<div class="scroll"><table><colgroup>{wide}</colgroup><thead><tr>{head}'
        f"</tr></thead><tbody>{rows}</tbody></table></div>"
    )
