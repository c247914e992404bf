"""Open the scan of a plate."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import PlateError
from wherestood.plate.formats import MM_PER_IN, size_mm
from wherestood.plate.frame import (
    Corners,
    PlateFrame,
    frame_from_corners,
    frame_from_scale,
)
from wherestood.plate.pixels import ImageFile, open_image
from wherestood.plate.tone import looks_negative

__all__ = ["Plate"]

# Written by cameras, editors and converters that know nothing of the scanner.
DEFAULT_TAGS_PPI = (72.0, 96.0, 100.0, 150.0, 180.0, 300.0)
BELIEVABLE_PPI = (50.0, 12800.0)
BELIEVABLE_LONG_SIDE_MM = (40.0, 800.0)
SAME_SIZE_SHARE = 0.05
LARGEST_TRIM_SHARE = 0.25
_LOOK_PX = 512


@dataclass(frozen=True)
class Plate:
    """Hold one photograph under study, seen through its scan.

    All pixel coordinates are those of the upright positive: turned by its
    orientation tag, negatives inverted, reversed scans mirrored; origin at the
    top-left corner, x right, y down, pixel centres at integers + 0.5.

    Attributes
    ----------
    path : Path
        The scan.
    width_px, height_px : int
        Its size [px].
    size_mm : (float, float) or None
        Plate size across and down the scan [mm].
    px_per_mm : float or None
        Scan scale [px/mm]; None if nothing believable says it.
    ppi_tag : float or None
        Resolution tag of the file [px/inch].
    ppi_trusted : bool
        True if the tag could be believed.
    trimmed : bool
        True if the scan shows less than the whole plate.
    negative : bool
        True if the file holds a negative.
    reversed : bool
        True if the file holds a mirror image.
    corners_px : four (x, y), or None
        Plate corners marked on the scan: top left, top right, bottom right,
        bottom left [px].
    sha256 : str
        Checksum of the file.
    notes : tuple of str
        What was assumed, for the person to read.
    """

    path: Path
    width_px: int
    height_px: int
    size_mm: tuple[float, float] | None
    px_per_mm: float | None
    ppi_tag: float | None
    ppi_trusted: bool
    trimmed: bool
    negative: bool
    reversed: bool
    corners_px: Corners | None
    sha256: str
    image: ImageFile = field(repr=False)
    notes: tuple[str, ...] = ()

    @classmethod
    def open(
        cls,
        path: str | Path,
        *,
        size: str | tuple[float, float] | None = None,
        scan_ppi: float | None = None,
        trimmed: bool = False,
        negative: bool | None = None,
        reversed: bool = False,
        page: int = 0,
        corners: Corners | None = None,
    ) -> Plate:
        """Open a scan and settle its size, scale and tone.

        Parameters
        ----------
        path : str or Path
            TIFF (8 or 16 bit, tiled, several pages), JPEG, PNG, WebP, JPEG 2000.
        size : str or (float, float), optional
            Plate size: a name, ``"WxHmm"``, ``"WxHin"``, or two sides [mm]. The
            longer side is laid along the longer side of the scan.
        scan_ppi : float, optional
            Scanning resolution, if it is known [px/inch].
        trimmed : bool
            True if the scan shows less than the whole plate.
        negative : bool, optional
            None: judged from the tones, and noted if it looks like one.
        reversed : bool
            True if the scan is a mirror image.
        page : int
            Page of the file, from 0.
        corners : four (x, y), optional
            Plate corners on the upright positive [px].

        Returns
        -------
        Plate

        Raises
        ------
        PlateError
            If the file cannot be read, or size, scale or corners are absurd.
        """
        image = open_image(path, page)
        notes: list[str] = []
        sides = _laid_along(size, image)
        _check_ppi(scan_ppi)
        trusted = _tag_trusted(image, sides, trimmed, notes)
        if image.bands >= 3:
            notes.append("Colour scan: its luminance is used.")
        if negative is None:
            negative = looks_negative(image.reduced(_LOOK_PX))
            if negative:
                notes.append("Looks like a negative, and is read as one.")
        if corners is not None:
            # Any sides do to see whether they go round a convex figure.
            frame_from_corners(corners, *(sides or (1.0, 1.0)))
        return cls(
            path=Path(path),
            width_px=image.width_px,
            height_px=image.height_px,
            size_mm=sides,
            px_per_mm=_scale(image, sides, scan_ppi, trusted, trimmed, corners, notes),
            ppi_tag=image.ppi_tag,
            ppi_trusted=trusted,
            trimmed=trimmed,
            negative=negative,
            reversed=reversed,
            corners_px=corners,
            sha256=_checksum(Path(path)),
            image=image,
            notes=tuple(notes),
        )

    def told(
        self, *, size: str | tuple[float, float] | None, corners: Corners | None
    ) -> Plate:
        """Return the plate with size and corners that it was opened without.

        Parameters
        ----------
        size, corners
            As of `open`; what was given on opening stands.

        Raises
        ------
        PlateError
            If size or corners are absurd.
        """
        sides = self.size_mm or _laid_along(size, self.image)
        marked = self.corners_px or corners
        if sides == self.size_mm and marked == self.corners_px:
            return self
        if marked is not None:
            # Any sides do to see whether they go round a convex figure.
            frame_from_corners(marked, *(sides or (1.0, 1.0)))
        notes: list[str] = []
        trusted = self.ppi_trusted
        scale = self.px_per_mm
        if scale is None or marked is not None:
            scale = _scale(
                self.image, sides, None, trusted, self.trimmed, marked, notes
            )
        return replace(
            self,
            size_mm=sides,
            corners_px=marked,
            px_per_mm=scale if scale is not None else self.px_per_mm,
            notes=(*self.notes, *notes),
        )

    def reduced(self, longest_px: int) -> tuple[NDArray[np.float32], float]:
        """Read the whole plate with its longest side at most `longest_px`.

        Returns
        -------
        grey : (height, width) float32 array
            Upright positive, 0 (black) to 1 (white).
        factor : float
            Full-size pixels to one of these, at least 1.
        """
        grey = self._upright(self.image.reduced(longest_px))
        return grey, self.width_px / grey.shape[1]

    def window(
        self, left: int, top: int, width: int, height: int
    ) -> NDArray[np.float32]:
        """Read a window of the plate at full size.

        Parameters
        ----------
        left, top, width, height : int
            The window; it must lie inside the scan [px].

        Returns
        -------
        (height, width) float32 array
            Upright positive, 0 (black) to 1 (white).

        Raises
        ------
        PlateError
            If the window is empty or leaves the scan.
        """
        inside = left >= 0 and top >= 0 and width > 0 and height > 0
        if not inside or left + width > self.width_px or top + height > self.height_px:
            raise PlateError(
                f"The window {width} x {height} px at ({left}, {top}) leaves the "
                f"scan of {self.width_px} x {self.height_px} px.",
                "Ask for a window inside it.",
            )
        stored_left = self.width_px - left - width if self.reversed else left
        return self._upright(self.image.window(stored_left, top, width, height))

    def frame(self) -> PlateFrame | None:
        """Return the map from pixels to plate millimetres, if a scale is known."""
        if self.corners_px is not None and self.size_mm is not None:
            return frame_from_corners(self.corners_px, *self.size_mm)
        if self.px_per_mm is None:
            return None
        scale = (self.px_per_mm, self.px_per_mm)
        if self.size_mm is not None and not self.trimmed and not self.ppi_trusted:
            scale = (self.width_px / self.size_mm[0], self.height_px / self.size_mm[1])
        return frame_from_scale(self.width_px, self.height_px, scale)

    def _upright(self, stored: NDArray[np.float32]) -> NDArray[np.float32]:
        grey = 1.0 - stored if self.negative else stored
        return np.ascontiguousarray(grey[:, ::-1] if self.reversed else grey)


def _laid_along(
    size: str | tuple[float, float] | None, image: ImageFile
) -> tuple[float, float] | None:
    """Lay the plate's longer side along the scan's longer side."""
    if size is None:
        return None
    first, second = size_mm(size) if isinstance(size, str) else size
    if not (first > 0.0 and second > 0.0):
        raise PlateError(
            f"The plate size is {first} x {second} mm; both sides must be above 0.",
            "Give the two sides in millimetres.",
        )
    longer, shorter = max(first, second), min(first, second)
    if image.width_px >= image.height_px:
        return longer, shorter
    return shorter, longer


def _check_ppi(scan_ppi: float | None) -> None:
    least, most = BELIEVABLE_PPI
    if scan_ppi is not None and not least <= scan_ppi <= most:
        raise PlateError(
            f"The scanning resolution {scan_ppi:g} px/inch is absurd; scanners "
            f"give {least:g} to {most:g}.",
            "Check the number, or leave it out.",
        )


def _tag_trusted(
    image: ImageFile,
    sides: tuple[float, float] | None,
    trimmed: bool,
    notes: list[str],
) -> bool:
    """Judge whether the resolution tag says anything about this plate."""
    tag = image.ppi_tag
    if tag is None:
        return False
    least, most = BELIEVABLE_PPI
    if not least <= tag <= most:
        notes.append(f"The resolution tag says {tag:g} px/inch: absurd, not used.")
        return False
    across = image.width_px / tag * MM_PER_IN
    down = image.height_px / tag * MM_PER_IN
    if sides is not None:
        ratios = (across / sides[0], down / sides[1])
        lowest = 1.0 - (LARGEST_TRIM_SHARE if trimmed else SAME_SIZE_SHARE)
        trusted = all(lowest <= r <= 1.0 + SAME_SIZE_SHARE for r in ratios)
        why = f"which would make this plate {across:.0f} x {down:.0f} mm"
    else:
        long_least, long_most = BELIEVABLE_LONG_SIDE_MM
        default = any(abs(tag - d) < 0.5 for d in DEFAULT_TAGS_PPI)
        trusted = not default and long_least <= max(across, down) <= long_most
        why = "often a default value"
    if not trusted:
        notes.append(f"The resolution tag says {tag:.0f} px/inch, {why}: not used.")
    return trusted


def _scale(
    image: ImageFile,
    sides: tuple[float, float] | None,
    scan_ppi: float | None,
    tag_trusted: bool,
    trimmed: bool,
    corners: Corners | None,
    notes: list[str],
) -> float | None:
    """Return the scan's scale from the best that is known [px/mm]."""
    given = None if scan_ppi is None else scan_ppi / MM_PER_IN
    if corners is not None and sides is not None:
        edge = np.roll(np.asarray(corners, float), -1, axis=0) - np.asarray(corners)
        length = np.hypot(edge[:, 0], edge[:, 1])
        return float(length.sum() / (2.0 * (sides[0] + sides[1])))
    if sides is not None and not trimmed:
        filled = (image.width_px / sides[0] + image.height_px / sides[1]) / 2.0
        if given is not None and abs(given / filled - 1.0) > SAME_SIZE_SHARE:
            notes.append(
                f"At {scan_ppi:g} px/inch the scan is "
                f"{image.width_px / given:.0f} x {image.height_px / given:.0f} mm, not "
                f"the plate's {sides[0]:.0f} x {sides[1]:.0f} mm: trimmed, or has a "
                "margin? The resolution is believed."
            )
        return given if given is not None else filled
    if given is not None:
        return given
    if tag_trusted and image.ppi_tag is not None:
        return image.ppi_tag / MM_PER_IN
    return None


def _checksum(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
