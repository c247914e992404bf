"""Measure the step in height between terrain layers that overlap."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.book import Daybook
from wherestood.daybook.keys import find
from wherestood.daybook.layer_paths import paths_of
from wherestood.daybook.tables import TerrainLayer
from wherestood.errors import TerrainError
from wherestood.progress import SILENT, Progress
from wherestood.terrain.layer_step import measure_layer_step, overlap_of

__all__ = ["OtherLayer", "measure_what_came", "measured_steps", "other_layers"]

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class OtherLayer:
    """Hold a layer that is in the daybook."""

    key: str
    title: str
    paths: list[Path]
    box: Box
    checksums: dict[Path, str]


def other_layers(daybook: Daybook, session: Session) -> list[OtherLayer]:
    """Return the layers of a daybook that say where they lie."""
    wanted = select(TerrainLayer).where(
        TerrainLayer.removed.is_(False), TerrainLayer.withdrawn.is_(None)
    )
    found = []
    for layer in session.scalars(wanted.order_by(TerrainLayer.key)):
        west, south = layer.west_deg, layer.south_deg
        east, north = layer.east_deg, layer.north_deg
        if west is None or south is None or east is None or north is None:
            continue
        title = layer.title or layer.key
        box = (west, south, east, north)
        checksums = {
            daybook.path(str(record["file"])): str(record.get("sha256"))
            for record in layer.files or ()
        }
        paths = paths_of(daybook, layer)
        found.append(OtherLayer(layer.key, title, paths, box, checksums))
    return found


def measured_steps(
    paths: list[Path],
    box: Box,
    others: Sequence[OtherLayer],
    title: str,
    progress: Progress,
) -> tuple[list[dict[str, Any]], tuple[str, ...]]:
    """Measure the step to each layer that one overlaps; nothing is blended.

    Parameters
    ----------
    paths : list of Path
        What opens it.
    box : (west, south, east, north)
        Where it lies [deg].
    others : sequence of OtherLayer
        As `other_layers` gives them.
    title : str
        What it is called.
    progress : Progress
        Told how far it has come.

    Returns
    -------
    records : list of dict
        As a layer's ``overlaps`` holds them.
    sentences : tuple of str
    """
    records: list[dict[str, Any]] = []
    sentences: list[str] = []
    for other in others:
        shared = overlap_of(box, other.box)
        if shared is None:
            continue
        try:
            measured = measure_layer_step(paths, other.paths, shared, progress)
        except TerrainError as error:
            sentence = f"Warning: the step to {other.title} cannot be measured: {error}"
            records.append({"layer": other.key, "sentence": sentence})
            sentences.append(sentence)
            continue
        sentence = measured.sentence(title, other.title)
        record: dict[str, Any] = {"layer": other.key, "sentence": sentence}
        if measured.step is not None:
            sign = -1.0 if measured.finer_is_first else 1.0
            record |= {
                "stands_m": round(sign * measured.step.median_m, 3),
                "median_absolute_deviation_m": round(measured.step.mad_m, 3),
                "places": measured.step.nodes,
            }
        records.append(record)
        sentences.append(sentence)
    return records, tuple(sentences)


def measure_what_came(
    daybook: Daybook, keys: Collection[str], person: str, progress: Progress = SILENT
) -> tuple[str, ...]:
    """Measure the steps of layers that came by a merge to those that were here.

    Parameters
    ----------
    daybook : Daybook
        Where they are now.
    keys : collection of str
        Those that came.
    person : str
        Who merges.
    progress : Progress
        Told how far it has come.

    Returns
    -------
    tuple of str
        Of each pair that was not measured before, in a sentence; kept with the layer.
    """
    said: list[str] = []
    for key in sorted(keys):
        with daybook.reading() as session:
            layer = find(session, TerrainLayer, key)
            every = other_layers(daybook, session)
            told = {
                one.key: {str(record.get("layer")) for record in one.overlaps or ()}
                for one in session.scalars(select(TerrainLayer))
            }
        mine = next((one for one in every if one.key == key), None)
        others = [
            one
            for one in every
            if one.key not in {key, *told[key]} and key not in told[one.key]
        ]
        if mine is None or not all(path.exists() for path in mine.paths):
            continue
        reached = [one for one in others if all(path.exists() for path in one.paths)]
        records, sentences = measured_steps(
            mine.paths, mine.box, reached, mine.title, progress
        )
        if not records:
            continue
        # As of the merge itself: two copies that measure alike do not disagree.
        with daybook.writing(
            person, "measured after merging", action="merge"
        ) as session:
            layer = find(session, TerrainLayer, key)
            layer.overlaps = [*(layer.overlaps or ()), *records]
        said += sentences
    return tuple(said)
