"""Write what is handed out as pages that a browser opens from a folder, offline.

One page, its pictures beside it, nothing fetched: no server, no script of anybody else.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from html import escape
from importlib import resources
from pathlib import Path

from PIL import Image

from wherestood.record.atomic import write_text_atomically
from wherestood.record.doubt import coordinates
from wherestood.record.export.face import FULL, GIVEN_AWAY, PUBLIC
from wherestood.record.export.handed import HandedOut, HandedPlate, Place
from wherestood.record.export.handed_things import ThenAndNow
from wherestood.record.export.layers import CAUTION, Layer
from wherestood.record.export.map_drawing import map_svg
from wherestood.record.export.picture_files import write_picture_file
from wherestood.record.export.shaded_map import ShadedMap

__all__ = ["write_page"]

_BESIDE = "page"
_COMPARISON_PX = 1800
_SMALL_PX = 480
#: Doubts by which a place is told to a ten-thousandth of a degree: of the middle of a
#: square, which is exact, and of a place whose doubt nobody told [m].
_SQUARE_DIGITS_M = _UNKNOWN_DOUBT_M = 30.0
_CLASS = re.compile('class="[^"]+"')
_KEYS = (
    ('circle class="station" cx="8" cy="5" r="4"', "where a camera stood"),
    ('circle class="station other" cx="8" cy="5" r="4"',
     "where it may have stood instead"),
    ('path class="region" d="M1,1h14v8h-14z"',
     "ground that holds it 1 time in 2, 9 in 10, 99 in 100"),
    ('path class="square" d="M3,1h9v8h-9z"', "a square that holds it"),
    ('path class="view" d="M1,5l14,-4v8z"', "which way it looks"),
    ('path class="thing" d="M8,1l4,8h-8z"', "things on the ground"),
)  # fmt: skip

_BLANK = (
    '<svg viewBox="0 0 16 10" aria-hidden="true">'
    '<path class="blank" d="M1,1h14v8h-14z"/></svg>'
)


def write_page(folder: Path, handed: HandedOut, layers: Sequence[Layer]) -> None:
    """Write ``index.html``, and what it shows into the folder ``page`` beside it.

    Pictures of plates are those of ``pictures``, where they were written before.
    """
    (folder / _BESIDE).mkdir()
    stems = handed.stems()
    anchors = {plate.name: f"plate-{stems[plate.name]}" for plate in handed.plates}
    parts = [
        f"<h1>{escape(handed.title)}</h1>",
        _face(handed),
        _sheet(folder, handed, anchors),
        *_maps(folder, handed, layers, anchors),
    ]
    for plate in handed.plates:
        parts.append(_plate(folder, plate, stems[plate.name], anchors[plate.name]))
    parts.append(_credits(handed))
    write_text_atomically(folder / "index.html", _whole(handed.title, parts))


def _whole(title: str, parts: Sequence[str]) -> str:
    beside = resources.files("wherestood.record.export")
    style = beside.joinpath("page.css").read_text("utf-8")
    script = beside.joinpath("page.js").read_text("utf-8")
    body = "\n".join(parts)
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>\n{style}</style>\n</head>\n<body>\n"
        f"<main>\n{body}\n</main>\n<script>\n{script}</script>\n</body>\n</html>\n"
    )


def _face(handed: HandedOut) -> str:
    said = [PUBLIC if handed.is_public else FULL, CAUTION]
    if any(plate.withheld and plate.picture for plate in handed.plates):
        said.append(GIVEN_AWAY)
    made = (
        f"Made {handed.made[:10]} by wherestood {handed.version}."
        if handed.made
        else ""
    )
    lines = "".join(f"<p>{escape(one)}</p>" for one in said)
    return f'<div class="face">{lines}</div><p class="aside">{escape(made)}</p>'


def _sheet(folder: Path, handed: HandedOut, anchors: dict[str, str]) -> str:
    cards = []
    stems = handed.stems()
    for plate in handed.plates:
        shown = '<span class="none">no picture</span>'
        source = folder / "pictures" / f"{stems[plate.name]}.jpg"
        if source.is_file():
            small = folder / _BESIDE / f"{source.stem}-small.jpg"
            write_picture_file(source, small, negative=False, longest_px=_SMALL_PX)
            shown = f'<img src="{_BESIDE}/{escape(small.name)}" alt="" loading="lazy">'
        cards.append(
            f'<li><a href="#{escape(anchors[plate.name])}">{shown}<br>'
            f"{escape(plate.title)}</a></li>"
        )
    return f'<h2>Plates</h2><ul class="sheet">{"".join(cards)}</ul>'


def _maps(
    folder: Path, handed: HandedOut, layers: Sequence[Layer], anchors: dict[str, str]
) -> list[str]:
    if not handed.maps:
        return []
    parts = ["<h2>Map</h2>" if len(handed.maps) == 1 else "<h2>Maps</h2>"]
    maps = ""
    for number, one in enumerate(handed.maps, start=1):
        shade = _shade(folder, one, number)
        drawn = map_svg(one.box, layers, shade, anchors)
        maps += drawn
        parts.append(f"<figure>{drawn}{_TOOLS}</figure>")
    # Keys only of what is there to be seen.
    kinds = "".join(
        f'<li><svg viewBox="0 0 16 10" aria-hidden="true"><{drawn}/></svg>{words}</li>'
        for drawn, words in _KEYS
        if f" {_CLASS.findall(drawn)[0]} " in maps
    )
    if any(one.has_unknown_ground for one in handed.maps):
        kinds += f"<li>{_BLANK}white: no elevation is at hand there</li>"
    parts.append(f'<ul class="keys">{kinds}</ul>')
    if not any(one.tones is not None for one in handed.maps):
        parts.append('<p class="aside">No elevation is at hand for shaded hills.</p>')
    return parts


_TOOLS = (
    '<div class="tools" hidden>'
    + "".join(
        f'<button type="button" data-key="{key}" aria-label="{words}">{sign}</button>'
        for key, words, sign in (
            ("+", "Nearer", "+"), ("-", "Farther", "−"), ("ArrowLeft", "West", "←"),
            ("ArrowUp", "North", "↑"), ("ArrowDown", "South", "↓"),
            ("ArrowRight", "East", "→"),
        )
    )
    + "</div>"
)  # fmt: skip


def _shade(folder: Path, one: ShadedMap, number: int) -> str:
    if one.tones is None:
        return ""
    name = f"ground-{number}.jpg"
    Image.fromarray(one.tones).save(folder / _BESIDE / name, quality=82)
    return f"{_BESIDE}/{name}"


def _plate(folder: Path, plate: HandedPlate, stem: str, anchor: str) -> str:
    parts = [f'<article id="{escape(anchor)}"><h2>{escape(plate.title)}</h2>']
    if (folder / "pictures" / f"{stem}.jpg").is_file():
        parts.append(
            f'<figure><img src="pictures/{escape(stem)}.jpg" loading="lazy" '
            f'alt="{escape(plate.title)}"><figcaption>{escape(" ".join(plate.credits))}'
            "</figcaption></figure>"
        )
    rows = "".join(
        f"<tr><th>{escape(name)}</th><td>{escape(words)}</td></tr>"
        for name, words in _told(plate)
        if words
    )
    parts.append(f"<table>{rows}</table>")
    for number, picture in enumerate(plate.comparisons, start=1):
        name = f"{stem}-{number}.jpg"
        write_picture_file(
            picture.path, folder / _BESIDE / name, negative=False,
            longest_px=_COMPARISON_PX,
        )  # fmt: skip
        parts.append(
            f'<figure><a href="{_BESIDE}/{escape(name)}"><img '
            f'src="{_BESIDE}/{escape(name)}" loading="lazy" '
            f'alt="{escape(picture.words)}"></a><figcaption>{escape(picture.words)} '
            "Larger: choose the picture.</figcaption></figure>"
        )
    if plate.then_and_now is not None:
        parts.append(_then_and_now(folder, plate.then_and_now, stem))
    return "\n".join([*parts, "</article>"])


def _then_and_now(folder: Path, both: ThenAndNow, stem: str) -> str:
    """Return the two pictures; laid over one another where the page can be worked."""
    shown = []
    now = both.credit or "Now."
    for name, path, words in (("then", both.then, "Then."), ("now", both.now, now)):
        file = f"{stem}-{name}.jpg"
        write_picture_file(
            path, folder / _BESIDE / file, negative=False, longest_px=_COMPARISON_PX
        )
        shown.append(
            f'<figure class="{name}"><img src="{_BESIDE}/{escape(file)}" '
            f'alt="{escape(words)}"><figcaption>{escape(words)}</figcaption></figure>'
        )
    return (
        f'<section class="then-and-now"><h3>Then and now</h3><div class="both">'
        f'{"".join(shown)}</div><label hidden>How much of now: <input type="range" '
        'min="0" max="100" value="50"></label></section>'
    )


def _told(plate: HandedPlate) -> list[tuple[str, str]]:
    answer = plate.answer
    told = [
        ("Number", plate.name),
        ("Maker", plate.row.get("maker", "")),
        ("Exposed", plate.date_edtf or plate.row.get("date", "")),
        ("Held by", plate.row.get("held by", "")),
        ("Place", plate.place_words),
        ("What is said of it", plate.row.get("description", "")),
    ]
    if answer is not None:
        asked = (
            "" if answer.near_enough_m is None else f" to {answer.near_enough_m:g} m"
        )
        located = f"{answer.verdict}{asked if answer.verdict == 'located' else ''}"
        told.append(("Answer", located))
        near_m = answer.near_enough_m
        told += [(_rank(plate, one), _where(one, near_m)) for one in answer.places]
        if answer.decided is not None:
            by = f" by {answer.decided.decided_by}" if answer.decided.decided_by else ""
            day = answer.decided.decided[:10]
            told.append(("Decision", f"{answer.decided.conclusion}{by}, {day}"))
            told.append(("On condition", answer.decided.conditions))
            told.append(("In their words", answer.decided.words))
    if plate.withheld:
        told.append(("Withheld", "; ".join(plate.withheld)))
    told.append(
        ("Marked", "; ".join(f"{m.key} {m.words}".strip() for m in plate.marks))
    )
    return told


def _rank(plate: HandedPlate, place: Place) -> str:
    return "Camera" if len(plate.places) == 1 else f"Place {place.rank}"


def _where(place: Place, near_m: float | None) -> str:
    if place.side_m is not None:
        return (
            f"somewhere in a square of {place.side_m:g} m about "
            # As it is told in every other form, to the last digit.
            f"{coordinates(place.lon_deg, place.lat_deg, _SQUARE_DIGITS_M)}"
        )
    doubt_m = place.doubt_m
    told = coordinates(place.lon_deg, place.lat_deg, doubt_m or _UNKNOWN_DOUBT_M)
    if doubt_m is not None:
        told += f", two times in three within {doubt_m:.0f} m of it"
    if place.held is not None:
        told += f"; looks towards {place.held.sight_bearing_deg:.0f}° (true)"
    if place.probability is not None:
        near = "near it" if near_m is None else f"within {near_m:g} m of it"
        told += f"; the chance that it stood {near}: {_odds(place.probability)}"
    return told


def _odds(probability: float) -> str:
    """Return a probability in words that never say certain."""
    in_hundred = round(100 * probability)
    if in_hundred >= 100:
        return "more than 99 in 100"
    return f"{in_hundred} in 100" if in_hundred else "less than 1 in 100"


def _credits(handed: HandedOut) -> str:
    lines = "".join(f"<p>{escape(one)}</p>" for one in handed.credits)
    return (
        f"<article><h2>Rights and credits</h2>{lines}<p>Rights that nobody recorded "
        "read UNKNOWN. Old does not mean free: ask the holder. This is no legal "
        "advice.</p></article>"
    )
