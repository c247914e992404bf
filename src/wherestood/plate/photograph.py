"""Open a photograph made today, with what its camera wrote into it.

Tags are those of EXIF 2.32 (CIPA DC-008, 2019), tables 4, 8 and 15. Nothing that is not
written there is guessed: it is None.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from wherestood.errors import PlateError
from wherestood.plate.pixels import ImageFile, open_image

__all__ = ["Photograph", "read_photograph"]

Grey = NDArray[np.float32]
_EXIF, _GPS = 0x8769, 0x8825
_TAKEN, _FOCAL_35, _MODEL = 0x9003, 0xA405, 0x0110
_ORIENTATION = 0x0112
#: Those of the eight orientations that hold a mirror image: table 4.
_MIRRORED = frozenset({2, 4, 5, 7})
#: Diagonal of the 36 by 24 mm frame that "focal length in 35 mm film" is told for [mm].
_DIAGONAL_35_MM = math.hypot(36.0, 24.0)


@dataclass(frozen=True)
class Photograph:
    """Hold a photograph, upright, and what its file says.

    Attributes
    ----------
    image : ImageFile
        Its pixels.
    taken : datetime or None
        By the camera's own clock, without a zone.
    lon_deg, lat_deg : float or None
        Where its receiver had it, WGS 84 [deg].
    position_sd_m : float or None
        What the receiver says of its own error [m].
    heading_deg : float or None
        Where the camera's compass said it looked [deg].
    heading_magnetic : bool or None
        Whether that is from magnetic north; None where the file does not say.
    principal_distance_px : float or None
        Lens to picture, by the focal length for 35 mm film [px].
    camera : str
        Its model; empty where not told.
    tag_mirrored : bool
        Whether the orientation tag speaks of a mirror image.
    received : datetime or None
        By its receiver's clock, which satellites set: universal time, without a zone.
    """

    image: ImageFile
    taken: datetime | None = None
    lon_deg: float | None = None
    lat_deg: float | None = None
    position_sd_m: float | None = None
    heading_deg: float | None = None
    heading_magnetic: bool | None = None
    principal_distance_px: float | None = None
    camera: str = ""
    tag_mirrored: bool = False
    received: datetime | None = None

    @property
    def width_px(self) -> int:
        """Return its width, upright [px]."""
        return self.image.width_px

    @property
    def height_px(self) -> int:
        """Return its height, upright [px]."""
        return self.image.height_px

    def blue(self, longest_px: int) -> tuple[Grey, float]:
        """Return its blue light, which is what a collodion plate saw.

        Returns
        -------
        blue : (height, width) float32 array
            0 (black) to 1 (white), at most `longest_px` at its longest side; of a grey
            photograph its tones.
        factor : float
            Full-size pixels to one of these.

        Raises
        ------
        PlateError
            If the file is damaged.
        """
        colours = self.colours(longest_px)
        blue = np.ascontiguousarray(colours[..., 2], dtype=np.float32) / 255.0
        return blue, self.width_px / colours.shape[1]

    def colours(self, longest_px: int | None = None) -> NDArray[np.uint8]:
        """Return its colours in sRGB, (height, width, 3), whole or reduced.

        Raises
        ------
        PlateError
            If the file is damaged.
        """
        try:
            image = pyvips.Image.new_from_file(
                str(self.image.path), access="sequential", fail_on="truncated"
            ).copy_memory()
            image = image.autorot().colourspace("srgb")
            if image.hasalpha():
                image = image.flatten(background=255)
            longest = max(image.width, image.height)
            if longest_px is not None and longest > longest_px:
                image = image.resize(longest_px / longest)
            return np.asarray(image[:3].cast("uchar").numpy(), dtype=np.uint8)
        except pyvips.Error as error:
            raise PlateError(
                f"The photograph '{self.image.path.name}' is damaged or ends too soon.",
                "Copy it again from the camera.",
            ) from error


def read_photograph(path: str | Path) -> Photograph:
    """Open a photograph and read what its camera wrote into it.

    Parameters
    ----------
    path : str or Path
        JPEG, TIFF, PNG or WebP.

    Raises
    ------
    PlateError
        If it is no picture that can be read. Damaged tags count as not written.
    """
    image = open_image(path)
    try:
        with Image.open(path) as opened:
            tags = opened.getexif()
            inner, gps = dict(tags.get_ifd(_EXIF)), dict(tags.get_ifd(_GPS))
            model, turned = tags.get(_MODEL), tags.get(_ORIENTATION)
    except (OSError, UnidentifiedImageError, ValueError, SyntaxError):
        return Photograph(image)
    lon, lat = _degrees(gps, 4, 3, "W"), _degrees(gps, 2, 1, "S")
    placed = lon is not None and lat is not None
    # Receivers without a fix write noughts.
    placed = placed and not (lon == 0.0 and lat == 0.0)
    heading = _number(gps.get(17))
    focal_35_mm = _number(inner.get(_FOCAL_35))
    diagonal_px = math.hypot(image.width_px, image.height_px)
    return Photograph(
        image,
        _time(inner.get(_TAKEN)),
        lon if placed else None,
        lat if placed else None,
        _number(gps.get(31)),
        heading % 360.0 if heading is not None else None,
        {"M": True, "T": False}.get(_text(gps.get(16))[:1]),
        focal_35_mm / _DIAGONAL_35_MM * diagonal_px if focal_35_mm else None,
        _text(model),
        turned in _MIRRORED,
        _received(gps),
    )


def _number(value: Any) -> float | None:
    try:
        number = float(value)
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return number if math.isfinite(number) else None


def _text(value: Any) -> str:
    if isinstance(value, bytes):
        value = value.decode("ascii", "ignore")
    return str(value).strip("\x00 ") if value is not None else ""


def _degrees(gps: dict[int, Any], tag: int, side_tag: int, minus: str) -> float | None:
    try:
        parts = [_number(part) for part in gps[tag]]
    except (KeyError, TypeError):
        return None
    if len(parts) != 3 or any(part is None for part in parts):
        return None
    degrees, minutes, seconds = (float(part or 0.0) for part in parts)
    value = degrees + minutes / 60.0 + seconds / 3600.0
    side = _text(gps.get(side_tag)).upper()
    if value > 180.0 or not side:
        return None
    return -value if side.startswith(minus) else value


def _received(gps: dict[int, Any]) -> datetime | None:
    """Return when the receiver had its place: tags 29 and 7 of table 15."""
    try:
        hour, minute, second = (int(float(part)) for part in gps[7])
        day = datetime.strptime(_text(gps.get(29)), "%Y:%m:%d")
        return day.replace(hour=hour, minute=minute, second=min(second, 59))
    except (KeyError, TypeError, ValueError, ZeroDivisionError):
        return None


def _time(value: Any) -> datetime | None:
    try:
        return datetime.strptime(_text(value), "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None
