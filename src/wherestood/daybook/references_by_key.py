"""Find what refers to features and to what is on a plate by key, not by id.

Marks and evidence are kept in the words of the evidence file, which calls things by
key: a database knows nothing of these references.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlalchemy import inspect, select
from sqlalchemy.orm import Session

from wherestood.daybook.check_items import name_of
from wherestood.daybook.rename import REFERENCES
from wherestood.daybook.tables import Evidence, Feature, Item, Mark, Statement, Weighed
from wherestood.errors import InputError

__all__ = ["items_that_name", "refuse_features_unknown"]


def items_that_name(session: Session, item: Item) -> Iterator[Item]:
    """Give the items that refer to an item by its key, set aside or not."""
    if isinstance(item, Feature):
        for mark in session.scalars(select(Mark).where(Mark.features.is_not(None))):
            if item.key in {one.get("feature") for one in mark.features or ()}:
                yield mark
        for evidence in session.scalars(select(Evidence)):
            if _names(evidence, item.key) and not _mark_of(session, evidence, item.key):
                yield evidence
    elif isinstance(item, Weighed):
        kinds: tuple[type[Any], ...] = (Mark, Evidence, Statement)
        for kind in kinds:
            for one in session.scalars(
                select(kind).where(kind.plate_id == item.plate_id)
            ):
                by_mark = isinstance(item, Mark) and isinstance(one, Evidence)
                named = by_mark and _names(one, item.key)
                if one is not item and (named or item.key in (one.derived_from or ())):
                    yield one


def refuse_features_unknown(session: Session, mark: Mark) -> None:
    """Refuse a mark that newly names a feature which the daybook has not.

    Raises
    ------
    InputError
        Naming the mark and the key.
    """
    history = inspect(mark).attrs.features.history
    if not history.has_changes() or not mark.features:
        return
    # Those before may name what an older program took without looking.
    before = {o.get("feature") for old in history.deleted for o in old or ()}
    named = {str(o.get("feature")) for o in mark.features} - before
    known = {one.key for one in (*session.new, *session.dirty) if _is_feature(one)}
    known |= set(session.scalars(select(Feature.key).where(Feature.key.in_(named))))
    for key in sorted(named - known):
        raise InputError(
            f"The {name_of(mark)} names the feature {key!r}, which is not in this "
            "daybook.",
            "Add the feature first, or name one that is there.",
        )


def _is_feature(thing: Any) -> bool:
    return isinstance(thing, Feature)


def _names(evidence: Evidence, key: str) -> bool:
    content = evidence.content or {}
    return any(content.get(name) == key for name in REFERENCES)


def _mark_of(session: Session, evidence: Evidence, key: str) -> bool:
    """Tell whether a key names a mark on the plate, which goes before a feature."""
    chosen = select(Mark.id).where(Mark.plate_id == evidence.plate_id, Mark.key == key)
    return session.scalars(chosen).first() is not None
