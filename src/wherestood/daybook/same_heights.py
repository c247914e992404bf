"""Tell whether layers hold a model's rasters already, in a zip or out of one."""

from __future__ import annotations

import hashlib
import zipfile
import zlib
from collections.abc import Collection, Iterator, Mapping
from pathlib import Path

from wherestood.errors import InputError
from wherestood.terrain.intake import raster_suffixes

__all__ = ["held_already"]

_READ_BYTES = 1 << 20


def held_already(
    path: Path,
    checksums: Mapping[Path, str],
    layers: Mapping[str, Mapping[Path, str]],
) -> tuple[str, ...]:
    """Return notes of rasters that layers hold already.

    Parameters
    ----------
    path : Path
        The model that comes in: a raster, a folder or a zip.
    checksums : mapping of Path to str
        SHA-256 of each of its files.
    layers : mapping of str to mapping
        The same of each layer that it may repeat, by the layer's key.

    Raises
    ------
    InputError
        If one layer holds all of them, byte for byte.
    """
    ours = _rasters_in(checksums)
    notes = []
    for key, theirs in layers.items():
        shared = ours & _rasters_in(theirs)
        if ours and shared == ours:
            raise InputError(
                f"The elevation model {path.name!r} is in the daybook already: all its "
                f"heights are among those of {key}, byte for byte.",
                "Nothing needs doing.",
            )
        if shared:
            notes.append(
                f"Note: {len(shared)} of its {len(ours)} rasters are in {key} already, "
                "byte for byte."
            )
    return tuple(notes)


def _rasters_in(checksums: Mapping[Path, str]) -> frozenset[str]:
    """Return checksums of the rasters of a model; a zip's are those of its members."""
    suffixes = raster_suffixes()
    found: set[str] = set()
    for file, sha256 in checksums.items():
        if file.suffix.lower() == ".zip":
            found |= set(_rasters_in_zip(file, suffixes))
        elif file.suffix.lower() in suffixes:
            found.add(sha256)
    return frozenset(found)


def _rasters_in_zip(path: Path, suffixes: Collection[str]) -> Iterator[str]:
    try:
        with zipfile.ZipFile(path) as archive:
            for member in archive.infolist():
                if Path(member.filename).suffix.lower() in suffixes:
                    digest = hashlib.sha256()
                    with archive.open(member) as stream:
                        while block := stream.read(_READ_BYTES):
                            digest.update(block)
                    yield digest.hexdigest()
    except (OSError, zipfile.BadZipFile, zlib.error, EOFError, RuntimeError):
        return  # a layer's own file that is lost or damaged: verify tells of it
