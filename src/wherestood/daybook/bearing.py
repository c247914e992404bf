"""Say which columns of an item bear on a fix, and sum them up in a checksum."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from sqlalchemy.orm import Session

from wherestood.daybook.journal import columns_of
from wherestood.daybook.keys import address_of
from wherestood.daybook.tables import Item

__all__ = ["bearing_columns", "digest_of", "name_of_input"]

#: Of most items everything bears on a fix; of these only what a search asks for.
_ONLY = {
    "plates": (
        "footing", "ground_searched", "near_enough_m", "principal_distance_mm",
        "principal_distance_sd_mm", "process", "size", "trimmed",
    ),
    "scans": (
        "corners_px", "main", "negative", "page", "reversed", "scan_ppi", "sha256",
    ),
    "details": ("feature_id",),
    "terrain_layers": ("files", "surface", "vertical_datum"),
}  # fmt: skip
#: Of these only where they say something: fixes kept before knew nothing of them.
_WHERE_SAID = {"scans": ("registered_to_id", "registration")}
_NEVER = ("id", "key", "revision", "note")


def bearing_columns(item: Item) -> dict[str, Any]:
    """Return the columns of an item that bear on a fix."""
    columns = columns_of(item)
    always = {"removed": item.removed, "withdrawn": item.withdrawn}
    only = _ONLY.get(item.__tablename__)
    if only is not None:
        said = _WHERE_SAID.get(item.__tablename__, ())
        more = {name: columns[name] for name in said if columns[name] is not None}
        return {name: columns[name] for name in only} | more | always
    return {name: value for name, value in columns.items() if name not in _NEVER}


def digest_of(item: Item) -> str:
    """Return a checksum of what bears on a fix, however often it was written."""
    told = json.dumps(bearing_columns(item), sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(told.encode("utf-8")).hexdigest()


def name_of_input(session: Session, item: Item) -> str:
    """Name an item as a person calls it: ``mark 1987.12/A``."""
    return f"{item.singular} {address_of(session, item)}"
