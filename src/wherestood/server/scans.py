"""Keep scans ready to be looked at: their tiled copies and small pictures."""

from __future__ import annotations

import hashlib
import threading
import time
from collections import OrderedDict
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import pyvips

from wherestood.daybook import Daybook
from wherestood.daybook.asked import whole_path
from wherestood.daybook.book import OUT
from wherestood.daybook.opened_scan import opened_scan as opened_as_told
from wherestood.daybook.tables import Plate as PlateRow
from wherestood.daybook.tables import Scan
from wherestood.errors import PlateError
from wherestood.plate.scan import Plate
from wherestood.plate.served.tiled_copy import (
    TiledCopy,
    make_tiled_copy,
    open_tiled_copy,
)
from wherestood.server.kept_within import keep_within, note_used
from wherestood.server.troubles import NotThereError

__all__ = [
    "Scans",
    "opened_scan",
    "scan_file",
    "shown_negative",
    "sweep_tiles",
    "thumbnail",
    "tiled_path",
    "version_of",
]

TILES, THUMBNAILS = "tiles", "thumbnails"
MOST_PIECES_BYTES = 96 * 1024**2
#: Tiled copies of scans take no more than this; a colour scan of 400 megapixels is some
#: 1.6 GB. Those looked at longest ago go first, and are made again when wanted.
MOST_TILES_BYTES = 20 * 10**9
MOST_THUMBNAILS_BYTES = 2 * 10**9
#: Small pictures are made in these sizes alone, or each asked for would be kept.
THUMBNAILS_PX = (160, 320, 640, 1024)
#: A copy that is looked at is noted as used no oftener than this [s].
NOTED_S = 600.0


def scan_file(book: Daybook, scan: Scan) -> Path:
    """Return a scan's file.

    Raises
    ------
    NotThereError
        If it is not where it was, or was withdrawn.
    """
    if scan.withdrawn:
        raise NotThereError("The scan was withdrawn.", "Nothing is left to look at.")
    path = whole_path(book.folder, scan.file)
    if not path.is_file():
        raise NotThereError(
            f"The file {scan.file!r} is not where it was.",
            "Put it back, or take the scan in anew.",
        )
    return path


def opened_scan(book: Daybook, plate: PlateRow, scan: Scan) -> Plate:
    """Open a scan as a search does.

    Raises
    ------
    PlateError
        If it cannot be read.
    """
    scan_file(book, scan)
    return opened_as_told(book.folder, plate, scan)


@dataclass
class Scans:
    """Make what is looked at, once, and keep the last of it."""

    _opened: OrderedDict[str, Plate] = field(default_factory=OrderedDict)
    _pieces: OrderedDict[tuple[str, ...], bytes] = field(default_factory=OrderedDict)
    _pieces_bytes: int = 0
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _making: dict[str, threading.Lock] = field(default_factory=dict)
    _used: dict[Path, float] = field(default_factory=dict)

    def forget(self) -> None:
        """Let go of all."""
        with self._lock:
            self._opened.clear()
            self._pieces.clear()
            self._pieces_bytes = 0

    def plate(self, book: Daybook, plate: PlateRow, scan: Scan) -> Plate:
        """Return an opened scan; opening takes its checksum, so it is kept."""
        told = (scan.id, scan.sha256, plate.size, plate.trimmed, scan.negative)
        key = repr((*told, scan.scan_ppi, scan.page, scan.corners_px))
        with self._lock:
            if key in self._opened:
                self._opened.move_to_end(key)
                return self._opened[key]
        opened = opened_scan(book, plate, scan)
        with self._lock:
            self._opened[key] = opened
            while len(self._opened) > 16:
                self._opened.popitem(last=False)
        return opened

    def tiled(self, book: Daybook, scan: Scan, *, negative: bool) -> TiledCopy:
        """Return the tiled copy of a scan, made if there is none."""
        path = tiled_path(book, scan, negative=negative)
        with self._lock:
            making = self._making.setdefault(path.name, threading.Lock())
        with making:
            if not path.is_file():
                make_tiled_copy(
                    scan_file(book, scan), path, negative=negative, page=scan.page or 0
                )
                keep_within(path.parent, MOST_TILES_BYTES, {path, *self._in_use()})
            self._use(path)
            return open_tiled_copy(path)

    def _use(self, path: Path) -> None:
        now = time.monotonic()
        if now - self._used.get(path, -NOTED_S) >= NOTED_S:
            self._used[path] = now
            note_used(path)

    def _in_use(self) -> set[Path]:
        """Return the copies that were looked at a little while ago."""
        now = time.monotonic()
        return {path for path, at in self._used.items() if now - at < 2.0 * NOTED_S}

    def tiled_sheet(self, drawn: Path) -> TiledCopy:
        """Return the tiled copy of a plan's sheet that was drawn."""
        path = drawn.with_suffix(".tiles.tif")
        with self._lock:
            making = self._making.setdefault(path.name, threading.Lock())
        with making:
            if not path.is_file():
                make_tiled_copy(drawn, path, negative=False)
            return open_tiled_copy(path)

    def kept_piece(self, key: tuple[str, ...]) -> bytes | None:
        """Return an image that was made before."""
        with self._lock:
            if key in self._pieces:
                self._pieces.move_to_end(key)
            return self._pieces.get(key)

    def keep_piece(self, key: tuple[str, ...], data: bytes) -> None:
        """Keep an image, and let the oldest go."""
        with self._lock:
            self._pieces_bytes += len(data) - len(self._pieces.get(key, b""))
            self._pieces[key] = data
            while self._pieces_bytes > MOST_PIECES_BYTES:
                _, gone = self._pieces.popitem(last=False)
                self._pieces_bytes -= len(gone)


