"""Refuse items that a daybook cannot hold, by name."""

from __future__ import annotations

import math
import re
from typing import Any

from sqlalchemy import inspect

from wherestood.daybook.as_written import complete_date
from wherestood.daybook.counted import an
from wherestood.daybook.edges import set_edges
from wherestood.daybook.on_the_picture import refuse_off_the_picture
from wherestood.daybook.tables import (
    ITEMS,
    OF_TIME,
    Evidence,
    Feature,
    Item,
    Plan,
    Restriction,
    Scan,
    TerrainLayer,
)
from wherestood.daybook.ties_kept import refuse_unread_tie
from wherestood.daybook.typed_lists import AS_TYPED, is_held
from wherestood.daybook.within import is_whole, lies_within
from wherestood.errors import InputError
from wherestood.evidence.edtf import check_edtf

__all__ = ["LONGEST_KEY", "check_item", "files_outside", "name_of"]

LONGEST_KEY = 200  # characters
#: Tables beside those of what is on a plate whose items a restriction holds for, or for
#: what is drawn from these (`wherestood.daybook.precision`).
_RESTRICTED = frozenset(
    {"features", "informants", "makers", "plans", "plates", "requests", "sources"}
)
_ALWAYS_MAY_CHANGE = {"removed", "withdrawn", "revision"}
#: Units that the names of columns end in.
_UNITS = frozenset({"m", "mm", "km2", "deg", "px"})
#: Control characters but for a line's end and a tab, and halves of letters.
_CONTROLS = re.compile("[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff]")


def name_of(item: Item) -> str:
    """Name an item as messages do: ``lead 'lead-3'``."""
    return f"{item.singular} {getattr(item, 'key', None) or item.id!r}"


def check_item(
    item: Item, *, added: bool, withdrawing: bool = False, as_before: bool = False
) -> None:
    """Refuse an item whose values cannot be.

    Parameters
    ----------
    item : Item
        As it is to be written.
    added : bool
        Whether it is new.
    withdrawing : bool
        Whether its content is being taken out for good, which may leave it
        without what it needs otherwise.
    as_before : bool
        Whether it only gets back what it held, which an older program may have
        taken without looking.

    Raises
    ------
    InputError
        Naming the item, the value and what to do.
    """
    if isinstance(item, Feature) and not withdrawing:
        set_edges(item)
    if not withdrawing and not as_before:
        complete_date(item)
    if not added and not withdrawing:
        _refuse_what_is_kept(item)
    if item.withdrawn and not withdrawing:
        raise InputError(
            f"The {name_of(item)} was withdrawn; only a stub is left of it.",
            "Add another item, if there is leave to do so.",
        )
    for column in inspect(item).mapper.columns:
        value = getattr(item, column.key)
        if value is None:
            if not column.nullable and not column.primary_key and not withdrawing:
                _refuse_missing(item, column.key, column.info)
            continue
        _check_value(item, column.key, value, column.info)
        if withdrawing or as_before:
            continue
        if column.info.get("edtf"):
            _check_date(item, column.key, value, added=added)
        if column.info.get("holds"):
            _check_held(item, column.key, value, column.info, added=added)
    if not withdrawing:
        _refuse_files_outside(item)
    if not (withdrawing or as_before):
        refuse_off_the_picture(item, name_of(item))
        _refuse_unread(item)
        if added and isinstance(item, Restriction):
            _refuse_restricting_nothing(item)
    _check_key(item)


def _refuse_restricting_nothing(item: Restriction) -> None:
    """Refuse a restriction of what has no place, or that says nothing of it."""
    if item.precision is None and item.covered is None:
        raise InputError(
            "A restriction that says neither how closely a place may be published nor "
            "that a picture is covered restricts nothing.",
            'Say it, as in --precision "1 km" or --covered yes.',
        )
    kind = ITEMS[item.about_table]
    if "plate_id" not in kind.__table__.c and item.about_table not in _RESTRICTED:
        raise InputError(
            f"A restriction means nothing for {an(kind.singular)}: it has no place "
            "that could be published.",
            "Restrict the plates or features that it concerns; whether something may "
            "be published at all is told by wherestood rights.",
        )


def _refuse_unread(item: Item) -> None:
    """Refuse what tells of the time or ties plates unreadably; what was stays."""
    if not isinstance(item, Evidence) or item.kind not in (*OF_TIME, "tie"):
        return
    moved = inspect(item).attrs
    if moved.content.history.has_changes() or moved.kind.history.has_changes():
        if item.kind == "tie":
            refuse_unread_tie(item, name_of(item))
            return
        from wherestood.dating.seen_on_plate import read_seen

        name = name_of(item)
        read_seen(item.kind, item.content, name[:1].upper() + name[1:])


def files_outside(item: Item) -> list[str]:
    """Return the files that an item names as the daybook's own and that are not.

    A scan or a terrain layer that was left in place names its files whole, and so may
    a plan; none may climb out of the folder.
    """
    if isinstance(item, TerrainLayer):
        names = [str(record.get("file", "")) for record in item.files or ()]
        may_be_whole = item.kept == "left in place"
    elif isinstance(item, Plan | Scan):
        names = [item.file] if item.file else []
        may_be_whole = isinstance(item, Plan) or item.kept == "left in place"
    else:
        return []
    return [
        name
        for name in names
        if not (lies_within(name) or (may_be_whole and is_whole(name)))
    ]


def _refuse_files_outside(item: Item) -> None:
    for name in files_outside(item):
        raise InputError(
            f"The {name_of(item)} names the file {name!r}, which lies outside the "
            "daybook.",
            "Take the file in, or leave it in place and name it from the root.",
        )


