"""Gather rasters whose pixels fall on one lattice and read windows of them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import rasterio
from numpy.typing import NDArray
from rasterio import Affine
from rasterio.errors import RasterioIOError
from rasterio.windows import Window

from wherestood.errors import TerrainError
from wherestood.progress import Progress
from wherestood.terrain.heights import heights_in_metres
from wherestood.terrain.sources import Source, apply_transform

__all__ = ["Lattice", "LatticeWindow", "gather", "read_window"]

# Tiles of one product agree to rounding; half a per cent of a cell is no shift.
_SAME_CELL = 1e-6
_SAME_OFFSET_CELLS = 0.005

_STRIP_PIXELS = 2_000_000


@dataclass(frozen=True)
class LatticeWindow:
    """Be a block of a lattice: columns and rows, first inside, last outside."""

    column_0: int
    row_0: int
    column_1: int
    row_1: int

    @property
    def shape(self) -> tuple[int, int]:
        """Return rows and columns."""
        return self.row_1 - self.row_0, self.column_1 - self.column_0

    def meet(self, other: LatticeWindow) -> LatticeWindow | None:
        """Return what two windows share, None where that is nothing."""
        both = LatticeWindow(
            max(self.column_0, other.column_0),
            max(self.row_0, other.row_0),
            min(self.column_1, other.column_1),
            min(self.row_1, other.row_1),
        )
        return both if min(both.shape) > 0 else None


@dataclass(frozen=True)
class Lattice:
    """Hold rasters that share one lattice of pixels.

    Attributes
    ----------
    sources : tuple of Source
        The rasters, in the order given.
    windows : tuple of LatticeWindow
        Where each lies, in whole native pixels of the lattice.
    transform : rasterio.Affine
        From native (column, row) of pixel corners to CRS coordinates.
    factor : int
        How many native pixels a side are averaged into one; 1 for none.
    """

    sources: tuple[Source, ...]
    windows: tuple[LatticeWindow, ...]
    transform: Affine
    factor: int = 1

    @property
    def cell_m(self) -> float:
        """Return the cell size on the ground after averaging [m]."""
        return self.sources[0].cell_m * self.factor

    @property
    def extent(self) -> LatticeWindow:
        """Return the box around all rasters, in averaged pixels."""
        return LatticeWindow(
            min(w.column_0 for w in self.windows) // self.factor,
            min(w.row_0 for w in self.windows) // self.factor,
            -(-max(w.column_1 for w in self.windows) // self.factor),
            -(-max(w.row_1 for w in self.windows) // self.factor),
        )

    @property
    def is_geographic(self) -> bool:
        """Say whether its coordinates are degrees."""
        return _is_geographic(self.sources[0])

    def coarsened(self, factor: int) -> Lattice:
        """Return the lattice with blocks of native pixels averaged."""
        return replace(self, factor=factor)

    def node_of(
        self, lon_deg: NDArray[np.float64], lat_deg: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return fractional column and row of places; whole numbers are centres."""
        x, y = self.sources[0].reference.shift.transformer.transform(lon_deg, lat_deg)
        x, y = np.asarray(x), np.asarray(y)
        if self.is_geographic:
            middle, _ = self._middle()
            x = middle + (x - middle + 180.0) % 360.0 - 180.0
        column, row = apply_transform(~self.transform, x, y)
        return column / self.factor - 0.5, row / self.factor - 0.5

    def covers(
        self,
        column: NDArray[np.float64],
        row: NDArray[np.float64],
        margin: float = 0.0,
    ) -> NDArray[np.bool_]:
        """Say which averaged pixel positions lie on a raster, a margin inside it."""
        native_column = (column + 0.5) * self.factor
        native_row = (row + 0.5) * self.factor
        covered = np.zeros(np.shape(column), dtype=np.bool_)
        for w in self.windows:
            covered |= (
                (native_column >= w.column_0 + margin)
                & (native_column <= w.column_1 - margin)
                & (native_row >= w.row_0 + margin)
                & (native_row <= w.row_1 - margin)
            )
        return covered

    def _middle(self) -> tuple[float, float]:
        w = self.extent
        column = (w.column_0 + w.column_1) * self.factor / 2.0
        row = (w.row_0 + w.row_1) * self.factor / 2.0
        x, y = apply_transform(self.transform, column, row)
        return float(x), float(y)


def gather(sources: Sequence[Source]) -> tuple[Lattice, ...]:
    """Gather rasters by lattice, the finest lattice first.

    Tiles that fall on one lattice are joined before any resampling, so that no
    gap or blunted strip appears between them.
    """
    groups: list[list[tuple[Source, LatticeWindow]]] = []
    for source in sources:
        for group in groups:
            window = _window_on(group[0][0], source)
            if window is not None:
                group.append((source, window))
                break
        else:
            whole = LatticeWindow(0, 0, source.columns, source.rows)
            groups.append([(source, whole)])
    lattices = [
        Lattice(
            tuple(source for source, _ in group),
            tuple(window for _, window in group),
            group[0][0].transform,
        )
        for group in groups
    ]
    return tuple(sorted(lattices, key=lambda lattice: lattice.cell_m))