def tiled_path(book: Daybook, scan: Scan, *, negative: bool) -> Path:
    """Return where the tiled copy of a scan lies."""
    return book.folder / OUT / TILES / f"{_shown(scan, negative=negative)}.tif"


def version_of(scan: Scan, *, negative: bool) -> str:
    """Return what changes whenever a scan looks different: file, page or tone."""
    shown = _shown(scan, negative=negative)
    return hashlib.sha256(shown.encode()).hexdigest()[:12]


def _shown(scan: Scan, *, negative: bool) -> str:
    page = f"-page-{scan.page}" if scan.page else ""
    return f"{scan.sha256}{page}{'-positive' if negative else ''}"


def shown_negative(book: Daybook, scan: Scan) -> bool:
    """Tell whether a small picture is shown as a negative's positive.

    Where nobody said, as it was judged when it was made ready to look at: to judge a
    thousand scans for a contact sheet would take minutes.
    """
    if scan.negative is not None:
        return scan.negative
    return (
        tiled_path(book, scan, negative=True).is_file()
        and not tiled_path(book, scan, negative=False).is_file()
    )


def thumbnail(book: Daybook, scan: Scan, longest_px: int, *, negative: bool) -> bytes:
    """Return a small picture of a scan, kept on disk once made.

    Its longer side is the least of `THUMBNAILS_PX` that is no less than asked for.
    """
    longest_px = next(
        (px for px in THUMBNAILS_PX if px >= longest_px), THUMBNAILS_PX[-1]
    )
    name = f"{_shown(scan, negative=negative)}-{longest_px}.webp"
    path = book.folder / OUT / THUMBNAILS / name
    if path.is_file():
        return path.read_bytes()
    tiled = tiled_path(book, scan, negative=negative)
    try:
        if tiled.is_file():
            image = _smaller(open_tiled_copy(tiled), longest_px)
        else:
            image = _small(scan_file(book, scan), scan.page or 0, longest_px)
            if negative:
                image = image.invert()
        data: bytes = image.write_to_buffer(".webp", Q=82, effort=1, strip=True)
    except pyvips.Error as error:
        raise PlateError(
            f"The scan {scan.key} cannot be read.", "Copy it again from its source."
        ) from error
    if not book.read_only:
        path.parent.mkdir(parents=True, exist_ok=True)
        passing = path.with_suffix(f".{threading.get_ident()}.part")
        passing.write_bytes(data)
        passing.replace(path)
    return data


def _smaller(copy: TiledCopy, longest_px: int) -> pyvips.Image:
    """Return a small picture out of the least level of a tiled copy that holds it."""
    fit = [n for n, (w, h) in enumerate(copy.levels) if max(w, h) >= longest_px]
    level = copy.level(fit[-1] if fit else 0)
    return level.thumbnail_image(longest_px, height=longest_px, size="down")


def _small(file: Path, page: int, longest_px: int) -> pyvips.Image:
    """Return a small picture out of the scan itself."""
    image = pyvips.Image.thumbnail_source(
        pyvips.Source.new_from_file(str(file)),
        longest_px,
        height=longest_px,
        size="down",
        option_string=f"page={page}" if page else "",
    )
    if image.format != "uchar":
        image = image.colourspace("b-w" if image.bands < 3 else "srgb")
    return image


def sweep_tiles(book: Daybook) -> None:
    """Take away what a copy that was broken off left behind, and what is too much."""
    keep_within(book.folder / OUT / THUMBNAILS, MOST_THUMBNAILS_BYTES)
    for half_made in (book.folder / OUT / TILES).glob(".*.tif"):
        with suppress(OSError):
            half_made.unlink()
