"""Take the features of a gazetteer into a daybook."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.book import Daybook
from wherestood.daybook.check_items import check_item
from wherestood.daybook.gazetteer.entry import GazetteerEntry
from wherestood.daybook.gazetteer.read import Gazetteer
from wherestood.daybook.sheets import Refusal, in_order
from wherestood.daybook.tables import Feature, FeatureName, Source
from wherestood.errors import InputError
from wherestood.progress import SILENT, Progress

__all__ = ["Taken", "take_gazetteer"]

_DIGEST = "taken_from_sha256"


@dataclass(frozen=True)
class Taken:
    """Hold what was taken, or would be.

    Attributes
    ----------
    added : tuple of str
        Keys of the features added; empty in a dry run.
    would_add : int
        How many there are to add.
    already_there : int
        How many the daybook has already, of the same file or another.
    refused : tuple of Refusal
        What was not taken, and why.
    """

    added: tuple[str, ...]
    would_add: int
    already_there: int
    refused: tuple[Refusal, ...]


def take_gazetteer(
    daybook: Daybook,
    gazetteer: Gazetteer,
    person: str,
    *,
    citation: str,
    why: str = "",
    dry_run: bool = False,
    progress: Progress = SILENT,
) -> Taken:
    """Take features in, all in one act or none.

    Parameters
    ----------
    daybook : Daybook
        Where they go.
    gazetteer : Gazetteer
        What was read.
    person : str
        Who takes them in.
    citation : str
        How the file is cited: it becomes the source of positions and names.
    why : str
        In the person's words.
    dry_run : bool
        Whether only to say what would happen.
    progress : Progress
        Told of each feature.

    Notes
    -----
    A feature that says exactly what one in the daybook said when it was taken in is
    left out, so that the same file can be read again.
    """
    refused = list(gazetteer.refused)
    with daybook.reading() as session:
        known = _known(session)
    new: list[tuple[GazetteerEntry, str]] = []
    already = 0
    for entry in gazetteer.entries:
        digest = _digest(entry)
        if digest in known:
            already += 1
            continue
        known.add(digest)
        try:
            check_item(_feature(entry, digest, None, key="feature"), added=True)
        except InputError as error:
            what = entry.names[0].name if entry.names else ""
            refused.append(Refusal(entry.where, what, str(error)))
        else:
            new.append((entry, digest))
    added: tuple[str, ...] = ()
    if new and not dry_run:
        added = _write(daybook, new, person, citation, why, progress)
    return Taken(added, len(new), already, in_order(refused))


def _write(
    daybook: Daybook,
    new: Sequence[tuple[GazetteerEntry, str]],
    person: str,
    citation: str,
    why: str,
    progress: Progress,
) -> tuple[str, ...]:
    progress.stage("taking features in", len(new))
    with daybook.writing(person, why) as session:
        wanted = select(Source).where(
            Source.citation == citation, Source.removed.is_(False)
        )
        source = session.scalars(wanted).first()
        if source is None:
            source = Source(citation=citation, kind="catalogue")
            session.add(source)
            session.flush()
        features = []
        for entry, digest in new:
            feature = _feature(entry, digest, source.id)
            features.append(feature)
            session.add(feature)
        session.flush()
        for feature, (entry, _) in zip(features, new, strict=True):
            for name in entry.names:
                session.add(
                    FeatureName(
                        feature_id=feature.id,
                        name=name.name,
                        language=name.language,
                        kind=name.kind,
                        source_id=source.id,
                    )
                )
            progress.advance()
        session.flush()
        return tuple(feature.key for feature in features)


def _feature(
    entry: GazetteerEntry, digest: str, source_id: str | None, **more: Any
) -> Feature:
    dated = source_id if entry.existed_from_edtf else None
    ended = source_id if entry.existed_to_edtf else None
    return Feature(
        what=entry.what,
        geometry=entry.geometry,
        sd_m=entry.sd_m,
        height_m=entry.height_m,
        existed_from_edtf=entry.existed_from_edtf,
        existed_from_source_id=dated,
        existed_to_edtf=entry.existed_to_edtf,
        existed_to_source_id=ended,
        source_id=source_id,
        source_words=entry.source_words,
        imported={**entry.imported, _DIGEST: digest},
        **more,
    )


def _known(session: Session) -> set[str]:
    wanted = select(Feature.imported).where(Feature.imported.is_not(None))
    return {record[_DIGEST] for record in session.scalars(wanted) if _DIGEST in record}


def _digest(entry: GazetteerEntry) -> str:
    said = json.dumps(
        [entry.imported, entry.geometry, [name.name for name in entry.names]],
        sort_keys=True,
        ensure_ascii=False,
    )
    return hashlib.sha256(said.encode("utf-8")).hexdigest()
