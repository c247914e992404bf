"""List the elevation files that a path, a folder or a zip stands for."""

from __future__ import annotations

import html
import re
import warnings
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

import rasterio
from rasterio.errors import NotGeoreferencedWarning, RasterioIOError

from wherestood.errors import TerrainError

__all__ = [
    "FORMATS_EXPECTED",
    "ElevationFile",
    "holds_heights",
    "list_elevation_files",
    "raster_suffixes",
]

FORMATS_EXPECTED = (
    "Expected GeoTIFF, ASCII grid, HGT, IMG, FLT, VRT, XYZ or an Arc/Info grid."
)

_RASTER_SUFFIXES = frozenset(
    {".tif", ".tiff", ".gtiff", ".asc", ".grd", ".hgt", ".vrt", ".img", ".flt"}
    | {".bil", ".bip", ".bsq", ".dem", ".ddf", ".dt0", ".dt1", ".dt2", ".xyz"}
    | {".ter", ".bt", ".nc", ".jp2", ".rst", ".sdat", ".gpkg"}
)
# An Arc/Info binary grid is a folder; this file in it holds the heights.
_ADF_MAIN = "w001001.adf"
_HEAD_BYTES = 512
_XML = re.compile(rb"(\xef\xbb\xbf)?\s*<[?!A-Za-z]")
_NETWORK_PREFIX = re.compile(
    r"/vsi(curl|s3|gs|az|adls|oss|swift|hdfs|webhdfs)|https?://|ftp://", re.IGNORECASE
)


@dataclass(frozen=True)
class ElevationFile:
    """Say where one raster lies.

    Attributes
    ----------
    name : str
        Name to show: the path as given, with the part inside a folder or zip.
    gdal_path : str
        What GDAL opens.
    checksum_path : pathlib.Path
        The file on disk that the checksum is taken of; the zip of a zipped file.
    notes : tuple of str
        What was noticed, in plain words.
    """

    name: str
    gdal_path: str
    checksum_path: Path
    notes: tuple[str, ...] = ()


