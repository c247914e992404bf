"""Find where words stand in a daybook: in items, keys, names of who wrote, reports."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import false, or_, select, true
from sqlalchemy.orm import Session

from wherestood.daybook.falling import parts_of_names
from wherestood.daybook.files_held import REPORT_KEY
from wherestood.daybook.may_hold import items_that_may_hold, may_hold, plain_runs
from wherestood.daybook.other_forms import OtherForms
from wherestood.daybook.redact import Needles
from wherestood.daybook.tables import ITEMS, Item, JournalRow, Setting, Words

__all__ = [
    "items_keyed_by",
    "items_to_search",
    "names_signed",
    "parts_of_all_names",
    "reports_issued",
]


def parts_of_all_names(session: Session, falling: list[Item]) -> set[str]:
    """Return the single words of names that items have, or ever had."""
    parts = {p for i in falling for p in parts_of_names(i.__tablename__, vars(i))}
    ids = [item.id for item in falling if item.__tablename__ == "informants"]
    for row in session.scalars(select(JournalRow).where(JournalRow.item_id.in_(ids))):
        for side in (row.before or {}, row.after or {}):
            parts |= parts_of_names(row.table_name, side)
    return parts


def items_to_search(
    session: Session, words: list[str], forms: OtherForms, but: set[str]
) -> list[Item]:
    """Return items that may hold the words, or a form of them."""
    runs = plain_runs(words)
    both = None if runs is None or forms.runs is None else {*runs, *forms.runs}
    chosen = None if both is None else sorted(both)
    found = {item.id: item for item in items_that_may_hold(session, chosen, but)}
    # Letters such as ligatures are one with plain ones in the index of words alone.
    held = [Words.text.contains(word, autoescape=True) for word in forms.words]
    for table, item_id in session.execute(
        select(Words.table_name, Words.item_id).where(or_(false(), *held))
    ):
        if item_id not in found and item_id not in but:
            found[item_id] = session.get_one(ITEMS[table], item_id)
    return list(found.values())


def items_keyed_by(session: Session, forms: OtherForms) -> Iterable[Item]:
    """Give the items in whose key a form of the words stands, stubs included."""
    if not forms.words:
        return
    for kind in ITEMS.values():
        key = getattr(kind, "key", None)
        if key is None or kind is Setting:
            continue
        may = true() if forms.runs is None else may_hold([key], forms.runs)
        for item in session.scalars(select(kind).where(may).order_by(key)):
            if forms.found_in(getattr(item, "key")):  # noqa: B009
                yield item


def names_signed(
    session: Session, needles: Needles, forms: OtherForms, *, everywhere: bool
) -> tuple[str, ...]:
    """Return names under which acts stand in the journal, and will go on to stand."""
    left = []
    for person in session.scalars(select(JournalRow.person).distinct()):
        after = needles.taken_out_of(person) if everywhere else person
        if needles.stand_in(after) or forms.found_in(after):
            left.append(person)
    return tuple(sorted(left))


def reports_issued(session: Session, but: set[str]) -> dict[str, list[str]]:
    """Return reports that were issued, and their files; not those withdrawn, or `but`.

    Parameters
    ----------
    session : Session
    but : set of str
        Ids of those that are left out.
    """
    chosen = select(Setting).where(
        Setting.key.like(f"{REPORT_KEY}%"), Setting.withdrawn.is_(None)
    )
    return {
        one.key: [str(record["file"]) for record in (one.value or {}).get("files", ())]
        for one in session.scalars(chosen.order_by(Setting.key))
        if one.id not in but
    }
