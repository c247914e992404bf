"""Name the forms in which plates are handed out, and write those wanted."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from pathlib import Path

from wherestood.errors import InputError, PlateError
from wherestood.progress import SILENT, Progress
from wherestood.record.export.dublin import write_dublin_core_terms
from wherestood.record.export.embedded import EMBEDDED_SUFFIXES, embed
from wherestood.record.export.face import write_face
from wherestood.record.export.geojson import write_geojson
from wherestood.record.export.geopackage import write_geopackage
from wherestood.record.export.geopose import write_geopose
from wherestood.record.export.gpx import write_gpx
from wherestood.record.export.handed import HandedOut
from wherestood.record.export.iiif import write_iiif
from wherestood.record.export.json_ld import write_json_ld
from wherestood.record.export.kml import write_kml
from wherestood.record.export.layers import Layer, layers_of
from wherestood.record.export.page import write_page
from wherestood.record.export.picture_files import write_picture_file
from wherestood.record.export.tables import tables_of, write_csv, write_xlsx
from wherestood.record.export.xmp import write_xmp

__all__ = ["FORMATS", "PICTURES", "Written", "check_formats", "write_formats"]


@dataclass(frozen=True)
class Written:
    """Say what was written.

    Attributes
    ----------
    forms : tuple of str
    without_picture : tuple of str
        Plates whose scans cannot be read whole.
    """

    forms: tuple[str, ...]
    without_picture: tuple[str, ...] = ()


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


def _dublin_core(folder: Path, handed: HandedOut, _layers: Layers) -> None:
    write_dublin_core_terms(folder / "plates.dublin-core.xml", handed)


def _json_ld(folder: Path, handed: HandedOut, _layers: Layers) -> None:
    write_json_ld(folder / "plates.jsonld", handed)


def _iiif(folder: Path, handed: HandedOut, _layers: Layers) -> None:
    write_iiif(folder, handed, handed.address)


def _xmp(folder: Path, handed: HandedOut, _layers: Layers) -> None:
    beside = folder / "xmp"
    beside.mkdir()
    stems, features = handed.stems(), {one.key: one for one in handed.features}
    for plate in handed.plates:
        write_xmp(beside / f"{stems[plate.name]}.xmp", plate, features)


def _embedded(folder: Path, handed: HandedOut, _layers: Layers) -> None:
    """Copy scans, or in public the pictures to look at, and write into the copies."""
    shown = [plate for plate in handed.plates if plate.picture is not None]
    if not shown:
        return
    copies = folder / "embedded"
    copies.mkdir()
    stems, features = handed.stems(), {one.key: one for one in handed.features}
    for plate in shown:
        assert plate.picture is not None
        source = folder / PICTURES / f"{stems[plate.name]}.jpg"
        scan = plate.picture.scan
        if not handed.is_public and scan.suffix.lower() in EMBEDDED_SUFFIXES:
            source = scan
        copy = copies / f"{stems[plate.name]}{source.suffix.lower()}"
        shutil.copyfile(source, copy)  # rights of the original do not come along
        try:
            embed(copy, plate, features)
        except PlateError:
            copy.unlink()  # the picture to look at stands in its place
            copy = copies / f"{stems[plate.name]}.jpg"
            shutil.copyfile(folder / PICTURES / f"{stems[plate.name]}.jpg", copy)
            embed(copy, plate, features)


def _page(folder: Path, handed: HandedOut, layers: Layers) -> None:
    write_page(folder, handed, layers)


_WRITERS: dict[str, Writer] = {
    "geojson": _geojson,
    "geopackage": _geopackage,
    "kml": _kml,
    "gpx": _gpx,
    "csv": _csv,
    "xlsx": _xlsx,
    "geopose": _geopose,
    "dublin-core": _dublin_core,
    "json-ld": _json_ld,
    "iiif": _iiif,
    "page": _page,
    "xmp": _xmp,
    "embedded": _embedded,
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
    "dublin-core": "Dublin Core: for catalogues and repositories",
    "json-ld": "JSON-LD in the words of schema.org: for the web of data",
    "iiif": "IIIF manifests: pictures with their marks, for viewers on the web",
    "page": "A page for any browser, offline: open index.html",
    "xmp": "XMP: metadata to lie beside a picture",
    "embedded": "Copies of the pictures with the metadata inside, pixels untouched",
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
    wanted: Collection[str] | None = None,
    progress: Progress = SILENT,
) -> Written:
    """Write what is handed out into a folder that is there.

    Pictures to look at go along, and a page of plain words, ``README.txt``, says
    what all of it is, what was withheld, and who holds which rights.

    Parameters
    ----------
    folder : Path
    handed : HandedOut
    wanted : collection of str, optional
        Of `FORMATS`; all unless told.
    progress : Progress
        Told of each form.

    Returns
    -------
    Written
    """
    # None named is all, and none wanted none.
    names = () if wanted is not None and not wanted else check_formats(wanted or ())
    handed, without = _pictures(folder, handed, progress)
    layers = layers_of(handed)
    progress.stage("writing", len(names))
    for name in names:
        _WRITERS[name](folder, handed, layers)
        progress.advance()
    write_face(folder, handed, names)
    return Written(names, without)


def _pictures(
    folder: Path, handed: HandedOut, progress: Progress
) -> tuple[HandedOut, tuple[str, ...]]:
    """Write the pictures to look at; return what is left, and which cannot be read."""
    shown = [plate for plate in handed.plates if plate.picture is not None]
    if not shown:
        return handed, ()
    progress.stage("writing pictures", len(shown))
    (folder / PICTURES).mkdir()
    stems = handed.stems()
    without = []
    for plate in shown:
        assert plate.picture is not None
        path = folder / PICTURES / f"{stems[plate.name]}.jpg"
        try:
            write_picture_file(
                plate.picture.scan,
                path,
                page=plate.picture.page,
                negative=plate.picture.negative,
                reversed=plate.picture.reversed,
            )
        except PlateError:
            path.unlink(missing_ok=True)
            without.append(plate.name)
        progress.advance()
    kept = tuple(
        replace(plate, picture=None) if plate.name in without else plate
        for plate in handed.plates
    )
    return replace(handed, plates=kept), tuple(without)
