"""Set a field sheet as pages for printing, and as one page for a phone."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from html import escape
from importlib import metadata

from wherestood.record.doubt import odds_in_words
from wherestood.visit.field_sheet import CAUTIONS, FieldSheet
from wherestood.visit.pair_words import pair_heading, pair_sentences
from wherestood.visit.phone_form import FORM_STYLE, phone_form

__all__ = ["BLANKS", "lens_words", "phone_page", "places_told", "typst_source"]

BLANKS = (
    "Date, hour, weather, who",
    "Compass reading of the frame's middle, and which compass",
    "Phone's or receiver's position, and how sure it says it is",
    "Gaps read, pair by pair: left or right, degrees or fingers",
    "Tape: from the tripod to which thing, metres",
    "Lens above ground; witness marks with distance and bearing",
    "Changed since: trees, slips, building. Ground gone? Trees block it?",
    "Numbers of the photographs made",
    "Landowner, consent, gates (kept private)",
)
_CONDITION = (
    "If the camera stood inside the ground searched, and the hills then were as "
    "assumed."
)


def _called(plate: str) -> str:
    """Return what a plate is called in a heading, whose scan's file may be "plate"."""
    name = plate.strip()
    if name.lower() in ("", "plate", "scan"):
        return "the plate"
    return name if name.lower().startswith("plate") else f"plate {name}"


def _by(sheet: FieldSheet) -> str:
    """Return what stands under the heading: the plate's title, and by which answer."""
    return "; ".join(
        part for part in (sheet.title, sheet.fix and f"by {sheet.fix}") if part
    )


def _of_place(sheet: FieldSheet) -> str:
    """Return of which place bearings, ground and view are told, if there are more."""
    return f"From place {sheet.places[0].number}:" if len(sheet.places) > 1 else ""


def _order_of_work(sheet: FieldSheet) -> list[str]:
    """Return what pairs are good for, and in which order to work."""
    alone = "One pair tells a line to stand on, not where on it: a second would."
    return [
        *([alone] if len(sheet.pairs) == 1 else []),
        "Fix the place first; aim and lens afterwards. Zoom and a step forward look "
        "alike: only the gaps tell them apart.",
    ]


def places_told(sheet: FieldSheet) -> list[tuple[str, list[str]]]:
    """Return each place by name, and where it is in lines."""
    found = []
    for place in sheet.places:
        name = "Stand here"
        if len(sheet.places) > 1 or sheet.caution:
            odds = odds_in_words(place.probability)
            name = f"Place {place.number}: {odds} within {sheet.near_enough_m:.0f} m"
        found.append((name, [place.wgs84, place.grid, place.height]))
    return found


def lens_words(sheet: FieldSheet) -> list[str]:
    """Return which lens shows the same view on each sensor, in words."""
    turned = ", camera upright" if sheet.lenses and sheet.lenses[0].upright else ""
    return [
        f"{one.sensor}: {one.focal_mm:.0f} mm or shorter{turned}"
        for one in sheet.lenses
    ]


def typst_source(sheet: FieldSheet, pictures: Sequence[str]) -> str:
    """Return the sheet as a document for typst, one or two A4 pages.

    Parameters
    ----------
    sheet : FieldSheet
    pictures : sequence of str
        Names of the map's and, if there is one, the view's picture files.
    """
    parts = [
        '#set document(title: "Field sheet")',
        '#set page(paper: "a4", margin: (x: 16mm, y: 14mm), numbering: "1 / 1")',
        '#set text(size: 9pt, lang: "en")',
        "#set par(leading: 0.52em)",
        "#show heading: set text(size: 10.5pt)",
        "#show heading: set block(above: 1.0em, below: 0.5em)",
        f"#text(size: 15pt, weight: 600)[Field sheet: {_typ(_called(sheet.plate))}]",
    ]
    if _by(sheet):
        parts.append(f"#block(above: 2mm)[{_typ(_by(sheet))}]")
    if sheet.caution:
        parts.append(f"#block(stroke: 1pt, inset: 6pt)[*{_typ(sheet.caution)}*]")
    facts = "\n".join(
        f"[{_typ(name)}], [{_typ(words)}]," for name, words in sheet.facts
    )
    places = "\n\n".join(
        f"*{_typ(name)}* \\\n" + " \\\n".join(_typ(line) for line in lines)
        for name, lines in places_told(sheet)[:4]
    )
    parts.append(
        "#grid(columns: (82mm, 1fr), column-gutter: 6mm,\n"
        f'[#image("{pictures[0]}", width: 82mm)],\n'
        f"[{places}\n\n{_typ(_of_place(sheet))}\n\n"
        "#table(columns: (auto, 1fr), stroke: none, inset: (x: 0pt, "
        f"y: 2.2pt), column-gutter: 3mm,\n{facts})\n"
        f'#text(size: 8pt, style: "italic")[{_typ(_CONDITION)}]])'
    )
    if len(pictures) > 1:
        parts.append(f'#v(2mm)\n#image("{pictures[1]}", width: 100%, height: 78mm, '
                     'fit: "contain")')  # fmt: skip
    if sheet.pairs:
        parts.append("= Which way to move")
        parts += [
            f"+ *{_typ(pair_heading(pair))}* \\\n"
            f"  {_typ(' '.join(pair_sentences(pair, sd)))}"
            for pair, sd in zip(sheet.pairs, sheet.gap_sds_rad, strict=True)
        ]
        parts.append(" ".join(_order_of_work(sheet)))
    for note in sheet.notes:
        parts.append(f"#block(stroke: (left: 2pt), inset: (left: 6pt))[{_typ(note)}]")
    if sheet.visits:
        parts.append("= Visits before")
        parts += [f"{_typ(words)}\n" for words in sheet.visits]
    if sheet.light:
        parts.append("= When the light is the same")
        parts += [f"{_typ(words)}\n" for words in sheet.light]
    parts.append("= Lens for the same view")
    parts.append(" #h(1em) ".join(_typ(words) for words in lens_words(sheet)))
    parts.append("= Mind")
    parts += [f"- {_typ(words)}" for words in CAUTIONS]
    rows = ",\n".join(f"[{_typ(words)}], []" for words in BLANKS)
    # In one piece: half a table on another page is lost in the wind.
    parts.append(
        "#block(breakable: false)[\n= Read on the spot\n"
        "#table(columns: (84mm, 1fr), rows: 8.5mm, align: horizon, stroke: 0.4pt + "
        f"gray,\n{rows})]"
    )
    parts.append(
        f"#text(size: 7.5pt)[Compass for {sheet.day}. Made by wherestood "
        f"{metadata.version('wherestood')}.]"
    )
    return "\n".join(parts) + "\n"


