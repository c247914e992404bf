"""Tell a report what a fix's sources, rights and files are."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlalchemy import select

from wherestood.daybook.journal import DaybookSession
from wherestood.daybook.records import one_line
from wherestood.daybook.tables import (
    ITEMS,
    Detail,
    Fix,
    FixInput,
    Plan,
    Plate,
    Right,
    Scan,
    Source,
    TerrainLayer,
)

__all__ = ["files_used", "layers_used", "rights_recorded", "sources_cited"]

UNKNOWN = "UNKNOWN"


def sources_cited(
    session: DaybookSession, plate: Plate, *, oral: bool = True
) -> Iterator[str]:
    """Give each source that anything on the plate rests on, as it is cited.

    What somebody told by word of mouth comes along unless told otherwise.
    """
    found: dict[str, None] = {}
    for kind in ITEMS.values():
        if not hasattr(kind, "plate_id") or not hasattr(kind, "source_id"):
            continue
        mine: Any = kind
        chosen = select(mine.source_id).where(
            mine.plate_id == plate.id,
            mine.source_id.is_not(None),
            kind.removed.is_(False),
        )
        found.update(dict.fromkeys(session.scalars(chosen)))
    for source_id in found:
        source = session.get(Source, source_id)
        if source is None or source.removed or source.withdrawn:
            continue
        if source.kind == "oral" and not oral:
            continue
        held = f". Held: {source.held}" if source.held else ""
        quoted = f". “{source.quotation}”" if source.quotation else ""
        yield f"{source.citation}{held}{quoted}."


def rights_recorded(
    session: DaybookSession, plate: Plate, fix: Fix | None
) -> Iterator[tuple[str, str, str, str, str]]:
    """Give what is recorded of rights: in what, holder, licence, credit, terms."""
    layers = layers_used(session, fix)
    about = {plate.id} | {layer.id for layer in layers}
    chosen = select(Right).where(Right.removed.is_(False), Right.withdrawn.is_(None))
    known = set()
    for right in session.scalars(chosen.order_by(Right.key)):
        if right.about_id not in about and right.plate_id != plate.id:
            continue
        known.add(right.about_id)
        yield (
            right.what or UNKNOWN, right.holder or UNKNOWN, right.licence or UNKNOWN,
            right.credit or UNKNOWN, _terms(right),
        )  # fmt: skip
    for layer in layers:
        if layer.id not in known:
            yield (
                "elevation", layer.provenance or UNKNOWN, layer.licence or UNKNOWN,
                layer.credit or UNKNOWN, "",
            )  # fmt: skip


def _terms(right: Right) -> str:
    published = {True: "may be published", False: "must not be published", None: ""}
    parts = (right.terms or "", published[right.may_be_published])
    return "; ".join(part for part in parts if part) or UNKNOWN


def layers_used(session: DaybookSession, fix: Fix | None) -> list[TerrainLayer]:
    """Return the terrain layers whose files a fix rests on, by their checksums."""
    if fix is None:
        return []
    inputs = select(FixInput.sha256).where(
        FixInput.fix_id == fix.id, FixInput.role == "terrain"
    )
    held = set(session.scalars(inputs))
    layers = session.scalars(
        select(TerrainLayer).where(TerrainLayer.withdrawn.is_(None))
    )
    return [
        layer
        for layer in layers
        if any(record.get("sha256") in held for record in layer.files or ())
    ]


def files_used(
    session: DaybookSession, plate: Plate, fix: Fix | None
) -> Iterator[tuple[str, str, str, str]]:
    """Give each file used: what it is, its name, how, and its checksum."""
    scans = select(Scan).where(
        Scan.plate_id == plate.id, Scan.removed.is_(False), Scan.withdrawn.is_(None)
    )
    for scan in session.scalars(scans.order_by(Scan.key)):
        size = f"{scan.width_px} x {scan.height_px} px" if scan.width_px else ""
        what = scan.what or "scan"
        yield "scan", scan.original_name or scan.file, f"{what}, {size}", scan.sha256
    for layer in layers_used(session, fix):
        how = "; ".join(
            part
            for part in (layer.title, layer.provenance, layer.vertical_datum)
            if part
        )
        for record in layer.files or ():
            yield (
                "elevation", str(record.get("file", "")).rpartition("/")[2], how,
                str(record.get("sha256") or UNKNOWN),
            )  # fmt: skip
    for plan in _plans(session, plate):
        yield "plan", plan.title or plan.key, one_line(plan), plan.sha256 or UNKNOWN


def _plans(session: DaybookSession, plate: Plate) -> Iterator[Plan]:
    """Give the plans from which features that the plate is tied to were traced."""
    tied = select(Detail.feature_id).where(
        Detail.plate_id == plate.id, Detail.feature_id.is_not(None)
    )
    found: dict[str, None] = {}
    for feature_id in session.scalars(tied):
        feature = session.get(ITEMS["features"], feature_id)
        plan_id = getattr(feature, "plan_id", None)
        if plan_id:
            found[plan_id] = None
    for plan_id in found:
        plan = session.get(Plan, plan_id)
        if plan is not None and not plan.withdrawn:
            yield plan
