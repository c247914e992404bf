"""Tell the evidence of a plate, from the tables, in the form of the evidence file."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit
from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.carried import Carrying, carried_content, carried_points
from wherestood.daybook.gazetteer.offer import years_of_plate
from wherestood.daybook.plan_errors import errors_of_traced
from wherestood.daybook.tables import (
    OF_TIME,
    Detail,
    Evidence,
    Feature,
    FeatureName,
    Fix,
    FixInput,
    Informant,
    Item,
    Mark,
    Plan,
    Plate,
    Source,
    Statement,
    Weighed,
)
from wherestood.daybook.take_evidence import COMMON
from wherestood.daybook.traced_on_plate import DRAWN
from wherestood.evidence.file_form import FORM

__all__ = ["ToldEvidence", "tell_evidence"]

_FEATURE = (
    "what", "sd_m", "height_m", "height_sd_m", "object_height_m", "object_height_sd_m",
)  # fmt: skip
#: Keys of the evidence file that refer to features or marks by id.
_REFERENCES = ("feature", "a", "b", "instead_of")
_ORDER = ("plan", "feature", "skyline", "ridge_line", "mark")


@dataclass(frozen=True)
class ToldEvidence:
    """Hold what a plate's items tell.

    Attributes
    ----------
    document : dict
        The evidence file, table by table.
    lines : dict
        Files of traced lines beside it, by name.
    items : tuple of Item
        The items it was made of.
    left_out : tuple of str
        Why some items tell nothing, in sentences.
    """

    document: dict[str, Any]
    lines: dict[str, str]
    items: tuple[Item, ...]
    left_out: tuple[str, ...]

    @property
    def is_empty(self) -> bool:
        """Tell whether there is no evidence at all."""
        return not set(self.document) - {"wherestood", "plate", "feature", "plan"}

    def write(self, folder: Path) -> Path:
        """Write the evidence file and its lines into a folder; return the file."""
        for name, text in self.lines.items():
            (folder / name).write_text(text, encoding="utf-8")
        path = folder / "evidence.toml"
        path.write_text(tomlkit.dumps(self.document), encoding="utf-8")
        return path


def tell_evidence(
    session: Session, plate: Plate, scan_id: str | None = None
) -> ToldEvidence:
    """Return the evidence of a plate as its items stand now.

    Parameters
    ----------
    session : Session
        Of the daybook.
    plate : Plate
        The plate.
    scan_id : str, optional
        The scan whose pixels are meant, the main one unless told: what was made on
        others is carried to it, with its error, if they are registered, and left
        out otherwise.
    """
    telling = _Telling(session, Carrying(session, plate, scan_id), plate.id)
    for mark in telling.standing(select(Mark).where(Mark.plate_id == plate.id)):
        telling.mark(mark)
    wanted = select(Evidence).where(
        Evidence.plate_id == plate.id, Evidence.kind.not_in((*OF_TIME, "tie"))
    )
    for item in telling.standing(wanted):
        telling.other(item)
    said = select(Statement).where(Statement.plate_id == plate.id)
    for words in telling.standing(said):
        telling.statement(words)
    telling.features()
    return telling.told(plate)


class _Telling:
    """Gather tables of the evidence file."""

    def __init__(self, session: Session, carrying: Carrying, plate_id: str) -> None:
        self.session = session
        self.carrying = carrying
        self.plate_id = plate_id
        self.tables: dict[str, Any] = {}
        self.lines: dict[str, str] = {}
        self.items: list[Item] = []
        self.left_out: list[str] = []
        self.ground_from: list[str] = []
        self.called: set[str] = set()

    def standing(self, wanted: Any) -> list[Any]:
        """Return items that were not set aside or withdrawn, by key."""
        found = self.session.scalars(wanted)
        good = [one for one in found if not one.removed and not one.withdrawn]
        return sorted(good, key=lambda one: one.key)

    def add(self, table: str, values: dict[str, Any], item: Item) -> None:
        kept = {key: value for key, value in values.items() if value is not None}
        self.tables.setdefault(table, []).append(kept)
        self.items.append(item)

    def common(self, item: Weighed) -> dict[str, Any]:
        values = {key: getattr(item, column) for key, column in COMMON.items()}
        if values["source"] is None and item.source_id is not None:
            values["source"] = self.session.get_one(Source, item.source_id).citation
        return {key: value for key, value in values.items() if value not in (None, [])}

    def mark(self, mark: Mark) -> None:
        if self._out_of_reach(mark, mark.scan_id):
            return
        features = mark.features
        if not features and mark.detail_id is not None:
            detail = self.session.get_one(Detail, mark.detail_id)
            if detail.feature_id is not None and not detail.removed:
                feature = self.session.get_one(Feature, detail.feature_id)
                features = [{"feature": feature.key, "weight": 1.0}]
                self.items.append(detail)
        if mark.shape not in (None, "point") or len(mark.points_px or ()) != 1:
            self.left_out.append(
                f"Mark {mark.key} is a {mark.shape or 'drawing'}, which tells a search "
                "nothing yet."
            )
            return
        own = [one for one in features or () if self._placed_by_plate(one["feature"])]
        if own:
            self.left_out.append(
                f"Mark {mark.key} is tied to {own[0]['feature']}, which an answer of "
                "this same plate placed, or what rests on one: that tells nothing of "
                "where its camera stood."
            )
            return
        where = self._placed(mark)
        if where is None:
            return
        values: dict[str, Any] = {"id": mark.key, "x_px": where[0], "y_px": where[1]}
        if features and len(features) == 1:
            values["feature"] = features[0]["feature"]
        elif features:
            values["features"] = features
        self.called.update(one["feature"] for one in features or ())
        values |= {"sd_px": where[2], "at": mark.at, **self.common(mark)}
        self.add("mark", values, mark)

    def _placed_by_plate(self, key: str) -> bool:
        """Tell whether an answer of this plate placed a feature, or what placed it.

        A feature that another plate's answer placed comes of this plate too if that
        answer rests on what was drawn here, however many plates lie between.
        """
        ahead = list(
            self.session.scalars(select(Feature.imported).where(Feature.key == key))
        )
        asked: set[str] = set()
        while ahead:
            drawn = (ahead.pop() or {}).get(DRAWN) or {}
            if drawn.get("plate") == self.plate_id:
                return True
            fix = drawn.get("fix")
            if not fix or fix in asked:
                continue
            asked.add(fix)
            ahead += self.session.scalars(
                select(Feature.imported)
                .join(FixInput, FixInput.item_id == Feature.id)
                .join(Fix, FixInput.fix_id == Fix.id)
                .where(Fix.key == fix, FixInput.item_table == Feature.__tablename__)
            )
        return False

    def _placed(self, mark: Mark) -> tuple[float, float, float | None] | None:
        """Return where a mark lies on the scan meant, and its standard error [px]."""
        points = mark.points_px or []
        if not self.carrying.needed(mark.scan_id):
            return points[0][0], points[0][1], mark.sd_px
        way = self.carrying.way(mark.scan_id)
        assert way is not None
        [[x_px, y_px]], [sd_px] = carried_points(way, points, mark.sd_px)
        if not math.isfinite(x_px + y_px + sd_px):
            self._beyond(mark)
            return None
        self._carried_from(mark.scan_id)
        return round(x_px, 3), round(y_px, 3), round(sd_px, 3)

    def other(self, item: Evidence) -> None:
        if self._out_of_reach(item, item.scan_id):
            return
        content: dict[str, Any] | None = dict(item.content or {})
        on_plate = content and ("points_px" in content or "csv" in content)
        if on_plate and self.carrying.needed(item.scan_id):
            content = self._carried(item)
        if content is None:
            return
        if item.kind == "camera":
            self.tables["camera"] = {**content, **self.common(item)}
            self.items.append(item)
            return
        if "csv" in content:
            number = 1 + sum(name.startswith(item.kind) for name in self.lines)
            name = f"{item.kind}-{number}.csv"
            self.lines[name] = content.pop("csv")
            content["file"] = name
        marks = {mark["id"] for mark in self.tables.get("mark", ())}
        named = [content.get(key) for key in _REFERENCES]
        own = [one for one in named if isinstance(one, str) and one not in marks]
        if any(self._placed_by_plate(one) for one in own):
            self.left_out.append(
                f"The {item.kind} {item.key} names what an answer of this same plate "
                "placed, or what rests on one: that tells nothing of where its camera "
                "stood."
            )
            return
        self.called.update(n for n in named if isinstance(n, str) and n not in marks)
        self.add(item.kind, {"id": item.key, **content, **self.common(item)}, item)

    def statement(self, said: Statement) -> None:
        if said.about not in (None, "place") or said.feature_id is None:
            return
        more = dict(said.more or {})
        name = more.pop("id", said.key)
        if more.pop("ground_from", False):
            self.ground_from.append(name)
        feature = self.session.get_one(Feature, said.feature_id)
        self.called.add(feature.key)
        source = more.pop("source", None)
        if source is None and said.source_id is not None:
            source = self.session.get_one(Source, said.source_id).citation
        elif source is None and said.informant_id is not None:
            # Whether an informant may be named is for a hand-over to settle.
            source = self.session.get_one(Informant, said.informant_id).key
        values = {
            "id": name,
            "feature": feature.key,
            "place": said.place or "inside",
            "within_m": said.within_m,
            "weight": said.weight,
            "words": said.words or None,
            "group": said.stands_with,
            "derived_from": said.derived_from or None,
            "source": source,
            "note": said.note,
            **more,
        }
        self.add("statement", values, said)

    def features(self) -> None:
        """Add every feature that was called by name, and its plan."""
        wanted = select(Feature).where(Feature.key.in_(self.called))
        plans: dict[str, Plan] = {}
        standing = self.standing(wanted)
        errors = errors_of_traced(self.session, standing)
        for feature in standing:
            values = {"id": feature.key, **self._named(feature)}
            values["geometry"] = feature.geometry
            values |= {name: getattr(feature, name) for name in _FEATURE}
            values["sd_m"] = errors.own_m.get(feature.id, feature.sd_m)
            values |= (feature.imported or {}).get("evidence", {})
            values |= {"source": feature.source_words, "note": feature.note}
            if feature.plan_id is not None:
                plan = self.session.get_one(Plan, feature.plan_id)
                if plan.shared_shift_sd_m is not None:
                    values["plan"] = plan.key
                    plans[plan.id] = plan
            self.add("feature", values, feature)
        for plan in plans.values():
            shift_m = errors.shared_m.get(plan.id, plan.shared_shift_sd_m)
            values = {"id": plan.key, "shared_shift_sd_m": shift_m}
            values |= {"source": plan.source_words, "note": plan.note}
            self.add("plan", values, plan)

    def _named(self, feature: Feature) -> dict[str, Any]:
        chosen = select(FeatureName).where(FeatureName.feature_id == feature.id)
        names = self.standing(chosen)
        return {"name": names[0].name} if names else {}

    def _carried(self, item: Evidence) -> dict[str, Any] | None:
        source, onto = self.carrying.scan(item.scan_id), self.carrying.onto
        way = self.carrying.way(item.scan_id)
        assert source is not None
        assert onto is not None
        assert way is not None
        content = carried_content(way, item.content or {}, source, onto)
        if content is None:
            self._beyond(item)
        else:
            self._carried_from(item.scan_id)
        return content

    def _carried_from(self, scan_id: str | None) -> None:
        """Remember the scan: how it lies on the one meant bears on the answer."""
        scan = self.carrying.scan(scan_id)
        if scan is not None:
            self.items.append(scan)

    def _beyond(self, item: Weighed) -> None:
        self.left_out.append(
            f"The {item.singular} {item.key} comes to lie beyond the scan that the "
            "search looks at, and counts nothing."
        )

    def _out_of_reach(self, item: Weighed, scan_id: str | None) -> bool:
        """Leave out what is on a scan that is not registered."""
        if not self.carrying.needed(scan_id):
            return False
        if self.carrying.way(scan_id) is not None:
            return False
        scan = self.carrying.scan(scan_id)
        where = f"scan {scan.key}, which is not registered" if scan else "a scan gone"
        self.left_out.append(
            f"The {item.singular} {item.key} is on {where}, and counts nothing; see "
            "wherestood register."
        )
        return True

    def told(self, plate: Plate) -> ToldEvidence:
        document: dict[str, Any] = {"wherestood": FORM, "plate": plate.key}
        if date := _edtf(years_of_plate(self.session, plate)):
            document["date"] = date
        if self.ground_from:
            document["ground_from"] = self.ground_from
        if "camera" in self.tables:
            document["camera"] = self.tables.pop("camera")
        ordered = sorted(
            self.tables,
            key=lambda name: _ORDER.index(name) if name in _ORDER else len(_ORDER),
        )
        document |= {name: self.tables[name] for name in ordered}
        return ToldEvidence(
            document, self.lines, tuple(dict.fromkeys(self.items)), tuple(self.left_out)
        )


def _edtf(years: tuple[float, float] | None) -> str:
    """Return a span of years as an EDTF date, empty where nothing bounds it."""
    if years is None:
        return ""
    first, last = (
        ".." if math.isinf(year) else f"{year:.0f}".zfill(4) for year in years
    )
    return first if first == last else f"{first}/{last}"
