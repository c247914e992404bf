"""Write the evidence of a plate as one TOML file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import MISSING, Field, fields
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import AoT, Array, Table

from wherestood.errors import EvidenceError
from wherestood.evidence.file import TABLES, TIES
from wherestood.evidence.file_form import FORM
from wherestood.evidence.file_geometry import geometry_to_values
from wherestood.evidence.items.changed_ground import ChangedGround
from wherestood.evidence.items.evidence import Evidence
from wherestood.evidence.items.feature import Feature, Plan
from wherestood.evidence.items.item import Item
from wherestood.evidence.items.on_plate import Mark
from wherestood.evidence.items.reference import Identity, id_of, identities_of
from wherestood.evidence.items.tie import TieMark
from wherestood.evidence.items.traced import RidgeLine, SkylinePiece
from wherestood.plate.skyline import write_skyline_csv

__all__ = ["write_evidence", "write_panorama_evidence"]

#: What the form asks of an item even where it is as usual.
_ALWAYS = ("id", "place", "relation")


def write_evidence(
    evidence: Evidence,
    path: str | Path,
    *,
    width_px: int | None = None,
    height_px: int | None = None,
) -> tuple[Path, ...]:
    """Write an evidence file, and a skyline file beside it for each traced line.

    Parameters
    ----------
    evidence : Evidence
        What to write; what is as usual is left out.
    path : str or Path
        The file.
    width_px, height_px : int, optional
        Size of the scan [px].

    Returns
    -------
    tuple of Path
        All files written, the evidence file first.

    Raises
    ------
    EvidenceError
        If the files cannot be written.
    """
    path = Path(path)
    document = tomlkit.document()
    document.add("wherestood", tomlkit.item(FORM))
    if evidence.plate:
        document.add("plate", tomlkit.item(evidence.plate))
    if evidence.date:
        document.add("date", tomlkit.item(evidence.date))
    if evidence.ground_from:
        document.add("ground_from", tomlkit.item(list(evidence.ground_from)))
    if width_px is not None and height_px is not None:
        scan = {"width_px": width_px, "height_px": height_px}
        document.add("scan", _table(scan))
    camera = _changed(evidence.camera)
    if set(camera) - {"id"}:
        document.add("camera", _table(camera))
    written = [path]
    try:
        for table, name in TABLES.items():
            items = getattr(evidence, name)
            if items:
                tables = AoT([])
                for number, item in enumerate(items, start=1):
                    values = _values(item, path, f"{table}-{number}", written)
                    tables.append(_table(values))
                document.add(table, tables)
        path.write_text(tomlkit.dumps(document), encoding="utf-8")
    except OSError as error:
        raise EvidenceError(
            f"The evidence file '{path.name}' cannot be written: {error.strerror}.",
            "Choose a folder that exists and may be written to.",
        ) from error
    return tuple(written)


def write_panorama_evidence(
    plates: Mapping[str, Evidence], ties: Sequence[TieMark], path: str | Path
) -> Path:
    """Write the evidence of several plates, traced lines aside, as one file.

    Parameters
    ----------
    plates : mapping of str to Evidence
        By the plate's name; what is said of the camera is taken from the first that
        says anything.
    ties : sequence of TieMark
    path : str or Path
        The file.

    Raises
    ------
    EvidenceError
        If the file cannot be written.
    """
    path = Path(path)
    document = tomlkit.document()
    document.add("wherestood", tomlkit.item(FORM))
    date = next((one.date for one in plates.values() if one.date), "")
    if date:
        document.add("date", tomlkit.item(date))
    cameras = [_changed(evidence.camera) for evidence in plates.values()]
    said = next((camera for camera in cameras if set(camera) - {"id"}), None)
    if said is not None:
        document.add("camera", _table(said))
    for table, name in TABLES.items():
        tables = AoT([])
        given: set[str] = set()
        for plate, evidence in plates.items():
            for item in getattr(evidence, name):
                shared = isinstance(item, Feature | Plan | ChangedGround)
                if shared and item.id in given:
                    continue
                given.add(item.id)
                values = _values(item, path, table, [])
                if not shared:
                    values["plate"] = plate
                tables.append(_table(values))
        if len(tables):
            document.add(table, tables)
    if ties:
        tables = AoT([])
        for tie in ties:
            tables.append(_table(_changed(tie)))
        document.add(TIES, tables)
    try:
        path.write_text(tomlkit.dumps(document), encoding="utf-8")
    except OSError as error:
        raise EvidenceError(
            f"The evidence file '{path.name}' cannot be written: {error.strerror}.",
            "Choose a folder that exists and may be written to.",
        ) from error
    return path


def _values(
    item: Item, path: Path, line_name: str, written: list[Path]
) -> dict[str, Any]:
    """Return the keys and values of an item's table."""
    values = _changed(item)
    if isinstance(item, ChangedGround):
        del values["geometry"]
        values.update(geometry_to_values(item.geometry))
    elif isinstance(item, Feature):
        del values["geometry"]
        values.update(geometry_to_values(item.place))
        if item.plan_id:
            values["plan"] = item.plan_id
    elif isinstance(item, Mark):
        values.pop("features", None)
        parts = identities_of(item.features)
        if len(parts) == 1:
            values["feature"] = parts[0].feature_id
        elif parts:
            values["features"] = _choice(parts)
    elif isinstance(item, SkylinePiece | RidgeLine):
        file = path.with_name(f"{path.stem}-{line_name}.csv")
        write_skyline_csv(item.line, file)
        written.append(file)
        del values["line"]
        values["file"] = file.name
    return values


def _choice(parts: tuple[Identity, ...]) -> Array:
    """Return what a mark may be, one feature and weight a line."""
    choice = tomlkit.array().multiline(True)
    for part in parts:
        one = tomlkit.inline_table()
        one.update({"feature": part.feature_id, "weight": part.weight})
        choice.append(one)
    return choice


def _changed(item: Item) -> dict[str, Any]:
    """Return the fields of an item that are not as usual."""
    found: dict[str, Any] = {}
    for part in fields(item):
        value = getattr(item, part.name)
        if value is None or (part.name not in _ALWAYS and _is_usual(part, value)):
            continue
        if isinstance(value, Item):
            value = id_of(value)
        found[part.name] = _plain(value)
    return found


def _is_usual(part: Field[Any], value: Any) -> bool:
    return part.default is not MISSING and bool(value == part.default)


def _plain(value: Any) -> Any:
    return [_plain(part) for part in value] if isinstance(value, tuple) else value


def _table(values: dict[str, Any]) -> Table:
    table = tomlkit.table()
    for key, value in values.items():
        table.add(key, tomlkit.item(value, _parent=table, _sort_keys=False))
    return table
