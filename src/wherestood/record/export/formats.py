"""Name the forms in which plates are handed out, and write those wanted."""

from __future__ import annotations

from collections.abc import Callable, Collection
from pathlib import Path

from wherestood.errors import InputError
from wherestood.progress import SILENT, Progress
from wherestood.record.export.face import write_face
from wherestood.record.export.geojson import write_geojson
from wherestood.record.export.geopackage import write_geopackage
from wherestood.record.export.geopose import write_geopose
from wherestood.record.export.gpx import write_gpx
from wherestood.record.export.handed import HandedOut
from wherestood.record.export.kml import write_kml
from wherestood.record.export.layers import Layer, layers_of
from wherestood.record.export.picture_files import write_picture_file
from wherestood.record.export.tables import tables_of, write_csv, write_xlsx

__all__ = ["FORMATS", "check_formats", "write_formats"]

Layers = tuple[Layer, ...]
PICTURES = "pictures"
Writer = Callable[[Path, HandedOut, Layers], None]


def _geojson(folder: Path, _handed: HandedOut, layers: Layers) -> None:
    write_geojson(folder / "places.geojson", layers)


def _geopackage(folder: Path, _handed: HandedOut, layers: Layers) -> None:
    write_geopackage(folder / "places.gpkg", layers)


def _kml(folder: Path, handed: HandedOut, layers: Layers) -> None:
    write_kml(folder / "places.kml", handed, layers)


def _gpx(folder: Path, handed: HandedOut, layers: Layers) -> None:
    write_gpx(folder / "places.gpx", handed, layers)


def _csv(folder: Path, handed: HandedOut, layers: Layers) -> None:
    write_csv(folder, tables_of(handed, layers))


def _xlsx(folder: Path, handed: HandedOut, layers: Layers) -> None:
    write_xlsx(folder / "plates.xlsx", tables_of(handed, layers))


def _geopose(folder: Path, handed: HandedOut, _layers: Layers) -> None:
    poses = folder / "geopose"
    poses.mkdir()
    stems = handed.stems()
    for plate in handed.plates:
        write_geopose(poses, plate, stems[plate.name])
    if not any(poses.iterdir()):
        poses.rmdir()


_WRITERS: dict[str, Writer] = {
    "geojson": _geojson,
    "geopackage": _geopackage,
    "kml": _kml,
    "gpx": _gpx,
    "csv": _csv,
    "xlsx": _xlsx,
    "geopose": _geopose,
}
#: What each form is for, by its name.
FORMATS: dict[str, str] = {
    "geojson": "GeoJSON (RFC 7946): places, regions, views, things on the ground",
    "geopackage": "GeoPackage: the same as layers with styles",
    "kml": "KML: the same, and each plate hung in its view",
    "gpx": "GPX: places to walk to",
    "csv": "CSV: tables of plates and places",
    "xlsx": "XLSX: the same tables in one workbook",
    "geopose": "OGC GeoPose: how each camera stood",
}


def check_formats(wanted: Collection[str]) -> tuple[str, ...]:
    """Return the forms wanted, in order; all where none is named.

    Raises
    ------
    InputError
        If one is not known.
    """
    for name in wanted:
        if name not in FORMATS:
            raise InputError(
                f"There is no form {name!r} of handing out.",
                f"Choose of {', '.join(FORMATS)}.",
            )
    return tuple(name for name in FORMATS if name in wanted or not wanted)


def write_formats(
    folder: Path,
    handed: HandedOut,
    wanted: Collection[str] = (),
    progress: Progress = SILENT,
) -> tuple[str, ...]:
    """Write what is handed out into a folder that is there and empty.

    Pictures to look at go along, and a page of plain words, ``README.txt``, says
    what all of it is, what was withheld, and who holds which rights.

    Parameters
    ----------
    folder : Path
    handed : HandedOut
    wanted : collection of str
        Of `FORMATS`; all where none is named.
    progress : Progress
        Told of each form.

    Returns
    -------
    tuple of str
        The forms written.
    """
    names = check_formats(wanted)
    layers = layers_of(handed)
    _pictures(folder, handed, progress)
    progress.stage("writing", len(names))
    for name in names:
        _WRITERS[name](folder, handed, layers)
        progress.advance()
    write_face(folder, handed, names)
    return names


def _pictures(folder: Path, handed: HandedOut, progress: Progress) -> None:
    """Write the pictures to look at, named by their plates."""
    shown = [plate for plate in handed.plates if plate.picture is not None]
    if not shown:
        return
    progress.stage("writing pictures", len(shown))
    (folder / PICTURES).mkdir()
    stems = handed.stems()
    for plate in shown:
        assert plate.picture is not None
        write_picture_file(
            plate.picture.scan,
            folder / PICTURES / f"{stems[plate.name]}.jpg",
            page=plate.picture.page,
            negative=plate.picture.negative,
        )
        progress.advance()