def _label(field: str) -> str:
    """Return what a person calls a column, its unit in brackets."""
    words = field.removesuffix("_id").removesuffix("_edtf").split("_")
    if len(words) > 1 and words[-1] in _UNITS:
        words[-1] = f"[{words[-1]}]"
    return " ".join(words)


def _check_date(item: Item, field: str, value: str, *, added: bool) -> None:
    """Refuse a new date that cannot be read; one that was there stays."""
    if added or inspect(item).attrs[field].history.has_changes():
        name = field.removesuffix("_edtf").replace("_", " ")
        name = "date" if name == "edtf" else f"date “{name}”"
        check_edtf(value, f"the {name} of {name_of(item)},")


def _check_held(item: Item, field: str, value: Any, info: Any, *, added: bool) -> None:
    """Refuse a new list that is none of its column; one that was there stays."""
    if not (added or inspect(item).attrs[field].history.has_changes()):
        return
    if not is_held(value, info["holds"]):
        raise InputError(
            f"The {_label(field)} of {name_of(item)} cannot be read: "
            f"{str(value)[:60]!r}.",
            f"It holds {info['about']}. Write it as {AS_TYPED[info['holds']]}",
        )


def _refuse_missing(item: Item, field: str, info: Any) -> None:
    if field in ("revision", "removed"):  # SQLAlchemy counts revisions
        return
    raise InputError(
        f"The {name_of(item)} lacks its {_label(field)} ({info.get('about', field)}).",
        "Give it.",
    )


def _refuse_what_is_kept(item: Item) -> None:
    """Refuse a change of what stays as it was."""
    for attribute in inspect(item).attrs:
        if not attribute.history.has_changes():
            continue
        info = inspect(item).mapper.columns[attribute.key].info
        if attribute.key in _ALWAYS_MAY_CHANGE:
            continue
        if item.kept_as_added or info.get("fixed") or attribute.key == "id":
            raise InputError(
                f"The {name_of(item)} is kept as it was added; its {attribute.key} "
                "cannot be changed.",
                "Add another one, and set this one aside if it is wrong.",
            )


def _check_value(item: Item, field: str, value: Any, info: Any) -> None:
    if isinstance(value, str):
        _refuse_controls(item, field, value)
        known = info.get("choices")
        if known and value not in known:
            raise InputError(
                f"The {_label(field)} of {name_of(item)} is {value!r}, which is not "
                "known.",
                f"Choose one of: {', '.join(known)}.",
            )
    elif isinstance(value, bool):
        return
    elif isinstance(value, int | float):
        _check_limits(item, field, value, info)
    elif isinstance(value, list | dict):
        _check_inside(item, field, value)


def _check_limits(item: Item, field: str, value: float, info: Any) -> None:
    least, most = info.get("least"), info.get("most")
    low = -math.inf if least is None else least
    high = math.inf if most is None else most
    if not (math.isfinite(value) and low <= value <= high):
        limits = " and ".join(
            word
            for word in (
                "" if least is None else f"at least {least:g}",
                "" if most is None else f"at most {most:g}",
            )
            if word
        )
        raise InputError(
            f"The {_label(field)} of {name_of(item)} is {value:g}; it must be "
            f"{limits or 'a number'}.",
            "Give a number within these limits.",
        )


def _check_inside(item: Item, field: str, value: Any) -> None:
    """Refuse control characters and what is no number inside lists and records."""
    if isinstance(value, str):
        _refuse_controls(item, field, value)
    elif isinstance(value, float) and not math.isfinite(value):
        raise InputError(
            f"The {_label(field)} of {name_of(item)} holds {value}, which is no "
            "number.",
            "Leave out what is not known.",
        )
    elif isinstance(value, dict):
        for key, part in value.items():
            _refuse_controls(item, field, str(key))
            _check_inside(item, field, part)
    elif isinstance(value, list | tuple):
        for part in value:
            _check_inside(item, field, part)


def _refuse_controls(item: Item, field: str, text: str) -> None:
    found = _CONTROLS.search(text)
    if found is not None:
        shown = text.encode("unicode_escape").decode("ascii")[:60]
        raise InputError(
            f"The {_label(field)} of {an(item.singular)} holds a control character at "
            f"place {found.start() + 1}: '{shown}'.",
            "Take it out.",
        )


def _check_key(item: Item) -> None:
    key = getattr(item, "key", None)
    if key is None:
        return
    faults = (
        (not key.strip(), "is empty"),
        ("\n" in key, "has a line's end in it"),
        ("\t" in key, "has a tab in it"),
        (key != key.strip(), "has a space at an end"),
    )
    for is_so, told in faults:
        if is_so:
            shown = key.encode("unicode_escape").decode("ascii") if "\n" in key else key
            raise InputError(
                f"The key '{shown}' of {an(item.singular)} {told}.",
                "Give a short name such as 1987.12.",
            )
    if len(key) > LONGEST_KEY:
        raise InputError(
            f"The key of {an(item.singular)} is {len(key)} letters long; at most "
            f"{LONGEST_KEY} are kept: {key[:40]!r}...",
            "Give a short name, and put the rest into its title or note.",
        )
    is_new = inspect(item).attrs.key.history.has_changes()
    if is_new and {".", ".."} & set(key.replace("\\", "/").split("/")):
        raise InputError(
            f"The key {key!r} of {an(item.singular)} reads like a way out of a folder.",
            "Give a short name such as 1987.12.",
        )
    if "/" in key and hasattr(item, "plate_id") and item.__tablename__ in _WITHIN:
        raise InputError(
            f"The key {key!r} of {an(item.singular)} holds a slash, which parts a "
            "plate from what is on it.",
            "Give it another name.",
        )


_WITHIN = ("details", "evidence", "marks", "scans")
