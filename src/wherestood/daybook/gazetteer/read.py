"""Read a gazetteer of any kind of file."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from shapely.geometry.base import BaseGeometry

from wherestood.daybook.gazetteer.columns import tell_columns
from wherestood.daybook.gazetteer.entry import GazetteerEntry
from wherestood.daybook.gazetteer.from_layer import (
    LAYER_SUFFIXES,
    layers_with_shapes,
    read_layer,
)
from wherestood.daybook.gazetteer.from_values import entry_of
from wherestood.daybook.sheets import Refusal, read_sheet
from wherestood.errors import InputError
from wherestood.progress import SILENT, Progress

__all__ = ["Gazetteer", "read_gazetteer", "read_whole_gazetteer"]

_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")


@dataclass(frozen=True)
class Gazetteer:
    """Hold what a file tells of the ground.

    Attributes
    ----------
    name : str
        The file's name.
    columns : tuple of str
        Its columns.
    meanings : dict of str to str
        Meaning by column, as it was used.
    entries : tuple of GazetteerEntry
        What can be taken.
    refused : tuple of Refusal
        What cannot.
    notes : tuple of str
        How it was read.
    """

    name: str
    columns: tuple[str, ...]
    meanings: dict[str, str]
    entries: tuple[GazetteerEntry, ...]
    refused: tuple[Refusal, ...]
    notes: tuple[str, ...]


def read_gazetteer(
    path: Path,
    *,
    told: Mapping[str, str] | None = None,
    crs: str | None = None,
    layer: str | None = None,
    encoding: str | None = None,
    delimiter: str | None = None,
    progress: Progress = SILENT,
) -> Gazetteer:
    """Read features from a file.

    Parameters
    ----------
    path : Path
        GeoJSON, GeoPackage, KML, GPX, shapefile, CSV or XLSX.
    told : mapping of str to str, optional
        What columns mean, by column (`columns.MEANINGS`); told by their names
        otherwise.
    crs : str, optional
        Reference system of easting and northing, or of a file that does not say.
    layer : str, optional
        Layer or sheet.
    encoding, delimiter : str, optional
        Of a CSV file.
    progress : Progress
        Told how far it has come.

    Raises
    ------
    InputError
        If nothing of it can be read.
    """
    if not path.is_file():
        raise InputError(f"There is no file {str(path)!r}.", "Check its name.")
    refused: list[Refusal] = []
    rows: Iterator[tuple[str, dict[str, str], BaseGeometry | None]]
    if path.suffix.lower() in LAYER_SUFFIXES:
        columns, rows, notes = read_layer(path, layer=layer, crs=crs)
        system = None
    else:
        sheet = read_sheet(path, encoding=encoding, delimiter=delimiter, sheet=layer)
        columns, notes, system = sheet.columns, sheet.notes, crs
        refused += sheet.refused
        rows = iter((f"row {row.number}", row.values, None) for row in sheet.rows)
    meant = tell_columns(columns, told)
    progress.stage("reading features", None)
    entries = []
    for where, values, shape in rows:
        progress.advance()
        what = values.get(meant.by_meaning.get("name", ""), "")
        try:
            _refuse_controls(values)
            entry = entry_of(where, values, meant, shape=shape, crs=system)
        except InputError as error:
            shown = _CONTROL.sub("\N{REPLACEMENT CHARACTER}", what)[:40]
            refused.append(Refusal(where, shown, str(error)))
        else:
            entries.append(entry)
    by_column = {column: meaning for meaning, column in meant.by_meaning.items()}
    by_column |= {c: f"name in {language}" for c, language in meant.names.items()}
    return Gazetteer(
        path.name, columns, by_column, tuple(entries), tuple(refused), notes
    )


def read_whole_gazetteer(path: Path, *, progress: Progress = SILENT) -> Gazetteer:
    """Read features from a file, from every layer of it.

    Parameters
    ----------
    path : Path
        As of `read_gazetteer`.
    progress : Progress
        Told how far it has come.

    Raises
    ------
    InputError
        If nothing of it can be read, or a layer cannot.
    """
    layers: list[str] = []
    if path.suffix.lower() in LAYER_SUFFIXES and path.is_file():
        layers = layers_with_shapes(path)
    if len(layers) < 2:
        return read_gazetteer(path, progress=progress)
    parts = [read_gazetteer(path, layer=one, progress=progress) for one in layers]
    return replace(
        parts[0],
        columns=tuple(dict.fromkeys(c for part in parts for c in part.columns)),
        meanings={c: m for part in parts for c, m in part.meanings.items()},
        entries=tuple(entry for part in parts for entry in part.entries),
        refused=tuple(one for part in parts for one in part.refused),
        notes=tuple(note for part in parts for note in part.notes),
    )


def _refuse_controls(values: Mapping[str, str]) -> None:
    for column, value in values.items():
        if found := _CONTROL.search(value):
            raise InputError(
                f"column {column!r} holds the control character "
                f"U+{ord(found.group()):04X}; take it out."
            )
