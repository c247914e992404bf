"""Read the evidence of a plate from one TOML file.

Its form is described in ``docs/evidence-file.md`` and by the JSON Schema beside it.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from wherestood.errors import EvidenceError, SkylineError
from wherestood.evidence.file_form import FORM, faults_of
from wherestood.evidence.file_geometry import geometry_of
from wherestood.evidence.file_lines import Path as Place
from wherestood.evidence.file_lines import lines_of
from wherestood.evidence.ground_then import check_date
from wherestood.evidence.items.camera import CameraFacts
from wherestood.evidence.items.check import (
    Checked,
    Complaint,
    HasHeight,
    check_evidence,
)
from wherestood.evidence.items.evidence import KINDS, Evidence
from wherestood.evidence.items.item import Item
from wherestood.evidence.items.reference import Identity
from wherestood.evidence.items.tie import TieMark
from wherestood.evidence.items.traced import line_through
from wherestood.plate.skyline import Skyline, read_skyline_csv

__all__ = [
    "TABLES",
    "TIES",
    "Keep",
    "Reading",
    "content_of",
    "held_to_form",
    "read_evidence",
]

#: Name of the tables of each kind, and the field of `Evidence` that holds them.
TABLES = {
    "plan": "plans",
    "feature": "features",
    "skyline": "skylines",
    "ridge_line": "ridge_lines",
    "mark": "marks",
    "in_line": "in_lines",
    "order": "orders",
    "seen": "seen",
    "hidden": "hidden",
    "plumb_edge": "plumb_edges",
    "water_level": "water_levels",
    "sea_horizon": "sea_horizons",
    "known_size": "known_sizes",
    "known_distance": "known_distances",
    "statement": "statements",
    "changed_ground": "changed_ground",
}

#: Tables of what is seen on two plates of a panorama (`evidence.panorama_file`).
TIES = "tie"
LINE_SD_PX = 2.0
_AT_LINE = re.compile(r"\s*\(at line (\d+), column \d+\)|\s*\(at end of document\)")
#: What the file calls a field of an item.
_KEYS_OF = {
    "geometry": ("point", "line", "area", "geometry", "geojson"),
    "features": ("features", "feature"),
    "line": ("points_px", "file"),
}


#: Says of a table's name and an item of it whether it is to be read.
Keep = Callable[[str, dict[str, Any]], bool]


@dataclass
class Reading:
    """Hold a file while it is being read."""

    path: Path
    lines: dict[Place, int]
    width_px: int | None
    height_px: int | None
    complaints: list[Complaint] = field(default_factory=list)
    #: Where each item stands, by kind and id, in the file's order.
    places: dict[tuple[str, str], list[Place]] = field(default_factory=dict)

    def complain(self, place: Place, complaint: Complaint) -> None:
        """Note a complaint, with the nearest line there is."""
        while place and place not in self.lines:
            place = place[:-1]
        line = self.lines.get(place, 1)
        self.complaints.append(
            replace(complaint, file=self.path.name, line=complaint.line or line)
        )


def read_evidence(
    path: str | Path,
    *,
    width_px: int | None = None,
    height_px: int | None = None,
    has_height: HasHeight | None = None,
    keep: Keep | None = None,
) -> Checked:
    """Read an evidence file, keeping all that can be used.

    Parameters
    ----------
    path : str or Path
        The file.
    width_px, height_px : int, optional
        Size of the scan; what the file says where left out [px].
    has_height : callable, optional
        As of `check_evidence`.
    keep : callable, optional
        Says which items to read; all where left out.

    Returns
    -------
    Checked
        The evidence that can be used, and a complaint for each item that cannot,
        with file, line, item and remedy.

    Raises
    ------
    EvidenceError
        If the file cannot be read, is no TOML, or is of another form.
    """
    path = Path(path)
    content, text = content_of(path)
    scan = content.get("scan", {})
    scan = scan if isinstance(scan, dict) else {}
    reading = Reading(
        path,
        lines_of(text),
        width_px or _whole(scan.get("width_px")),
        height_px or _whole(scan.get("height_px")),
    )
    faulty = held_to_form(content, reading)
    evidence = _evidence(content, faulty, reading, keep)
    checked = check_evidence(
        evidence,
        width_px=reading.width_px,
        height_px=reading.height_px,
        has_height=has_height,
        left_out={complaint.item for complaint in reading.complaints},
    )
    for complaint in checked.complaints:
        reading.complain(_place_of(complaint, reading), complaint)
    ordered = sorted(reading.complaints, key=lambda complaint: complaint.line or 0)
    return Checked(checked.evidence, tuple(ordered))


def content_of(path: Path) -> tuple[dict[str, Any], str]:
    """Return what an evidence file holds, and its text.

    Raises
    ------
    EvidenceError
        If the file cannot be read, is no TOML, or is of another form.
    """
    if not path.is_file():
        raise EvidenceError(
            f"There is no evidence file '{path}'.", "Check the path.", field="file"
        )
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise EvidenceError(
            f"The evidence file '{path.name}' cannot be read as text.",
            "Save it as TOML in UTF-8.",
        ) from error
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = _AT_LINE.search(str(error))
        number = int(found.group(1)) if found and found.group(1) else None
        line = number or len(text.splitlines())
        words = _AT_LINE.sub("", str(error)).rstrip(".")
        raise EvidenceError(
            f"{path.name}, line {line}: this is not TOML: {words}.",
            "Text stands in quotes, lists in brackets, and each key is written once "
            "in a table.",
        ) from error
    if content.get("wherestood") != FORM:
        got = content.get("wherestood", "nothing")
        raise EvidenceError(
            f"{path.name}: 'wherestood' is {got!r}; this program reads form {FORM}.",
            f"Begin the file with: wherestood = {FORM}",
        )
    return content, text


def _whole(value: object) -> int | None:
    ok = isinstance(value, int) and not isinstance(value, bool) and value > 0
    return int(str(value)) if ok else None


def held_to_form(content: dict[str, Any], reading: Reading) -> set[Place]:
    """Complain of what departs from the form; return the items that do."""
    faulty: set[Place] = set()
    for place, problem, remedy in faults_of(content):
        table = str(place[0]) if place else ""
        many = table in TABLES or table == TIES
        whole = place[:2] if many and len(place) > 1 else place[:1]
        faulty.add(whole)
        name = _name_of(whole, content)
        kind = _kind_of(table)
        words = f"The {kind} {name}: {problem}." if name else f"{problem[:1].upper()}"
        if not name:
            words += f"{problem[1:]}."
        reading.complain(
            place, Complaint(kind, name.strip("'"), words, remedy, field=_last(place))
        )
    return faulty


def _kind_of(table: str) -> str:
    if table == TIES:
        return TieMark.kind
    if table in TABLES:
        return KINDS[TABLES[table]].kind
    return table if table in ("camera", "scan") else "evidence"


def _name_of(place: Place, content: dict[str, Any]) -> str:
    """Return what to call the item at a place: its id, or its number."""
    if len(place) < 2 or not isinstance(place[1], int):
        return ""
    item = content[str(place[0])][place[1]]
    name = item.get("id") if isinstance(item, dict) else None
    return repr(name) if isinstance(name, str) else f"number {place[1] + 1}"


def _last(place: Place) -> str:
    return next((part for part in reversed(place) if isinstance(part, str)), "")


def _evidence(
    content: dict[str, Any],
    faulty: set[Place],
    reading: Reading,
    keep: Keep | None,
) -> Evidence:
    kinds: dict[str, tuple[Item, ...]] = {}
    for table, name in TABLES.items():
        items = []
        for number, given in enumerate(_tables(content.get(table))):
            place: Place = (table, number)
            if place in faulty or (table,) in faulty:
                continue
            if keep is not None and not keep(table, given):
                continue
            item = _item(KINDS[name], given, place, reading)
            if item is not None:
                reading.places.setdefault((item.kind, item.id), []).append(place)
                items.append(item)
        kinds[name] = tuple(items)
    camera = None
    if "camera" in content and ("camera",) not in faulty:
        values = {"id": "camera", **content["camera"]}
        camera = _item(CameraFacts, values, ("camera",), reading)
    sound: dict[str, Any] = {
        key: content[key]
        for key in ("plate", "ground_from", "date")
        if key in content and (key,) not in faulty
    }
    return Evidence(
        plate=sound.get("plate", ""),
        date=_date(sound, reading),
        ground_from=tuple(sound.get("ground_from", ())),
        camera=camera if isinstance(camera, CameraFacts) else CameraFacts(),
        **kinds,  # type: ignore[arg-type]
    )


def _date(sound: dict[str, Any], reading: Reading) -> str:
    date = str(sound.get("date", ""))
    try:
        check_date(date)
    except EvidenceError as error:
        complaint = Complaint(
            "evidence", "date", error.problem, error.remedy, field="date"
        )
        reading.complain(("date",), complaint)
        return ""
    return date


def _tables(given: object) -> list[dict[str, Any]]:
    return given if isinstance(given, list) else []


def _item(
    kind: type[Item], given: dict[str, Any], place: Place, reading: Reading
) -> Item | None:
    """Make an item of its table; complain and return None where it cannot be."""
    values = dict(given)
    try:
        if kind.kind in ("feature", "changed ground"):
            values["geometry"] = geometry_of(values, reading.path.parent)
        elif kind.kind == "mark":
            values["features"] = _identities(values)
        elif kind.kind in ("skyline", "ridge line"):
            values["line"] = _line(values, reading)
        return kind(**values)
    except (EvidenceError, SkylineError) as error:
        name = values.get("id") or f"number {int(place[-1]) + 1}"
        words = error.problem
        if not (isinstance(error, EvidenceError) and error.item):
            words = f"The {kind.kind} {name!r}: {words}"
        at = getattr(error, "field", "")
        complaint = Complaint(kind.kind, str(name), words, error.remedy, field=at)
        reading.complain(_within(place, at, reading), complaint)
        return None


def _identities(values: dict[str, Any]) -> tuple[Identity, ...]:
    one = values.pop("feature", None)
    if one is not None:
        return (Identity(one),)
    return tuple(
        Identity(part["feature"], float(part.get("weight", 1.0)))
        for part in values.get("features", ())
    )


def _line(values: dict[str, Any], reading: Reading) -> Skyline:
    sd_px = float(values.pop("sd_px", LINE_SD_PX))
    name, points = values.pop("file", None), values.pop("points_px", None)
    if reading.width_px is None or reading.height_px is None:
        raise EvidenceError(
            "the size of the scan is not known.",
            "Give [scan] with width_px and height_px.",
        )
    if name is not None:
        return read_skyline_csv(
            reading.path.parent / name, reading.width_px, reading.height_px
        )
    return line_through(tuple(points), sd_px, reading.width_px, reading.height_px)


def _place_of(complaint: Complaint, reading: Reading) -> Place:
    places = reading.places.get((complaint.kind, complaint.item))
    if not places:
        return (complaint.field,) if complaint.field else ()
    # Of a repeated id the later is meant.
    place = places[-1] if complaint.field == "id" else places[0]
    return _within(place, complaint.field, reading)


def _within(place: Place, name: str, reading: Reading) -> Place:
    """Return where in an item's table a field of it stands."""
    for key in _KEYS_OF.get(name, (name,)):
        if (*place, key) in reading.lines:
            return (*place, key)
    return place
