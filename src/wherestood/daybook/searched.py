"""Read the ground searched of a plate, as the daybook has it."""

from __future__ import annotations

import re
import tempfile
from dataclasses import replace
from pathlib import Path

from wherestood.daybook.tables import Plate
from wherestood.errors import AreaError
from wherestood.fix.area import Area, read_area

__all__ = ["area_searched"]

_NUMBERS = re.compile(r"\s*[-+.\d]")


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
    if not _NUMBERS.match(text):
        raise AreaError(
            f"The ground searched of plate {plate.key} is {text[:60]!r}.",
            "Give LON,LAT,3km, a box W,S,E,N, or draw it on the map.",
        )
    return read_area(text)
