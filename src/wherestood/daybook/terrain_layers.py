"""Take elevation models into a daybook whole, with where they came from."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import rasterio
from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.book import TERRAIN, Daybook
from wherestood.daybook.layer_paths import paths_of
from wherestood.daybook.layer_steps import measured_steps, other_layers
from wherestood.daybook.originals.lost import put_lost_back
from wherestood.daybook.originals.names import refuse_controls, safe_name
from wherestood.daybook.originals.passing import arrive, sweep
from wherestood.daybook.originals.take import named_files
from wherestood.daybook.same_heights import held_already
from wherestood.daybook.tables import TerrainLayer
from wherestood.daybook.trouble import told_plainly
from wherestood.errors import InputError, TerrainError
from wherestood.progress import SILENT, Progress
from wherestood.terrain.checksum import file_sha256
from wherestood.terrain.extent import box_of
from wherestood.terrain.intake import list_elevation_files
from wherestood.terrain.layer_step import overlap_of
from wherestood.terrain.sources import Source, survey

__all__ = ["LayerDetails", "LayerTaken", "paths_of", "take_terrain"]

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class LayerDetails:
    """Hold what a person says of a layer.

    Attributes
    ----------
    title : str or None
        Its title; the name of its file or folder unless told.
    provenance, licence, credit : str or None
        Who made it, how and when; its licence; the credit line that asks for.
    surface : str
        What its heights are of: ``ground``, ``top`` or ``unknown``.
    vertical_datum : str or None
        Where the files do not say.
    note : str or None
        Anything else.
    """

    title: str | None = None
    provenance: str | None = None
    licence: str | None = None
    credit: str | None = None
    surface: str = "unknown"
    vertical_datum: str | None = None
    note: str | None = None


@dataclass(frozen=True)
class LayerTaken:
    """Hold a layer that was taken in.

    Attributes
    ----------
    key : str
        What it is called by.
    rasters, files : int
        How many rasters it has, in how many files.
    box_deg : (west, south, east, north)
        What it covers [deg].
    cell_m : float
        Its finest cell [m].
    vertical_datum : str
        As the files say, else as told, else ``unknown``.
    steps : tuple of str
        The step to each layer that it overlaps, in words.
    notes : tuple of str
        What a person should know.
    """

    key: str
    rasters: int
    files: int
    box_deg: Box
    cell_m: float
    vertical_datum: str
    steps: tuple[str, ...]
    notes: tuple[str, ...]


def take_terrain(
    daybook: Daybook,
    path: Path,
    person: str,
    *,
    why: str = "",
    details: LayerDetails | None = None,
    leave: bool = False,
    progress: Progress = SILENT,
) -> LayerTaken:
    """Take an elevation model in: a raster, a folder of tiles or a zip of them.

    Parameters
    ----------
    daybook : Daybook
        Where.
    path : Path
        The model; a folder or zip is taken whole.
    person, why : str
        Who takes it in, and why.
    details : LayerDetails, optional
        What they say of it.
    leave : bool
        Leave the files where they are, and watch them by their checksums.
    progress : Progress
        Told how far it has come.

    Raises
    ------
    TerrainError
        If a raster of it cannot be used, naming it.
    InputError
        If the daybook has it already.
    DaybookError
        If it cannot be written. Nothing is half-taken, whatever happens.
    """
    details = details or LayerDetails()
    refuse_controls(path.name)
    sources = _surveyed(path, progress)
    files = list(_files_of(path, sources))
    checksums = {file: file_sha256(file, progress) for file in files}
    box = _joined([box_of(source) for source in sources])
    with daybook.reading() as session:
        _refuse_again(daybook, session, path, checksums)
        others = other_layers(daybook, session)
    near = {o.key: o.checksums for o in others if overlap_of(box, o.box) is not None}
    again = held_already(path, checksums, near)
    title = details.title or path.stem
    overlaps, steps = measured_steps([path], box, others, title, progress)
    datum, notes = _datum(sources, details)
    notes += again
    values: dict[str, Any] = {
        "title": details.title or path.stem,
        "kept": "left in place" if leave else "taken in",
        "provenance": details.provenance,
        "licence": details.licence,
        "credit": details.credit,
        "surface": details.surface,
        "vertical_datum": datum,
        "crs": sources[0].reference.crs,
        "cell_m": min(source.cell_m for source in sources),
        "overlaps": overlaps or None,
        "note": details.note,
        "west_deg": box[0],
        "south_deg": box[1],
        "east_deg": box[2],
        "north_deg": box[3],
    }

    def has_row(file: str) -> bool:
        return file in named_files(daybook)

    root = path if path.is_dir() else path.parent
    with told_plainly(daybook.folder), ExitStack() as stack:
        if leave:
            records = [
                _record(os.path.abspath(file), file, checksums[file])  # noqa: PTH100
                for file in files
            ]
        else:
            sweep(daybook.folder, has_row)
            home = f"{TERRAIN}/{_free_folder(daybook, safe_name(path.stem))}"
            stack.callback(_let_go, daybook.path(home))
            records = []
            for file in files:
                inside = file.relative_to(root)
                within = "/".join([home, *map(safe_name, inside.parent.parts)])
                arrival = stack.enter_context(
                    arrive(
                        daybook.folder,
                        file,
                        within,
                        safe_name(file.name),
                        has_row,
                        expected_sha256=checksums[file],
                        progress=progress,
                    )
                )
                records.append(_record(arrival.file, file, arrival.sha256))
        with daybook.writing(person, why) as session:
            layer = TerrainLayer(files=records, **values)
            session.add(layer)
            session.flush()
            key = layer.key
    return LayerTaken(
        key, len(sources), len(files), box, values["cell_m"], datum, steps, notes
    )


def _surveyed(path: Path, progress: Progress) -> list[Source]:
    listed = list_elevation_files([path])
    progress.stage("looking at elevation files", len(listed))
    sources = []
    for file in listed:
        source = survey(file)
        if source is None:
            raise TerrainError(f"{file.name} covers no ground.", "Leave it out.")
        sources.append(source)
        progress.advance()
    return sources


def _files_of(path: Path, sources: Sequence[Source]) -> Iterator[Path]:
    """Give every file that belongs to a model; a folder is taken whole."""
    if path.is_dir():
        for file in sorted(path.rglob("*")):
            inside = file.relative_to(path)
            hidden = any(part.startswith(".") for part in inside.parts)
            if file.is_file() and not file.is_symlink() and not hidden:
                refuse_controls(file.name)
                yield file
        return
    if path.suffix.lower() == ".zip":
        yield path
        return
    belonging = {path}
    for source in sources:
        with rasterio.open(source.file.gdal_path) as dataset:
            belonging |= {Path(name) for name in dataset.files}
    for suffix in (".prj", ".crs.txt"):
        sidecar = path.with_suffix(suffix)
        if sidecar.is_file():
            belonging.add(sidecar)
    for file in sorted(belonging):
        if not file.resolve().is_relative_to(path.parent.resolve()):
            raise TerrainError(
                f"{path.name} gathers files of other folders, such as {file}.",
                "Take the folder that holds them all, or leave it in place.",
            )
        yield file


def _refuse_again(
    daybook: Daybook, session: Session, path: Path, checksums: dict[Path, str]
) -> None:
    wanted = select(TerrainLayer).where(TerrainLayer.removed.is_(False))
    for layer in session.scalars(wanted):
        there = {record.get("sha256") for record in layer.files or ()}
        if there and there == set(checksums.values()):
            named = [(str(r["file"]), str(r["sha256"])) for r in layer.files or ()]
            sources = {sha256: file for file, sha256 in checksums.items()}
            raise InputError(
                f"The elevation model {path.name!r} is in the daybook already, as "
                f"{layer.key}.",
                put_lost_back(daybook, named, sources),
            )


def _joined(boxes: Sequence[Box]) -> Box:
    west, south = min(box[0] for box in boxes), min(box[1] for box in boxes)
    east, north = max(box[2] for box in boxes), max(box[3] for box in boxes)
    return west, south, east, north


def _datum(
    sources: Sequence[Source], details: LayerDetails
) -> tuple[str, tuple[str, ...]]:
    """Return the vertical datum, and notes; what the files say counts first."""
    said = {source.reference.vertical_datum for source in sources} - {"unknown"}
    notes = tuple(
        dict.fromkeys(
            note
            for source in sources
            for note in source.notes
            if note.startswith("Warning:")
        )
    )
    if len(said) > 1:
        notes += (
            f"Warning: its files are on different vertical datums: {sorted(said)}.",
        )
    if said and details.vertical_datum and details.vertical_datum not in said:
        notes += (
            f"Warning: its files say the datum is {sorted(said)[0]!r}, not "
            f"{details.vertical_datum!r}: they are believed.",
        )
    return (sorted(said)[0] if said else details.vertical_datum or "unknown"), notes


def _record(file: str, source: Path, sha256: str) -> dict[str, Any]:
    return {"file": file, "sha256": sha256, "size_bytes": source.stat().st_size}


def _let_go(folder: Path) -> None:
    """Take a folder away again if nothing came into it."""
    with suppress(OSError):
        folder.rmdir()


def _free_folder(daybook: Daybook, name: str) -> str:
    """Make a folder that nobody has; another who takes in at once gets another one."""
    home = daybook.folder / TERRAIN
    number, wanted = 1, name
    while True:
        taken = {path.name.casefold() for path in home.iterdir()}
        if wanted.casefold() not in taken:
            with suppress(FileExistsError):
                (home / wanted).mkdir()
                return wanted
        number += 1
        wanted = f"{name} ({number})"
