"""Write layers of a map as a GeoPackage (OGC 12-128), with their styles."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import pyogrio.errors
import shapely

from wherestood.errors import InputError
from wherestood.record.export.layers import Column, Layer
from wherestood.record.export.map_styles import style_of

__all__ = ["write_geopackage"]

#: A table of styles as desktop mapping programs look for it: common practice.
_STYLES = """
CREATE TABLE layer_styles (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    f_table_catalog TEXT, f_table_schema TEXT, f_table_name TEXT,
    f_geometry_column TEXT, styleName TEXT, styleQML TEXT, styleSLD TEXT,
    useAsDefault BOOLEAN, description TEXT, owner TEXT, ui TEXT,
    update_time DATETIME DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now'))
)
"""
_REGISTER = """
INSERT INTO gpkg_contents (table_name, data_type, identifier, description)
VALUES ('layer_styles', 'attributes', 'layer_styles', 'How to draw the layers')
"""


def write_geopackage(path: Path, layers: Sequence[Layer]) -> None:
    """Write every layer that has rows; rows without a shape keep their words.

    Raises
    ------
    InputError
        If the file cannot be written. Nothing is left of it then.
    """
    passing = path.with_name(f".{path.stem}-passing.gpkg")
    try:
        passing.unlink(missing_ok=True)
        for number, layer in enumerate(one for one in layers if one.rows):
            _write_layer(passing, layer, append=number > 0)
        _write_styles(passing, [one for one in layers if one.rows])
        passing.replace(path)
    except (pyogrio.errors.DataSourceError, sqlite3.Error, OSError) as error:
        raise InputError(
            f"The file {path.name!r} cannot be written: {error}.",
            "Choose another folder.",
        ) from error
    finally:
        passing.unlink(missing_ok=True)


def _write_layer(path: Path, layer: Layer, *, append: bool) -> None:
    fields = [column.name for column in layer.columns]
    table = [_values(layer, column) for column in layer.columns]
    shapes = np.array([row.shape for row in layer.rows], dtype=object)
    pyogrio.raw.write(
        path,
        shapely.to_wkb(shapes),
        [values for values, _ in table],
        fields,
        field_mask=[mask for _, mask in table],
        layer=layer.name,
        driver="GPKG",
        geometry_type=layer.geometry,
        crs="EPSG:4326",
        append=append,
        layer_options={"IDENTIFIER": layer.title},
    )


def _values(layer: Layer, column: Column) -> tuple[Any, Any]:
    """Return a column's values, and which of them are not said."""
    cells = [row.cells[column.name] for row in layer.rows]
    if column.kind == "words":
        words = np.array([str(cell or "") for cell in cells], dtype=object)
        return words, words == ""
    unsaid = np.array([cell is None for cell in cells])
    kind: Any = np.int32 if column.kind == "whole" else np.float64
    return np.array([cell or 0 for cell in cells], dtype=kind), unsaid


def _write_styles(path: Path, layers: Sequence[Layer]) -> None:
    with closing(sqlite3.connect(path)) as book, book:
        book.execute(_STYLES)
        book.execute(_REGISTER)
        for layer in layers:
            style = style_of(layer.name)
            book.execute(
                "INSERT INTO layer_styles (f_table_catalog, f_table_schema, "
                "f_table_name, f_geometry_column, styleName, styleQML, styleSLD, "
                "useAsDefault, description, owner) "
                "VALUES ('', '', ?, 'geom', ?, ?, ?, 1, ?, '')",
                (layer.name, layer.name, style.qml, style.sld, layer.title),
            )
