"""Tell how an answer was made: method, settings, files, rights, history."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from wherestood.record.report.content import (
    Block,
    Bullets,
    Chapter,
    Paragraph,
    Table,
)
from wherestood.record.report.facts import PlateFacts
from wherestood.record.report.plain_answer import section_lines

__all__ = ["making_chapters"]

UNKNOWN = "UNKNOWN"
_METHOD = (
    "Every place of the ground searched was tried. From each the horizon that the "
    "elevation model shows was computed and held against what was read off the plate; "
    "lens, tilt, roll and the front's movements were free within what the trade used. "
    "Each place got a probability, and so did the case that none of them is right. "
    "Nothing was left out because it did not fit: a reading that disagrees counts "
    "little, and is named.",
    "How often such answers are right was measured on invented plates, not on "
    "historical ones; the program's documentation gives the figures.",
)
_SETTINGS = (
    ("near enough", "near_enough_m", " m"),
    ("footing", "footing", ""),
    ("lens above the ground", "lens_height_m", " m"),
    ("lens to plate, as given", "principal_distance_mm", " mm"),
    ("plate trimmed", "trimmed", ""),
    ("elevation is of", "surface", ""),
    ("refraction coefficient", "refraction", ""),
    ("land looked for as far as", "horizon_radius_m", " m"),
    ("scan left for right", "reversed", ""),
    ("seed of every random draw", "seed", ""),
)


def making_chapters(plate: PlateFacts) -> Iterator[Chapter]:
    """Give the chapters that tell how it was made and what goes with it."""
    if plate.form is not None:
        yield Chapter("Method and settings", tuple(_method(plate)))
        yield Chapter("The ground, plans and files", tuple(_ground(plate)))
    elif plate.files:
        yield Chapter("Files", (_files(plate),))
    if plate.catalogue:
        table = Table(("", "as recorded"), plate.catalogue, (0.28, 0.72))
        yield Chapter("What the catalogue says", (table,))
    yield Chapter("Rights and credits", tuple(_rights(plate)))
    if plate.history:
        yield Chapter("History", (_history(plate),))


def _method(plate: PlateFacts) -> Iterator[Block]:
    assert plate.form is not None
    yield from (Paragraph(words) for words in _METHOD)
    told = section_lines(
        plate.sections, "What is assumed", "What the plate did not tell"
    )
    if told:
        yield Paragraph("What is assumed:")
        yield Bullets(told)
    settings: Mapping[str, Any] = plate.form["settings"]
    rows = [
        (name, _value(settings[key], unit))
        for name, key, unit in _SETTINGS
        if key in settings
    ]
    searched = plate.form["inputs"]["ground_searched"]
    rows.insert(0, ("ground searched", f"{searched['size_km2']:.3g} km²"))
    cells = plate.form["assumptions"].get("cells_scored")
    if cells is not None:
        rows.append(("places scored", f"{cells}"))
    rows += [
        ("made", str(plate.form["made"])),
        ("version of the program", str(plate.form["version"])),
    ]
    yield Table(("setting", "value"), tuple(rows), (0.45, 0.55))
    yield Paragraph(
        "All settings, and all that was believed beforehand, stand in fix.json, from "
        "which anybody can make the answer again.",
        "small",
    )


def _value(value: Any, unit: str) -> str:
    if value is None:
        return "not given"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}{unit}" if isinstance(value, int | float) else str(value)


def _ground(plate: PlateFacts) -> Iterator[Block]:
    assert plate.form is not None
    terrain = plate.form["terrain"]
    yield Paragraph(
        f"Elevation of {terrain['surface']}, cells of {terrain['source_cell_m']:g} m, "
        f"grid {terrain['grid']}, vertical datum {terrain['vertical_datum']}."
    )
    notes = [note for source in terrain["sources"] for note in source["notes"]]
    if notes:
        yield Paragraph("What was done to it on opening:")
        yield Bullets(tuple(notes))
    if plate.files:
        yield _files(plate)
        yield Paragraph(
            "Checksums are SHA-256: by them anybody can tell whether a file is the "
            "one that was used.",
            "small",
        )


def _files(plate: PlateFacts) -> Table:
    rows = tuple(
        (what, name, how, _broken(checksum))
        for what, name, how, checksum in plate.files
    )
    return Table(("what", "file", "how", "checksum"), rows, (0.12, 0.23, 0.33, 0.32))


def _broken(checksum: str) -> str:
    """Return a checksum in groups of eight, so that it can be read and broken."""
    return " ".join(checksum[i : i + 8] for i in range(0, len(checksum), 8))


def _rights(plate: PlateFacts) -> Iterator[Block]:
    rows = list(plate.rights)
    known = {row[0] for row in rows}
    needed = ("image", "scan", "elevation") if plate.form is not None else ("image",)
    for what in needed:
        if what not in known:
            rows.append((what, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN))
    yield Table(
        ("in what", "holder", "licence", "credit line", "terms"),
        tuple(rows),
        (0.14, 0.22, 0.16, 0.28, 0.2),
    )
    yield Paragraph(
        "UNKNOWN means that nobody recorded it. Old does not mean free: ask the "
        "holder. This is no legal advice.",
        "small",
    )


def _history(plate: PlateFacts) -> Table:
    rows = tuple(
        (
            one.time[:16].replace("T", " "),
            one.person,
            " ".join(one.sentences) + (f" Why: {one.why}." if one.why else ""),
        )
        for one in plate.history
    )
    return Table(("when, UTC", "who", "what, and why"), rows, (0.17, 0.16, 0.67))
