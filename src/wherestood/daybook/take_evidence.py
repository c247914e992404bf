"""Take an evidence file into the tables of a daybook."""

from __future__ import annotations

import tempfile
import tomllib
from pathlib import Path
from typing import Any

from shapely.geometry import mapping
from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.tables import (
    Dating,
    Evidence,
    Feature,
    FeatureName,
    Item,
    Mark,
    Plan,
    Plate,
    Statement,
)
from wherestood.errors import InputError
from wherestood.evidence.file import TABLES
from wherestood.evidence.file_write import write_evidence
from wherestood.evidence.items import Evidence as Told

__all__ = ["COMMON", "take_evidence"]

#: What the evidence file says of any item, and the column that holds it.
COMMON = {
    "trust": "trust",
    "group": "stands_with",
    "derived_from": "derived_from",
    "traced_blind": "traced_blind",
    "source": "source_words",
    "note": "note",
}
_FEATURE = (
    "what", "sd_m", "height_m", "height_sd_m", "object_height_m", "object_height_sd_m",
)  # fmt: skip


def take_evidence(
    session: Session, plate: Plate, told: Told, scan_id: str | None = None
) -> list[Item]:
    """Add everything that was told as items of a plate.

    Parameters
    ----------
    session : Session
        Of `Daybook.writing`.
    plate : Plate
        The plate it is told of.
    told : wherestood.evidence.items.Evidence
        As `wherestood.evidence.file.read_evidence` keeps it.
    scan_id : str, optional
        The copy it was read on.

    Returns
    -------
    list of Item
        What was added; a feature or plan that is there already, and the same, is
        not added again.

    Raises
    ------
    InputError
        If a feature or plan of that name is there and says something else.
    """
    tables, lines = _as_tables(told)
    added: list[Item] = []
    for values in tables.get("plan", []):
        added += _same_or_new(session, _plan(values))
    session.flush()
    places = {feature.id: feature.place for feature in told.features}
    for values in tables.get("feature", []):
        feature = _feature(session, values, mapping(places[values["id"]]))
        added += _same_or_new(session, feature)
        if feature in added and values.get("name"):
            session.flush()
            name = FeatureName(feature_id=feature.id, name=values["name"])
            session.add(name)
            added.append(name)
    session.flush()
    shared = {"plate_id": plate.id, "scan_id": scan_id}
    for table in TABLES:
        for values in tables.get(table, []):
            if table == "mark":
                added.append(_mark(values, shared))
            elif table == "statement":
                from_it = values["id"] in told.ground_from
                added.append(_statement(session, values, plate, from_it))
            elif table not in ("plan", "feature"):
                added.append(_other(table, values, lines, shared))
    if camera := tables.get("camera"):
        added.append(_other("camera", {**camera, "id": "camera"}, {}, shared))
    if told.date:
        added += _exposed(session, plate, told.date)
    session.add_all(added)
    session.flush()
    return added


def _exposed(session: Session, plate: Plate, edtf: str) -> list[Item]:
    """Return the date of exposure, unless the plate has it already."""
    same = select(Dating).where(
        Dating.plate_id == plate.id,
        Dating.of == "exposed",
        Dating.edtf == edtf,
        Dating.removed.is_(False),
    )
    if session.scalars(same).first() is not None:
        return []
    return [Dating(plate_id=plate.id, of="exposed", edtf=edtf)]


def _as_tables(told: Told) -> tuple[dict[str, Any], dict[str, str]]:
    """Return what was told as tables of the evidence file, and its line files."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "evidence.toml"
        _, *files = write_evidence(told, path)
        lines = {file.name: file.read_text("utf-8") for file in files}
        tables = tomllib.loads(path.read_text("utf-8"))
    for name in TABLES:
        for values in tables.get(name, ()):
            # Each row says of which plate it is; the name in a file of several plates
            # is that of a scan, and would mean nothing beside it.
            values.pop("plate", None)
    return tables, lines


def _common(values: dict[str, Any]) -> dict[str, Any]:
    return {column: values.pop(key) for key, column in COMMON.items() if key in values}


def _plan(values: dict[str, Any]) -> Plan:
    return Plan(
        key=values["id"],
        shared_shift_sd_m=values["shared_shift_sd_m"],
        source_words=values.get("source"),
        note=values.get("note"),
    )


def _feature(
    session: Session, values: dict[str, Any], geometry: dict[str, Any]
) -> Feature:
    plan = None
    if "plan" in values:
        chosen = select(Plan).where(Plan.key == values["plan"])
        plan = session.scalars(chosen).one()
    rest = {k: values[k] for k in ("trust", "group", "derived_from") if k in values}
    return Feature(
        key=values["id"],
        geometry=_as_lists(geometry),
        plan_id=plan.id if plan else None,
        source_words=values.get("source"),
        note=values.get("note"),
        imported={"evidence": rest} if rest else None,
        **{name: values[name] for name in _FEATURE if name in values},
    )


def _as_lists(geometry: dict[str, Any]) -> dict[str, Any]:
    """Return a geometry as JSON gives it back."""

    def lists(value: Any) -> Any:
        return [lists(part) for part in value] if isinstance(value, tuple) else value

    return {"type": geometry["type"], "coordinates": lists(geometry["coordinates"])}


def _same_or_new(session: Session, item: Plan | Feature) -> list[Item]:
    """Add a plan or feature, unless it is there and the same."""
    kind = type(item)
    there = session.scalars(select(kind).where(kind.key == item.key)).first()
    if there is None:
        session.add(item)
        return [item]
    for name in ("geometry", "plan_id", "shared_shift_sd_m", *_FEATURE):
        given = getattr(item, name, None)
        if given is not None and given != getattr(there, name):
            raise InputError(
                f"The {kind.singular} {item.key!r} is in the daybook already, and its "
                f"{name} is not the file's.",
                "Give it another id in the file, or change the one in the daybook.",
            )
    return []


def _mark(values: dict[str, Any], shared: dict[str, Any]) -> Mark:
    values = dict(values)
    features = values.get("features") or (
        [{"feature": values["feature"], "weight": 1.0}] if "feature" in values else None
    )
    return Mark(
        key=values["id"],
        shape="point",
        points_px=[[values["x_px"], values["y_px"]]],
        features=features,
        sd_px=values.get("sd_px"),
        at=values.get("at"),
        **shared,
        **_common(values),
    )


def _statement(
    session: Session, values: dict[str, Any], plate: Plate, from_it: bool
) -> Statement:
    values = dict(values)
    chosen = select(Feature.id).where(Feature.key == values.pop("feature"))
    common = _common(values)
    more = {"id": values.pop("id")}
    if from_it:
        more["ground_from"] = True
    for key in ("traced_blind", "trust"):
        if key in common:
            more[key] = common.pop(key)
    if "source_words" in common:
        more["source"] = common.pop("source_words")
    columns = {
        key: values.pop(key)
        for key in ("place", "within_m", "weight", "words")
        if key in values
    }
    columns.setdefault("words", "")
    return Statement(
        plate_id=plate.id,
        about="place",
        feature_id=session.scalars(chosen).one(),
        more={**more, **values},
        **columns,
        **common,
    )


def _other(
    table: str, values: dict[str, Any], lines: dict[str, str], shared: dict[str, Any]
) -> Evidence:
    content = dict(values)
    key = content.pop("id")
    common = _common(content)
    if "file" in content:
        content["csv"] = lines[content.pop("file")]
    return Evidence(key=key, kind=table, content=content, **shared, **common)