def _is_geographic(source: Source) -> bool:
    crs = source.reference.shift.transformer.target_crs
    return bool(crs is not None and crs.is_geographic)


def _window_on(anchor: Source, source: Source) -> LatticeWindow | None:
    if source.reference.crs != anchor.reference.crs:
        return None
    a, b = anchor.transform, source.transform
    size = max(abs(a.a), abs(a.b))
    terms = ((a.a, b.a), (a.b, b.b), (a.d, b.d), (a.e, b.e))
    if any(abs(p - q) > _SAME_CELL * size for p, q in terms):
        return None
    west = b.c
    if _is_geographic(anchor):
        # Tiles on both sides of the antimeridian are neighbours.
        west = a.c + (b.c - a.c + 180.0) % 360.0 - 180.0
    column, row = apply_transform(~a, west, b.f)
    if max(abs(column - round(column)), abs(row - round(row))) > _SAME_OFFSET_CELLS:
        return None
    column_0, row_0 = round(column), round(row)
    return LatticeWindow(
        column_0, row_0, column_0 + source.columns, row_0 + source.rows
    )


def read_window(
    lattice: Lattice,
    index: int,
    window: LatticeWindow,
    progress: Progress | None = None,
) -> tuple[NDArray[np.float32], LatticeWindow, int] | None:
    """Read the heights of one raster of a lattice within a window.

    Parameters
    ----------
    lattice : Lattice
        The lattice.
    index : int
        Which of its rasters.
    window : LatticeWindow
        The window, in averaged pixels.
    progress : Progress, optional
        Told of each strip read.

    Returns
    -------
    (heights, window, sentinels) or None
        Heights (rows, columns) float32, row 0 first in the file [m], NaN where
        unknown; the part of the window they fill; how many untagged no-data values
        were met. None where the raster lies outside the window.
    """
    source, own, factor = (
        lattice.sources[index],
        lattice.windows[index],
        lattice.factor,
    )
    asked = LatticeWindow(*(v * factor for v in _bounds(window)))
    native = own.meet(asked)
    if native is None:
        return None
    filled = LatticeWindow(
        native.column_0 // factor,
        native.row_0 // factor,
        -(-native.column_1 // factor),
        -(-native.row_1 // factor),
    )
    heights = np.full(filled.shape, np.nan, dtype=np.float32)
    sentinels = 0
    for strip in _strips(native, factor):
        block, met = _read_native(source, own, strip)
        sentinels += met
        first = strip.row_0 // factor - filled.row_0
        if factor > 1:
            block = _averaged(block, strip, factor)
        heights[first : first + block.shape[0]] = block
        if progress is not None:
            progress.advance()
    return heights, filled, sentinels


def _bounds(window: LatticeWindow) -> tuple[int, int, int, int]:
    return window.column_0, window.row_0, window.column_1, window.row_1


def _strips(native: LatticeWindow, factor: int) -> Iterator[LatticeWindow]:
    """Cut a native window into strips that begin on whole averaged rows."""
    wide = native.column_1 - native.column_0
    tall = factor * max(1, math.floor(_STRIP_PIXELS / (wide * factor)))
    edge = native.row_0
    while edge < native.row_1:
        following = min((edge // factor) * factor + tall, native.row_1)
        yield replace(native, row_0=edge, row_1=following)
        edge = following


def _read_native(
    source: Source, own: LatticeWindow, strip: LatticeWindow
) -> tuple[NDArray[np.float32], int]:
    rows, columns = strip.shape
    window = Window(
        strip.column_0 - own.column_0, strip.row_0 - own.row_0, columns, rows
    )
    try:
        with rasterio.open(source.file.gdal_path) as dataset:
            raw = dataset.read(1, window=window, masked=True)
    except (RasterioIOError, MemoryError) as error:
        raise TerrainError(
            f"{source.file.name} breaks off while its heights are read.",
            "The file is damaged or incomplete: fetch it again.",
        ) from error
    return heights_in_metres(raw, source.scale, source.offset, source.metres_per_unit)


def _averaged(
    block: NDArray[np.float32], strip: LatticeWindow, factor: int
) -> NDArray[np.float32]:
    """Average known heights over whole blocks of the lattice."""
    before = (strip.row_0 % factor, strip.column_0 % factor)
    after = (-strip.row_1 % factor, -strip.column_1 % factor)
    padded = np.pad(
        block,
        ((before[0], after[0]), (before[1], after[1])),
        constant_values=np.nan,
    )
    blocks = padded.reshape(
        padded.shape[0] // factor, factor, padded.shape[1] // factor, factor
    )
    known = np.isfinite(blocks)
    count = known.sum(axis=(1, 3))
    total = np.where(known, blocks, 0.0).sum(axis=(1, 3), dtype=np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(total / count, dtype=np.float32)
