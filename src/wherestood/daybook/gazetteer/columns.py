"""Tell what the columns of a gazetteer mean."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from wherestood.errors import InputError

__all__ = ["MEANINGS", "GazetteerColumns", "tell_columns"]

#: What a column may mean, and the names by which it is known without being told.
#: Names of columns are those of common exchange files (OpenStreetMap, GeoNames,
#: KML, national gazetteers): common practice.
MEANINGS: dict[str, tuple[str, ...]] = {
    "name": ("name", "placename", "place name", "title", "label", "feature name"),
    "other names": ("other names", "alt_name", "alternatenames", "variants", "aliases"),
    "old name": ("old_name", "old name", "former name", "historical name"),
    "local name": ("loc_name", "local name"),
    "what": ("what", "type", "kind", "class", "feature type", "fclass", "feature code"),
    "longitude": ("longitude", "lon", "long", "lng"),
    "latitude": ("latitude", "lat"),
    "east": ("easting", "east", "x"),
    "north": ("northing", "north", "y"),
    "grid reference": ("grid reference", "gridref", "grid_ref", "ngr", "mgrs", "usng"),
    "shape": ("wkt", "geometry", "geom", "shape"),
    "standard error": ("sd_m", "accuracy_m", "uncertainty_m", "coordinateuncertainty"),
    "height": ("height_m", "ele", "elevation", "elevation_m", "altitude"),
    "from": ("existed from", "start_date", "from", "begin", "built", "opened"),
    "to": ("existed to", "end_date", "to", "end", "demolished", "closed", "gone"),
    "source": ("source", "source words", "reference", "citation"),
}
_LANGUAGE = re.compile(r"^(?:alt_|old_)?name[:_]([a-z]{2,3}(?:-[A-Za-z]+)?)$")


@dataclass(frozen=True)
class GazetteerColumns:
    """Hold which column has which meaning.

    Attributes
    ----------
    by_meaning : dict of str to str
        Column by meaning.
    names : dict of str to str
        Column by the language whose name it has.
    """

    by_meaning: dict[str, str]
    names: dict[str, str]


def tell_columns(
    columns: Iterable[str], told: Mapping[str, str] | None = None
) -> GazetteerColumns:
    """Tell columns by what a person said of them, else by their names.

    Parameters
    ----------
    columns : iterable of str
        All columns.
    told : mapping of str to str, optional
        Meaning by column; an empty meaning leaves the column alone.

    Raises
    ------
    InputError
        If a column is not there, or a meaning is none.
    """
    present = list(columns)
    by_meaning: dict[str, str] = {}
    for column, meaning in (told or {}).items():
        if column not in present:
            raise InputError(
                f"There is no column {column!r}.", f"There are: {', '.join(present)}."
            )
        if meaning and meaning not in MEANINGS:
            raise InputError(
                f"A column cannot mean {meaning!r}.",
                f"It can mean: {', '.join(MEANINGS)}.",
            )
        if meaning:
            by_meaning[meaning] = column
    free = [column for column in present if column not in (told or {})]
    for meaning, known in MEANINGS.items():
        if meaning in by_meaning:
            continue
        by_name = {column.strip().casefold(): column for column in free}
        for name in known:
            if name in by_name:
                by_meaning[meaning] = by_name[name]
                break
    languages = {}
    for column in free:
        if found := _LANGUAGE.match(column.strip()):
            languages[column] = found.group(1)
    return GazetteerColumns(by_meaning, languages)
