"""Gather the pictures, marks, dates and things on the ground that are handed out."""

from __future__ import annotations

import json
import math
from collections.abc import Collection, Sequence
from typing import TypeVar

import shapely
from shapely.geometry.base import BaseGeometry
from sqlalchemy import select

from wherestood.daybook.asked import whole_path
from wherestood.daybook.book import Daybook
from wherestood.daybook.carried import carried_marks
from wherestood.daybook.gazetteer.offer import span_of_dates
from wherestood.daybook.journal import DaybookSession
from wherestood.daybook.main_scan import main_scan
from wherestood.daybook.precision import restricted
from wherestood.daybook.tables import (
    Dating,
    Detail,
    Feature,
    FeatureName,
    Mark,
    Plate,
    Scan,
    Source,
    Statement,
)
from wherestood.evidence.edtf import read_edtf
from wherestood.record.export.handed import Feature as HandedFeature
from wherestood.record.export.handed import Marked, Picture

__all__ = [
    "date_handed", "feature_keys", "features_handed", "marks_handed", "picture_handed",
]  # fmt: skip

_OnPlate = TypeVar("_OnPlate", Detail, Mark)
#: How probable a mark is of a feature to be told as it.
_TAKEN_TO_BE = 0.5


def feature_keys(session: DaybookSession) -> dict[str, str]:
    """Return the key of each feature, by its id."""
    return dict(session.execute(select(Feature.id, Feature.key)).all())


def marks_handed(
    session: DaybookSession, plate: Plate, keys: dict[str, str]
) -> tuple[tuple[Marked, ...], tuple[str, ...]]:
    """Return what is marked on a plate's main scan, and keys of what it shows.

    Parameters
    ----------
    session : DaybookSession
    plate : Plate
    keys : dict of str to str
        As of `feature_keys`.
    """
    details = _live(session, Detail, plate)
    by_id = {one.id: one for one in details}
    rows = {one.key: one for one in _live(session, Mark, plate)}
    marked: list[Marked] = []
    drawn: set[str] = set()
    shown: list[str] = []
    for carried in carried_marks(session, plate)[0]:
        row = rows[carried.key]
        detail = by_id.get(row.detail_id or "")
        feature = _feature_of(row, detail, keys)
        shown += [feature] if feature else []
        if detail is not None:
            drawn.add(detail.id)
        points = tuple((round(x, 2), round(y, 2)) for x, y in carried.points_px)
        if points:
            shape = row.shape or ("point" if len(points) == 1 else "line")
            key = detail.key if detail is not None else row.key
            words = (detail.what if detail is not None else row.note) or ""
            marked.append(Marked(key, shape, points, words, feature))
    for one in details:
        feature = keys.get(one.feature_id or "", "")
        shown += [feature] if feature else []
        if one.id not in drawn and one.crop_px and len(one.crop_px) == 4:
            x, y, wide, high = one.crop_px
            box = ((x, y), (x + wide, y), (x + wide, y + high), (x, y + high))
            marked.append(Marked(one.key, "outline", box, one.what or "", feature))
    return tuple(marked), tuple(dict.fromkeys(shown))


def _live(
    session: DaybookSession, kind: type[_OnPlate], plate: Plate
) -> list[_OnPlate]:
    chosen = select(kind).where(
        kind.plate_id == plate.id, kind.removed.is_(False), kind.withdrawn.is_(None)
    )
    return list(session.scalars(chosen.order_by(kind.key)))


def _feature_of(mark: Mark, detail: Detail | None, keys: dict[str, str]) -> str:
    for one in mark.features or ():
        if one.get("weight", 1.0) >= _TAKEN_TO_BE:
            return str(one.get("feature", ""))
    if detail is not None and detail.feature_id:
        return keys.get(detail.feature_id, "")
    return ""


