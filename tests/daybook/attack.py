"""Try to recover numbers from files, whatever these are: every byte is read.

Text, zipped members, what a PDF packs, what a page carries encoded, and binary numbers
at any offset: doubles, singles and ratios of whole numbers (as EXIF has them), either
byte order; degrees with minutes and seconds; with a point or a comma, and whatever the
sign, since ``37.28 S`` has none.
"""

from __future__ import annotations

import base64
import binascii
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

NUMBER = re.compile(rb"\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")
WITH_COMMA = re.compile(rb"\d+,\d{3,}")
JPEG, SCAN_BEGINS = b"\xff\xd8", b"\xff\xda"
Numbers = NDArray[np.float64]


def files_in(path: Path) -> Iterator[tuple[str, bytes]]:
    """Give every file under a folder, and every member of every zip."""
    for file in sorted(path.rglob("*")):
        if not file.is_file():
            continue
        name = file.relative_to(path).as_posix()
        data = file.read_bytes()
        if zipfile.is_zipfile(file):
            with zipfile.ZipFile(file) as packed:
                for member in packed.namelist():
                    yield f"{name}/{member}", packed.read(member)
                data = _about_members(packed, data)
        yield name, data
        yield from _inside(name, data)


def _inside(name: str, data: bytes) -> Iterator[tuple[str, bytes]]:
    """Give what is packed in a PDF, or carried by a page as an address of its own."""
    if data.startswith(b"%PDF"):
        for number, begins in enumerate(re.finditer(rb"stream\r?\n", data)):
            try:
                packed = zlib.decompressobj().decompress(data[begins.end() :])
            except zlib.error:
                continue  # not packed so, and read as it stands
            yield f"{name}/stream-{number}", packed
    for number, carried in enumerate(re.findall(rb"base64,([A-Za-z0-9+/=]+)", data)):
        try:
            yield f"{name}/carried-{number}", base64.b64decode(carried)
        except binascii.Error:
            continue


def _about_members(packed: zipfile.ZipFile, data: bytes) -> bytes:
    """Return the bytes of a zip that stand about its members' packed ones.

    Packed bytes are noise, in which any number turns up by chance.
    """
    kept, end = [], 0
    for member in sorted(packed.infolist(), key=lambda info: info.header_offset):
        at = member.header_offset
        name, extra = struct.unpack_from("<HH", data, at + 26)
        begins = at + 30 + name + extra
        kept.append(data[end:begins])
        end = begins + member.compress_size
    return b" ".join([*kept, data[end:]])


def numbers_in(data: bytes) -> Numbers:
    """Return every number that could be read from a file's bytes."""
    told = np.array([float(text) for text in NUMBER.findall(data)], dtype=np.float64)
    commas = [float(text.replace(b",", b".")) for text in WITH_COMMA.findall(data)]
    found = [told, -told, *_of_degrees(told)]
    found += [np.array([sign * value for value in commas]) for sign in (1.0, -1.0)]
    if not _is_text(data):
        for offset in range(8):
            found += [_binary(data, offset, kind) for kind in ("<f8", ">f8")]
        head = data[: data.find(SCAN_BEGINS)] if data.startswith(JPEG) else b""
        for offset in range(4):
            for order in "<>":
                # Singles and ratios would come of a picture's noise by chance: they
                # are looked for where such are kept, before the picture begins.
                found.append(_binary(head, offset, f"{order}f4"))
                whole = _binary(head, offset, f"{order}u4")
                with np.errstate(divide="ignore", invalid="ignore"):
                    ratios = whole[:-1] / whole[1:]
                found += [ratios, *_of_degrees(ratios[::2]), *_of_degrees(ratios[1::2])]
    numbers = np.concatenate(found)
    return numbers[np.isfinite(numbers)]


def _is_text(data: bytes) -> bool:
    try:
        return "\0" not in data.decode("utf-8")
    except UnicodeDecodeError:
        return False


def _binary(data: bytes, offset: int, kind: str) -> Numbers:
    size = np.dtype(kind).itemsize
    count = (len(data) - offset) // size
    if count <= 0:
        return np.empty(0)
    with np.errstate(invalid="ignore"):
        return np.frombuffer(data, kind, count, offset).astype(np.float64)


def _of_degrees(parts: Numbers) -> list[Numbers]:
    """Return degrees with minutes, and with minutes and seconds, of what follows."""
    if len(parts) < 3:
        return []
    degrees, minutes, seconds = parts[:-2], parts[1:-1], parts[2:]
    with np.errstate(invalid="ignore", over="ignore"):
        could = (degrees % 1.0 == 0.0) & (minutes >= 0.0) & (minutes < 60.0)
        degrees, minutes, seconds = (p[could] for p in (degrees, minutes, seconds))
        whole = np.abs(degrees) + minutes / 60.0
        fine = (whole + seconds / 3600.0)[(seconds >= 0.0) & (seconds < 60.0)]
    return [whole, -whole, fine, -fine]


def nearest(numbers: Numbers, wanted: float) -> float:
    """Return how near a number comes to the one wanted."""
    return float(np.abs(numbers - wanted).min()) if len(numbers) else np.inf
