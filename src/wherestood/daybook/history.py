"""Tell the journal as a research diary."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Select, case, func, inspect, null, select
from sqlalchemy.orm import Session

from wherestood.daybook.act import WITHDRAWING
from wherestood.daybook.counted import counted
from wherestood.daybook.keys import address_of
from wherestood.daybook.loaded import load_items, load_referred_to
from wherestood.daybook.own_settings_told import merged_in_words, resealed_in_words
from wherestood.daybook.records import one_line
from wherestood.daybook.rename import REFERENCES
from wherestood.daybook.seal import SEALS
from wherestood.daybook.tables import (
    ITEMS,
    About,
    Decision,
    Evidence,
    Feature,
    FeatureName,
    Fix,
    Item,
    JournalRow,
    Lead,
    Mark,
    Plate,
    Setting,
)

__all__ = ["Entry", "Tally", "entry_of", "history", "tally"]

_LONGEST_VALUE = 70  # characters
#: More changes alike in one act are told by their number.
_MOST_TOLD = 20
_DONE = {
    "add": "Added", "remove": "Set aside", "restore": "Brought back",
    "undo": "Took back what was done to", "redo": "Did again what was done to",
    "withdraw": "Withdrew the content of", "withdraw all": "Withdrew the content of",
}  # fmt: skip
_WHY_MOVED = ", as the other copy had given the key to something else"
#: Written by the program alone, and told by the fix itself.
_UNTOLD = ("fix_inputs",)


@dataclass(frozen=True)
class Entry:
    """Be one act, as a diary tells it.

    Attributes
    ----------
    act : str
        Its id.
    time : str
        UTC.
    person, why : str
        Who did it, and why.
    sentences : tuple of str
        What was done.
    """

    act: str
    time: str
    person: str
    why: str
    sentences: tuple[str, ...]


@dataclass(frozen=True)
class Tally:
    """Count what was done.

    Attributes
    ----------
    runs, runs_set_aside : int
        Fixes made, and those of them set aside.
    items, set_aside, withdrawn : int
        Items of all kinds but inputs of fixes, and what became of them.
    leads_without_result : int
        Leads that ended with nothing found, or were given up.
    decisions : int
        Decisions, those that were superseded included.
    """

    runs: int
    runs_set_aside: int
    items: int
    set_aside: int
    withdrawn: int
    leads_without_result: int
    decisions: int

    def sentence(self) -> str:
        """Return it in one sentence."""
        return (
            f"{counted(self.runs, 'run')}, {self.runs_set_aside} set aside; "
            f"{counted(self.items, 'item')}, {self.set_aside} set aside and "
            f"{self.withdrawn} withdrawn; "
            f"{counted(self.leads_without_result, 'lead')} without result; "
            f"{counted(self.decisions, 'decision')}."
        )


def tally(session: Session, plate: Plate | None = None) -> Tally:
    """Count what was done, on one plate or in the whole daybook."""
    kinds = [kind for name, kind in ITEMS.items() if name not in _UNTOLD]
    whole = [_count(session, kind, plate) for kind in kinds]
    aside = [_count(session, kind, plate, kind.removed.is_(True)) for kind in kinds]
    gone = [_count(session, kind, plate, kind.withdrawn.is_not(None)) for kind in kinds]
    barren = Lead.state.in_(("nothing found", "given up"))
    return Tally(
        runs=_count(session, Fix, plate),
        runs_set_aside=_count(session, Fix, plate, Fix.removed.is_(True)),
        items=sum(whole),
        set_aside=sum(aside),
        withdrawn=sum(gone),
        leads_without_result=_count(session, Lead, plate, barren),
        decisions=_count(session, Decision, plate),
    )


def _count(session: Session, kind: type[Item], plate: Plate | None, *so: Any) -> int:
    chosen = select(func.count()).select_from(kind).where(*so)
    if plate is not None:
        if kind is Plate:
            chosen = chosen.where(kind.id == plate.id)
        elif hasattr(kind, "plate_id"):
            chosen = chosen.where(kind.plate_id == plate.id)
        else:
            return 0
    return session.scalar(chosen) or 0


def history(
    session: Session, plate: Plate | None = None, *, last: int | None = None
) -> list[Entry]:
    """Return what was done, the earliest first.

    Parameters
    ----------
    session : Session
        Of the daybook.
    plate : Plate, optional
        Tell of this plate alone: of all that is on it or about it, and of the
        features, sources, makers and people that these refer to.
    last : int, optional
        So many acts, the newest ones.
    """
    chosen = select(JournalRow).where(JournalRow.table_name.not_in(_UNTOLD))
    if plate is not None:
        others = list(_referred_to(session, plate))
        mine = JournalRow.plate_id == plate.id
        chosen = chosen.where(mine | JournalRow.item_id.in_(others))
    if last is not None:
        acts = (
            chosen.with_only_columns(JournalRow.act, func.max(JournalRow.number))
            .group_by(JournalRow.act)
            .order_by(func.max(JournalRow.number).desc())
            .limit(last)
        )
        chosen = chosen.where(JournalRow.act.in_([a for a, _ in session.execute(acts)]))
    return list(_entries(session, chosen))


def entry_of(session: Session, act: str) -> Entry | None:
    """Return one act; None if there is none, or the program alone wrote it."""
    chosen = select(JournalRow).where(
        JournalRow.act == act, JournalRow.table_name.not_in(_UNTOLD)
    )
    return next(_entries(session, chosen), None)


def _entries(session: Session, chosen: Select[Any]) -> Iterator[Entry]:
    """Tell the acts of chosen rows, the earliest first.

    Of very many changes alike in one act only their number is asked for: an act that
    took ten thousand plates in is told without loading its rows.
    """
    action = case((JournalRow.before.is_(null()), "add"), else_=JournalRow.action)
    alike = (JournalRow.act, JournalRow.table_name, action.label("done"))
    number = func.count().label("number_of_rows")
    groups = chosen.with_only_columns(*alike).group_by(*alike)
    few = groups.having(number <= _MOST_TOLD).subquery()
    told: Sequence[JournalRow] = session.scalars(
        chosen.join(
            few,
            (JournalRow.act == few.c.act)
            & (JournalRow.table_name == few.c.table_name)
            & (action == few.c.done),
        ).order_by(JournalRow.number)
    ).all()
    items = load_items(session, {(r.table_name, r.item_id) for r in told})
    _kept = [items, load_referred_to(session, items)]
    by_act: dict[str, list[JournalRow]] = {}
    for row in told:
        by_act.setdefault(row.act, []).append(row)
    first = func.min(JournalRow.number)
    shared = [func.min(c) for c in (JournalRow.time, JournalRow.person, JournalRow.why)]
    acts: dict[str, tuple[Any, list[str]]] = {}
    for group in session.execute(groups.add_columns(number, *shared).order_by(first)):
        act, table, done, count, *begun = group
        many = acts.setdefault(act, (begun, []))[1]
        if count > _MOST_TOLD:
            span = _from_to(session, act, table) if done == "add" else ""
            several = table.replace("_", " ")
            many.append(f"{_DONE.get(done, 'Changed')} {count} {several}{span}.")
    for act, (begun, many) in acts.items():
        singly = [_sentence(session, row) for row in by_act.get(act, ())]
        time, person, why = begun
        yield Entry(act, time, person, why, (*many, *singly))


def _referred_to(session: Session, plate: Plate) -> Iterator[str]:
    """Give the ids of items elsewhere that what is on a plate refers to."""
    for kind in ITEMS.values():
        if kind is not Plate and not hasattr(kind, "plate_id"):
            continue
        links = [
            column
            for column in inspect(kind).columns
            if column.info.get("table") and column.key != "plate_id"
        ]
        mine: Any = kind.id if kind is Plate else kind.plate_id
        for link in links:
            chosen = select(link).where(mine == plate.id, link.is_not(None))
            yield from session.scalars(chosen.distinct())
    yield from _features_called(session, plate)


def _features_called(session: Session, plate: Plate) -> Iterator[str]:
    """Give the ids of features, and of their names, that evidence calls by key."""
    keys: set[Any] = set()
    marks = select(Mark.features).where(
        Mark.plate_id == plate.id, Mark.features.is_not(None)
    )
    for features in session.scalars(marks):
        keys |= {one.get("feature") for one in features or ()}
    told = select(Evidence.content).where(
        Evidence.plate_id == plate.id, Evidence.content.is_not(None)
    )
    for content in session.scalars(told):
        keys |= {content.get(name) for name in REFERENCES if content}
    named = [key for key in keys if isinstance(key, str)]
    called = session.scalars(select(Feature.id).where(Feature.key.in_(named))).all()
    yield from called
    names = select(FeatureName.id).where(FeatureName.feature_id.in_(called))
    yield from session.scalars(names)


def _from_to(session: Session, act: str, table: str) -> str:
    """Return the first and the last key of those that an act added."""
    kind: Any = ITEMS[table]
    if not hasattr(kind, "key"):
        return ""
    added = select(JournalRow.item_id).where(
        JournalRow.act == act,
        JournalRow.table_name == table,
        JournalRow.before.is_(null()),
    )
    keys = select(func.min(kind.key), func.max(kind.key)).where(kind.id.in_(added))
    least, most = session.execute(keys).one()
    return f", {least} to {most}" if least else ""


def _sentence(session: Session, row: JournalRow) -> str:
    """Tell one change."""
    kind = ITEMS[row.table_name]
    if row.action == "merge" and kind is Setting:
        return merged_in_words(row)
    item = session.get(kind, row.item_id)
    if isinstance(item, Setting) and item.key == SEALS:
        return resealed_in_words(row)
    name = kind.singular
    if item is not None:
        address = address_of(session, item)
        said = address.startswith(f"{name.split()[0]}-")
        name = address if said else f"{name} {address}"
    if row.action in WITHDRAWING:
        if (row.before or {}).get("withdrawn"):
            return f"Took out more words of what {name} had held."
        if "withdrawn" in (row.after or {}):
            return f"Withdrew the content of {name}."
        return f"Took withdrawn words out of {name}."
    gone = item is not None and item.withdrawn
    if row.before is None:
        then = (row.after or {}).get("key")
        if item is not None and then and then != getattr(item, "key", then):
            name += f" (called {then} then)"
        added = _added(session, kind, name, row.after or {})
        return f"Added {name}: [withdrawn]." if gone else added
    if gone:
        return f"Changed {name}, whose content was withdrawn since."
    if row.action in ("undo", "redo"):
        verb = "Took back" if row.action == "undo" else "Did again"
        return f"{verb} what was done to {name}{_changes(session, kind, row)}."
    if row.action in ("remove", "restore"):
        return f"{_DONE[row.action]} {name}."
    alone = set(row.after or {}) - {"revision"} == {"removed"}
    if row.action in ("change", "merge") and alone:
        done = "Set aside" if (row.after or {})["removed"] else "Brought back"
        return f"{done} {name}."
    moved = row.action == "merge" and "key" in (row.after or {})
    return _ended(f"Changed {name}{_changes(session, kind, row)}{_WHY_MOVED * moved}")


def _added(session: Session, kind: type[Item], name: str, after: dict[str, Any]) -> str:
    told = one_line(kind(**{k: v for k, v in after.items() if k != "revision"}))
    if more := _more(session, kind, after):
        told = f"{told}; {more}" if told else more
    if kind is Fix:
        return f"Made {name}: {_fix(after)}."
    if kind is Decision:
        words = after.get("words", "")
        who = after.get("decided_by", "somebody")
        conclusion = after.get("conclusion")
        if on := after.get("conditions"):
            conclusion = f"{conclusion} (conditions: {on})"
        if replaced := after.get("supersedes_id"):
            before = _shown(session, "decisions", replaced)
            conclusion = f"{conclusion}, in place of {before}"
        return f"Decided, as {name}: {conclusion}, by {who}: “{words}”"
    return _ended(f"Added {name}{f': {told}' if told else ''}")


def _more(session: Session, kind: type[Item], after: dict[str, Any]) -> str:
    """Return what else a diary tells of what was added: on what, by whom, where."""
    parts = []
    if issubclass(kind, About) and after.get("about_table") in ITEMS:
        table = str(after["about_table"])
        about = _shown(session, table, after.get("about_id"))
        parts.append(f"on {ITEMS[table].singular} {about}")
    if where := after.get("where"):
        parts.append(f"at: {where}")
    for column, label in ("informant_id", "said by"), ("source_id", "by"):
        if after.get(column) and kind is not Lead:
            table = column.removesuffix("_id") + "s"
            parts.append(f"{label} {_shown(session, table, after[column])}")
    return "; ".join(parts)


def _ended(sentence: str) -> str:
    """End a sentence, unless it breaks off."""
    return sentence if sentence.endswith("...") else f"{sentence}."


def _fix(after: dict[str, Any]) -> str:
    verdict = str(after.get("verdict", ""))
    near = after.get("near_enough_m")
    return f"{verdict}, asked to {near:g} m" if near is not None else verdict


def _changes(session: Session, kind: type[Item], row: JournalRow) -> str:
    parts = []
    columns = inspect(kind).columns
    for field, new in (row.after or {}).items():
        if field == "revision":
            continue
        if field == "removed":
            parts.append("set aside" if new else "brought back")
            continue
        table = columns[field].info.get("table") if field in columns else None
        values = [(row.before or {}).get(field), new]
        shown = [_shown(session, table, value) for value in values]
        label = field.removesuffix("_id").removesuffix("_edtf").replace("_", " ")
        parts.append(f"{label} from {shown[0]} to {shown[1]}")
    return f": {'; '.join(parts)}" if parts else ""


def _shown(session: Session, table: str | None, value: Any) -> str:
    if value is None:
        return "nothing"
    if table is not None:
        item = session.get(ITEMS[table], value)
        return address_of(session, item) if item else str(value)
    text = f"“{value}”" if isinstance(value, str) else _compact(value)
    text = " ".join(text.split())
    if len(text) > _LONGEST_VALUE:
        return text[: _LONGEST_VALUE - 3].rstrip() + "..."
    return text


def _compact(value: Any) -> str:
    if isinstance(value, dict):
        # What a program keeps in many numbers; its kind is all that a person reads.
        return str(value.get("kind") or counted(len(value), "value"))
    if isinstance(value, list):
        features = [one.get("feature") for one in value if isinstance(one, dict)]
        if features and all(features):
            return ", ".join(map(str, features))
        return counted(len(value), "value")
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.8g}"
    return str(value)