def features_handed(
    session: DaybookSession,
    plates: Sequence[str],
    *,
    whole: bool,
    public: bool,
    without: Collection[str] = (),
) -> tuple[HandedFeature, ...]:
    """Return things on the ground: of some plates, or all that the daybook has.

    Parameters
    ----------
    session : DaybookSession
    plates : sequence of str
        Ids of the plates that may tell what they show.
    whole : bool
        Whether all features go along, tied to a plate or not.
    public : bool
        Whether those that are restricted, and who told of any, stay out.
    without : collection of str
        Ids of plans of which nothing may be published, and of features.
    """
    wanted = select(Feature).where(
        Feature.removed.is_(False), Feature.withdrawn.is_(None)
    )
    tied = set() if whole else _tied_to(session, set(plates))
    names = _names(session)
    cited = _citations(session, public=public)
    found = []
    for feature in session.scalars(wanted.order_by(Feature.key)):
        if not whole and feature.id not in tied:
            continue
        if feature.id in without or (feature.plan_id or "") in without:
            continue
        if public and not restricted(session, feature).is_exact:
            continue
        source = cited.get(feature.source_id or "", "")
        if not public and not source:
            source = feature.source_words or ""
        found.append(
            HandedFeature(
                key=feature.key,
                what=feature.what or "",
                names=tuple(names.get(feature.id, ())),
                shape=_shape(feature),
                traced=feature.traced is not None or feature.plan_id is not None,
                sd_m=feature.sd_m,
                height_m=feature.height_m,
                existed_from=feature.existed_from_edtf or "",
                existed_to=feature.existed_to_edtf or "",
                source=source,
            )
        )
    return tuple(found)


def _tied_to(session: DaybookSession, plates: set[str]) -> set[str]:
    keys = {key: one for one, key in session.execute(select(Feature.id, Feature.key))}
    tied: set[str] = set()
    for kind in (Detail, Statement):
        wanted = select(kind.plate_id, kind.feature_id).where(
            kind.feature_id.is_not(None), kind.removed.is_(False)
        )
        tied |= {f for p, f in session.execute(wanted) if p in plates and f}
    marks = select(Mark.plate_id, Mark.features).where(
        Mark.features.is_not(None), Mark.removed.is_(False)
    )
    for plate, features in session.execute(marks):
        if plate in plates:
            named = [one.get("feature") for one in features or ()]
            tied |= {keys[one] for one in named if one in keys}
    return tied


def _names(session: DaybookSession) -> dict[str, list[str]]:
    wanted = select(FeatureName).where(
        FeatureName.removed.is_(False), FeatureName.withdrawn.is_(None)
    )
    names: dict[str, list[str]] = {}
    for one in session.scalars(wanted.order_by(FeatureName.key)):
        names.setdefault(one.feature_id, []).append(one.name)
    return names


def _citations(session: DaybookSession, *, public: bool) -> dict[str, str]:
    wanted = select(Source).where(Source.withdrawn.is_(None))
    return {
        one.id: one.citation
        for one in session.scalars(wanted)
        # What somebody told is theirs to publish.
        if not (public and one.kind == "oral")
    }


def _shape(feature: Feature) -> BaseGeometry | None:
    if not feature.geometry:
        return None
    try:
        return shapely.force_2d(shapely.from_geojson(json.dumps(feature.geometry)))
    except shapely.errors.GEOSException:
        return None


def date_handed(session: DaybookSession, plate: Plate) -> tuple[str, str]:
    """Return when a plate was exposed, EDTF, and by what.

    As it was written where somebody dated the exposure; else the years that its bounds
    leave, the side on which there is none open.
    """
    wanted = select(Dating).where(
        Dating.plate_id == plate.id, Dating.of == "exposed",
        Dating.removed.is_(False), Dating.withdrawn.is_(None),
    )  # fmt: skip
    dated = sorted(session.scalars(wanted), key=lambda one: -(one.trust or 0.0))
    for one in dated:
        return one.edtf, one.words or "a date of exposure in the daybook"
    words = (plate.date_words or "").strip()
    if words and read_edtf(words) is not None:
        return words, "the catalogue's date"
    return _by_bounds(session, plate)


def _by_bounds(session: DaybookSession, plate: Plate) -> tuple[str, str]:
    wanted = select(Dating).where(
        Dating.plate_id == plate.id, Dating.removed.is_(False),
        Dating.withdrawn.is_(None),
    )  # fmt: skip
    dated = list(session.scalars(wanted.order_by(Dating.key)))
    span = span_of_dates(dated)
    if span is None:
        return "", ""
    first, last = (f"{math.floor(y):04d}" if math.isfinite(y) else ".." for y in span)
    said = "; ".join(f"{one.of or 'exposed'} {one.edtf}" for one in dated)
    return (first if first == last else f"{first}/{last}"), f"bounds: {said}"


def picture_handed(
    session: DaybookSession, book: Daybook, plate: Plate
) -> Picture | None:
    """Return the picture of a plate's main scan; None where its file is not there."""
    scan: Scan | None = main_scan(session, plate)
    if scan is None or not scan.width_px or not scan.height_px:
        return None
    path = whole_path(book.folder, scan.file)
    if not path.is_file():
        return None
    return Picture(
        path, scan.width_px, scan.height_px, scan.page or 0, scan.negative,
        bool(scan.reversed),
    )  # fmt: skip
