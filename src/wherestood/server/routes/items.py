"""Answer for items of every table, all in one grammar."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any

from fastapi import APIRouter, Query
from pydantic import BaseModel, ValidationError
from sqlalchemy.orm import Session

from wherestood.daybook.choose import Box, Wanted, page
from wherestood.daybook.decide import complete_decision
from wherestood.daybook.journal import DaybookSession, plate_of
from wherestood.daybook.keys import address_of
from wherestood.daybook.rename import rename
from wherestood.daybook.searched import area_searched
from wherestood.daybook.tables import ITEMS, About, Item, Plate
from wherestood.errors import InputError
from wherestood.server.desk import Book, DeskNeeded
from wherestood.server.forms.items import (
    ITEM_FORMS,
    BatchChange,
    ItemForms,
    shown_columns,
)
from wherestood.server.troubles import ChangedMeanwhileError, NotThereError

__all__ = ["Why", "box_of", "item_of", "refuse_older", "router", "tell", "tell_all"]

Why = Annotated[str, Query(max_length=2000, description="Why, for the journal.")]
LONGEST_PAGE = 1000
router = APIRouter(prefix="/api/items", tags=["items"])


def tell(session: Session, item: Item) -> dict[str, Any]:
    """Return an item in its form."""
    told = {
        column.key: getattr(item, column.key) for column in shown_columns(type(item))
    }
    return {"called": address_of(session, item), **told}


def tell_all(session: Session, items: Any) -> list[dict[str, Any]]:
    """Return items in their forms."""
    return [tell(session, item) for item in items]


def item_of(session: Session, table: str, item_id: str) -> Any:
    """Return an item by its id.

    Raises
    ------
    NotThereError
        If there is none.
    """
    kind = ITEMS[table]
    found = session.get(kind, item_id)
    if found is None:
        raise NotThereError(
            f"There is no such {kind.singular}.", "It may be of another daybook."
        )
    return found


def box_of(text: str) -> Box | None:
    """Read ``w,s,e,n`` in degrees."""
    if not text:
        return None
    try:
        west, south, east, north = (float(part) for part in text.split(","))
    except ValueError as error:
        raise InputError(
            f"The box {text[:60]!r} cannot be read.", "Give west,south,east,north."
        ) from error
    return west, south, east, north


def refuse_older(item: Item, revision: int | None) -> None:
    """Refuse to change what is newer than what was read.

    Raises
    ------
    ChangedMeanwhileError
        If it is.
    """
    if revision is not None and revision != item.revision:
        raise ChangedMeanwhileError(
            f"The {item.singular} was changed meanwhile, in another window or by a "
            "task.",
            "Look at it as it is now, then make your change once more.",
        )


def set_values(
    session: DaybookSession, item: Item, given: dict[str, Any], revision: int | None
) -> None:
    """Set columns of an item.

    Raises
    ------
    ChangedMeanwhileError
        If the item is newer than the one that was read.
    """
    refuse_older(item, revision)
    columns = {column.key for column in shown_columns(type(item))}
    for name, value in given.items():
        if name not in columns or name in ("id", "revision", "withdrawn"):
            raise InputError(f"A {item.singular} has no {name!r} to change.")
        if name == "key":
            if value is not None and value != getattr(item, "key", None):
                rename(session, item, value)
        else:
            setattr(item, name, value)
    if isinstance(item, Plate) and "ground_searched" in given:
        area_searched(item)  # what cannot be read is not written down


def _add_routes(table: str, forms: ItemForms) -> None:
    kind, name = forms.kind, forms.kind.__name__

    def listed(
        book: Book,
        words: str = "",
        plate_id: str | None = None,
        about_id: str | None = None,
        removed: bool | None = False,
        box: str = "",
        offset: Annotated[int, Query(ge=0)] = 0,
        limit: Annotated[int, Query(ge=1, le=LONGEST_PAGE)] = 100,
    ) -> Any:
        values = {"about_id": about_id} if about_id else {}
        with book.reading() as session:
            wanted = Wanted(
                words, box_of(box), plate_id, values, removed, limit, offset
            )
            items, total = page(session, kind, wanted)
            return {"items": tell_all(session, items), "total": total}

    def one(book: Book, item_id: str) -> Any:
        with book.reading() as session:
            return tell(session, item_of(session, table, item_id))

    def add(desk: DeskNeeded, book: Book, values: BaseModel, why: Why = "") -> Any:
        given = values.model_dump(exclude_unset=True)
        for field, default in _usual(values).items():
            given.setdefault(field, default)
        with book.writing(desk.person, why) as session:
            item = kind(**{k: v for k, v in given.items() if v is not None})
            if isinstance(item, About):
                about = item_of(session, _table(item.about_table), item.about_id)
                item.plate_id = plate_of(about)
            complete_decision(session, item, desk.person)
            session.add(item)
            session.flush()
            return tell(session, item)

    def change(
        desk: DeskNeeded, book: Book, item_id: str, values: BaseModel, why: Why = ""
    ) -> Any:
        given = values.model_dump(exclude_unset=True)
        revision = given.pop("revision", None)
        with book.writing(desk.person, why) as session:
            item = item_of(session, table, item_id)
            set_values(session, item, given, revision)
            session.flush()
            return tell(session, item)

    def change_several(
        desk: DeskNeeded, book: Book, batch: BatchChange, why: Why = ""
    ) -> Any:
        try:
            values = forms.change.model_validate(batch.values)
        except ValidationError as error:
            first = error.errors()[0]
            what = ".".join(str(part) for part in first["loc"])
            raise InputError(
                f"A {kind.singular} cannot be given this {what}: {first['msg']}.",
                "Change something else, or give it in another form.",
            ) from error
        given = values.model_dump(exclude_unset=True)
        given.pop("revision", None)
        if "key" in given:
            raise InputError("Several items cannot have one key.", "Leave it out.")
        with book.writing(desk.person, why) as session:
            items = [item_of(session, table, one) for one in batch.ids]
            for item in items:
                set_values(session, item, given, None)
            session.flush()
            return {"items": tell_all(session, items), "total": len(items)}

    def set_aside(desk: DeskNeeded, book: Book, item_id: str, why: Why = "") -> Any:
        with book.writing(desk.person, why) as session:
            item = item_of(session, table, item_id)
            item.removed = True
            session.flush()
            return tell(session, item)

    add.__annotations__["values"] = forms.new
    change.__annotations__["values"] = forms.change
    every: list[tuple[str, str, Callable[..., Any], Any, str, str]] = [
        ("GET", f"/{table}", listed, forms.listed, "list", "List"),
        ("GET", f"/{table}/{{item_id}}", one, forms.whole, "get", "Tell one of"),
        ("PATCH", f"/{table}/{{item_id}}", change, forms.whole, "change", "Change"),
        ("PATCH", f"/{table}", change_several, forms.listed, "changeAll", "Change"),
        ("DELETE", f"/{table}/{{item_id}}", set_aside, forms.whole, "setAside",
         "Set aside"),
    ]  # fmt: skip
    if forms.new is not None:
        every.append(("POST", f"/{table}", add, forms.whole, "add", "Add to"))
    for method, path, endpoint, answer, verb, words in every:
        router.add_api_route(
            path,
            endpoint,
            methods=[method],
            response_model=answer,
            operation_id=f"{verb}{name}",
            summary=f"{words} {table.replace('_', ' ')}.",
        )


def _usual(values: BaseModel) -> dict[str, Any]:
    """Return what a form holds unless told."""
    return {
        name: field.default
        for name, field in type(values).model_fields.items()
        if not field.is_required() and field.default is not None
    }


def _table(name: str) -> str:
    if name not in ITEMS:
        raise InputError(
            f"There is no {name[:40]!r} in a daybook.",
            f"Choose one of: {', '.join(sorted(ITEMS))}.",
        )
    return name


for _name, _forms in ITEM_FORMS.items():
    _add_routes(_name, _forms)
