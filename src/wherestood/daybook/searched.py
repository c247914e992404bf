"""Read the ground searched of a plate, as the daybook has it."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path

from wherestood.daybook.tables import Plate
from wherestood.errors import AreaError
from wherestood.fix.area import Area, area_in_words, read_area

__all__ = ["area_searched"]


def area_searched(plate: Plate) -> Area | None:
    """Return the ground searched of a plate; None where it says none.

    Raises
    ------
    AreaError
        If it is neither numbers nor GeoJSON; no file is looked for.
    """
    text = (plate.ground_searched or "").strip()
    if not text:
        return None
    if text.startswith("{"):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "ground-searched.geojson"
            path.write_text(text, encoding="utf-8")
            return replace(read_area(path), source="drawn on the map")
    area = area_in_words(text)
    if area is None:
        raise AreaError(
            f"The ground searched of plate {plate.key} is {text[:60]!r}.",
            "Give longitude, latitude and how far around (7.1, 46.2, 3km), a box "
            "W,S,E,N, or draw it on the map.",
        )
    return area