def _typ(text: str) -> str:
    """Return text that typst sets as it stands."""
    return "".join(
        f"\\{sign}" if sign in "\\#*_`$<>@[]=~-+/" else sign for sign in text
    )


def phone_page(sheet: FieldSheet, pictures: Sequence[bytes]) -> str:
    """Return the sheet as one HTML file that needs no network and no position.

    Parameters
    ----------
    sheet : FieldSheet
    pictures : sequence of bytes
        The map's and, if there is one, the view's PNG.
    """
    images = [
        f'<img alt="{name}" src="data:image/png;base64,'
        f'{base64.b64encode(picture).decode("ascii")}">'
        for name, picture in zip(
            ("Map with the region", "The plate with its pairs"), pictures, strict=False
        )
    ]
    called = _called(sheet.plate)
    body = [f"<h1>{escape(called[0].upper() + called[1:])}</h1>"]
    if _by(sheet):
        body.append(f"<p>{escape(_by(sheet))}</p>")
    if sheet.caution:
        body.append(f'<p class="caution">{escape(sheet.caution)}</p>')
    body.append(images[0])
    for name, lines in places_told(sheet):
        body.append(f"<h2>{escape(name)}</h2>")
        body += [f"<p>{escape(line)}</p>" for line in lines]
    if _of_place(sheet):
        body.append(f"<p><b>{escape(_of_place(sheet))}</b></p>")
    body.append("<dl>")
    for name, words in sheet.facts:
        body.append(f"<dt>{escape(name)}</dt><dd>{escape(words)}</dd>")
    body.append(f"</dl><p><i>{escape(_CONDITION)}</i></p>")
    body += images[1:]
    if sheet.pairs:
        body.append("<h2>Which way to move</h2><ol>")
        body += [
            f"<li><b>{escape(pair_heading(pair))}</b>"
            + "".join(f"<p>{escape(one)}</p>" for one in pair_sentences(pair, sd))
            + "</li>"
            for pair, sd in zip(sheet.pairs, sheet.gap_sds_rad, strict=True)
        ]
        body.append(f"</ol><p>{escape(' '.join(_order_of_work(sheet)))}</p>")
    body += [f'<p class="note">{escape(note)}</p>' for note in sheet.notes]
    if sheet.visits:
        body.append("<h2>Visits before</h2>")
        body += [f"<p>{escape(words)}</p>" for words in sheet.visits]
    if sheet.light:
        body.append("<h2>When the light is the same</h2>")
        body += [f"<p>{escape(words)}</p>" for words in sheet.light]
    body.append("<h2>Lens for the same view</h2><ul>")
    body += [f"<li>{escape(words)}</li>" for words in lens_words(sheet)]
    body.append("</ul><h2>Mind</h2><ul>")
    body += [f"<li>{escape(words)}</li>" for words in CAUTIONS]
    body.append("</ul><h2>Read on the spot</h2>")
    place = sheet.places[0]
    about = f"{sheet.plate} {sheet.fix} {place.lon_deg:.6f} {place.lat_deg:.6f}"
    body.append(phone_form([(p.far.name, p.near.name) for p in sheet.pairs], about))
    body.append(f"<p><small>Compass for {sheet.day}.</small></p>")
    return _PAGE.format(
        title=escape(" ".join(part for part in (sheet.plate, sheet.fix) if part)),
        body="\n".join(body),
        form_style=FORM_STYLE,
    )


_PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Field sheet: {title}</title>
<style>
body {{ margin: 0 auto; padding: 12px; max-width: 40rem; background: #F7F4EE;
  color: #2A2926; font: 17px/1.45 Georgia, serif; }}
img {{ width: 100%; height: auto; }}
h1 {{ font-size: 1.4rem; }} h2 {{ font-size: 1.1rem; margin: 1.2em 0 0.3em; }}
p {{ margin: 0.3em 0; }} dt {{ font-weight: bold; margin-top: 0.5em; }}
dd {{ margin: 0; }} li {{ margin: 0.4em 0; }}
.caution {{ border: 2px solid #2A2926; padding: 8px; font-weight: bold; }}
.note {{ border-left: 3px solid #2A2926; padding-left: 8px; }}
{form_style}
</style>
</head>
<body>
{body}
</body>
</html>
"""