def holds_heights(path: Path) -> bool:
    """Tell whether a TIFF is a grid of numbers that lies somewhere, not a picture.

    So are elevation models: one band, in coordinates, of more than eight bits.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)
            with rasterio.open(path, driver="GTiff") as opened:
                one = opened.count == 1 and opened.crs is not None
                return bool(one and opened.dtypes[0] != "uint8")
    except RasterioIOError:
        return False


def raster_suffixes() -> frozenset[str]:
    """Return the endings of names that may be rasters, or zips of them."""
    return _RASTER_SUFFIXES | {".adf", ".zip"}


def list_elevation_files(paths: Sequence[Path | str]) -> tuple[ElevationFile, ...]:
    """List every raster under the given paths, in a fixed order.

    Parameters
    ----------
    paths : sequence of path or str
        Rasters, folders of rasters (searched to any depth) and zips of either.

    Returns
    -------
    tuple of ElevationFile
        At least one.

    Raises
    ------
    TerrainError
        If a path does not exist, holds no raster, is an unsafe or damaged zip,
        or reaches out to the network.
    """
    if not paths:
        raise TerrainError(
            "No elevation file was given.", "Name at least one file, folder or zip."
        )
    found: dict[str, ElevationFile] = {}
    for path in map(Path, paths):
        for file in _files_of(path):
            found.setdefault(file.gdal_path, file)
    for file in found.values():  # before any is opened
        _refuse_network_reference(file)
    return _without_members_of_mosaics(tuple(found.values()))


def _files_of(path: Path) -> Iterator[ElevationFile]:
    if not path.exists():
        raise TerrainError(
            f"Elevation file {path} does not exist.", "Check the name and the folder."
        )
    if path.is_dir():
        yield from _files_in_folder(path)
    elif path.suffix.lower() == ".zip":
        yield from _files_in_zip(path, str(path))
    else:
        yield ElevationFile(str(path), str(path), path)


def _files_in_folder(folder: Path) -> list[ElevationFile]:
    files: list[ElevationFile] = []
    for path in sorted(folder.rglob("*")):
        if path.is_dir():
            continue
        if path.name.lower() == _ADF_MAIN:
            files.append(ElevationFile(str(path.parent), str(path.parent), path))
        elif path.suffix.lower() == ".zip":
            files.extend(_files_in_zip(path, str(path)))
        elif _is_raster_name(path.name):
            files.append(ElevationFile(str(path), str(path), path))
    if not files:
        raise TerrainError(
            f"Folder {folder} holds no elevation raster.",
            FORMATS_EXPECTED,
        )
    return files


def _files_in_zip(path: Path, name: str) -> list[ElevationFile]:
    try:
        with zipfile.ZipFile(path) as archive:
            members = [m for m in archive.infolist() if not m.is_dir()]
    except zipfile.BadZipFile as error:
        raise TerrainError(
            f"{name} is no zip, or a damaged one.", "Fetch it again."
        ) from error
    for member in members:
        _refuse_unsafe_member(name, member)
    note = f"read from inside {path.name}; the checksum is of the zip"
    files: list[ElevationFile] = []
    for inner in sorted(member.filename for member in members):
        inside = PurePosixPath(inner)
        if inside.name.lower() == _ADF_MAIN:
            inside = inside.parent
        elif not _is_raster_name(inside.name):
            continue
        gdal_path = f"/vsizip/{{{path.resolve()}}}/{inside}"
        files.append(ElevationFile(f"{name}/{inside}", gdal_path, path, (note,)))
    if not files:
        raise TerrainError(
            f"Zip {name} holds no elevation raster.",
            f"{FORMATS_EXPECTED} A zip inside a zip must be taken out first.",
        )
    return files


def _refuse_unsafe_member(name: str, member: zipfile.ZipInfo) -> None:
    # Nothing is unpacked, yet a zip that tries to climb out is not to be trusted.
    inside = PurePosixPath(member.filename.replace("\\", "/"))
    if inside.is_absolute() or ".." in inside.parts or ":" in inside.parts[0]:
        raise TerrainError(
            f"Zip {name} holds the unsafe file name {member.filename!r}, which points "
            "outside the zip.",
            "Get the data again from a source you trust.",
        )
    if member.flag_bits & 0x1:
        raise TerrainError(
            f"Zip {name} is locked with a password.", "Unpack it and give the folder."
        )


def _is_raster_name(name: str) -> bool:
    return Path(name).suffix.lower() in _RASTER_SUFFIXES and not name.startswith(".")


def _without_members_of_mosaics(
    files: tuple[ElevationFile, ...],
) -> tuple[ElevationFile, ...]:
    """Drop the tiles that a VRT among the files already gathers."""
    if len(files) == 1:
        return files
    gathered: set[str] = set()
    for file in files:
        if file.gdal_path.lower().endswith(".vrt"):
            gathered |= {
                _comparable(member)
                for member in _members(file)
                if _comparable(member) != _comparable(file.gdal_path)
            }
    return tuple(f for f in files if _comparable(f.gdal_path) not in gathered)


def _members(file: ElevationFile) -> list[str]:
    try:
        with rasterio.open(file.gdal_path) as dataset:
            return list(dataset.files)
    except RasterioIOError as error:
        raise TerrainError(
            f"{file.name} cannot be read as a raster.",
            "A VRT needs the files that it lists beside it.",
        ) from error


def _comparable(gdal_path: str) -> str:
    if gdal_path.startswith("/vsi"):
        return gdal_path
    return str(Path(gdal_path).resolve())


def _refuse_network_reference(file: ElevationFile) -> None:
    """Refuse a list of rasters that names some on the network, whatever its name."""
    if not _is_vrt(file) and not _starts_as_list(file):
        return
    # A reference in XML may be written by its characters' numbers.
    if _NETWORK_PREFIX.search(html.unescape(_text_of(file).decode("latin-1"))):
        raise TerrainError(
            f"{file.name} refers to data on the network.",
            "Fetch the data first and give the files themselves.",
        )


def _is_vrt(file: ElevationFile) -> bool:
    return file.gdal_path.lower().endswith(".vrt")


def _starts_as_list(file: ElevationFile) -> bool:
    """Tell whether a file is XML, as lists of rasters and of services are."""
    if file.checksum_path.suffix.lower() != ".zip":
        with file.checksum_path.open("rb") as stream:
            head = stream.read(_HEAD_BYTES)
    else:
        inside = file.gdal_path.rpartition("}/")[2]
        try:
            with (
                zipfile.ZipFile(file.checksum_path) as archive,
                archive.open(inside) as member,
            ):
                head = member.read(_HEAD_BYTES)
        except (KeyError, OSError, zipfile.BadZipFile, zlib.error, NotImplementedError):
            return False  # a grid that is a folder, or damaged: told when it is opened
    return _XML.match(head) is not None


def _text_of(file: ElevationFile) -> bytes:
    if file.checksum_path.suffix.lower() != ".zip":
        return file.checksum_path.read_bytes()
    inside = file.gdal_path.rpartition("}/")[2]
    with zipfile.ZipFile(file.checksum_path) as archive:
        return archive.read(inside)
