"""Read a request of the IIIF Image API 3.0 and work out what it means.

Source: International Image Interoperability Framework, *Image API 3.0*
(https://iiif.io/api/image/3.0/), section 4 "Image Requests", and *Image API Compliance,
Version 3.0.0*, sections 3.1 to 3.6.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from wherestood.errors import InputError

__all__ = ["FORMATS", "MOST_PX", "QUALITIES", "Piece", "read_request"]

QUALITIES = ("default", "color", "gray", "bitonal")
FORMATS = ("jpg", "png", "webp")
#: No answer has more pixels: `maxArea` of the image's information.
MOST_PX = 36_000_000
#: A longer side than its format holds is refused: JPEG's sides have 16 bits (ITU-T
#: T.81, B.2.2), WebP's 14 (RFC 9649, section 2.7).
_LONGEST_PX = {"jpg": 65_535, "png": 65_535, "webp": 16_383}
_WHOLE = r"(\d{1,9})"
_REAL = r"(\d{1,9}(?:\.\d{1,12})?|\.\d{1,12})"
_REGION = re.compile(rf"{_WHOLE},{_WHOLE},{_WHOLE},{_WHOLE}\Z")
_REGION_PCT = re.compile(rf"pct:{_REAL},{_REAL},{_REAL},{_REAL}\Z")
_SIZE_PCT = re.compile(rf"pct:{_REAL}\Z")
_SIZE = re.compile(r"(\d{1,9})?,(\d{1,9})?\Z")
_ROTATION = re.compile(rf"(!)?{_REAL}\Z")


@dataclass(frozen=True)
class Piece:
    """Hold what a request asks for.

    Attributes
    ----------
    left, top, width, height : int
        The region [px].
    across, down : int
        Its size when scaled, before it is turned [px].
    mirrored : bool
        Whether it is mirrored left to right, before it is turned.
    turned_deg : float
        How far it is turned clockwise [deg].
    quality, format : str
    """

    left: int
    top: int
    width: int
    height: int
    across: int
    down: int
    mirrored: bool
    turned_deg: float
    quality: str
    format: str

    def canonical(self, width_px: int, height_px: int, *, grey: bool = False) -> str:
        """Return the request in its canonical form (section 4.7).

        Parameters
        ----------
        width_px, height_px : int
            Size of the image [px].
        grey : bool
            Whether the image is grey: what it shows by itself is `default`.
        """
        whole = (self.left, self.top, self.width, self.height) == (
            0, 0, width_px, height_px,
        )  # fmt: skip
        region = (
            "full" if whole else f"{self.left},{self.top},{self.width},{self.height}"
        )
        scaled = (self.across, self.down)
        larger = self.across > self.width or self.down > self.height
        most = _largest(self.width, self.height, upwards=larger)
        size = "max" if scaled == most else "{},{}".format(*scaled)
        if larger:
            size = f"^{size}"
        turned = f"{'!' if self.mirrored else ''}{self.turned_deg:g}"
        as_it_is = self.quality == ("gray" if grey else "color")
        quality = "default" if as_it_is else self.quality
        return f"{region}/{size}/{turned}/{quality}.{self.format}"


def read_request(
    region: str,
    size: str,
    rotation: str,
    quality: str,
    form: str,
    width_px: int,
    height_px: int,
) -> Piece:
    """Read a request.

    Parameters
    ----------
    region, size, rotation, quality, form : str
        The parts of its path.
    width_px, height_px : int
        Size of the image [px].

    Raises
    ------
    InputError
        If a part cannot be read, lies outside the image, or asks for more than is
        given.
    """
    left, top, width, height = _region(region, width_px, height_px)
    across, down = _size(size, width, height)
    mirrored, turned_deg = _rotation(rotation)
    if quality not in QUALITIES:
        raise _bad("quality", quality, ", ".join(QUALITIES))
    if form not in FORMATS:
        raise _bad("format", form, ", ".join(FORMATS))
    if max(across, down) > _LONGEST_PX[form]:
        raise InputError(
            f"{across} x {down} px were asked for; a {form} has at most "
            f"{_LONGEST_PX[form]} px a side.",
            "Ask for a part, or a smaller size.",
        )
    return Piece(
        left, top, width, height, across, down, mirrored, turned_deg, quality, form
    )


def _region(text: str, width_px: int, height_px: int) -> tuple[int, int, int, int]:
    if text == "full":
        return 0, 0, width_px, height_px
    if text == "square":
        side = min(width_px, height_px)
        return (width_px - side) // 2, (height_px - side) // 2, side, side
    if found := _REGION.match(text):
        left, top, width, height = (int(part) for part in found.groups())
    elif found := _REGION_PCT.match(text):
        shares = [float(part) / 100.0 for part in found.groups()]
        left, width = round(shares[0] * width_px), round(shares[2] * width_px)
        top, height = round(shares[1] * height_px), round(shares[3] * height_px)
    else:
        raise _bad("region", text, "full, square, x,y,w,h or pct:x,y,w,h")
    # What reaches beyond the edge is cropped there (section 4.1).
    width, height = min(width, width_px - left), min(height, height_px - top)
    if width <= 0 or height <= 0:
        raise InputError(
            f"The region {text!r} is empty, or outside the image of {width_px} x "
            f"{height_px} px.",
            "Ask for a part of the image.",
        )
    return left, top, width, height


def _size(text: str, width: int, height: int) -> tuple[int, int]:
    upwards = text.startswith("^")
    wanted = text[1:] if upwards else text
    if wanted == "max":
        across, down = _largest(width, height, upwards=upwards)
    elif found := _SIZE_PCT.match(wanted):
        share = float(found.group(1)) / 100.0
        across, down = round(width * share), round(height * share)
    elif wanted.startswith("!") and (found := _SIZE.match(wanted[1:])):
        across, down = _within(found, text, width, height, upwards=upwards)
    elif (found := _SIZE.match(wanted)) and any(found.groups()):
        given = [int(part) if part else None for part in found.groups()]
        across = given[0] if given[0] is not None else _like(given[1], height, width)
        down = given[1] if given[1] is not None else _like(given[0], width, height)
    else:
        raise _bad("size", text, "max, w,h, w, or ,h, pct:n or !w,h, after ^ if larger")
    if across < 1 or down < 1:
        raise InputError(f"The size {text!r} is no pixel.", "Ask for a larger one.")
    if not upwards and (across > width or down > height):
        raise InputError(
            f"The size {text!r} is larger than the region of {width} x {height} px.",
            "Put ^ before it to have it enlarged.",
        )
    if across * down > MOST_PX:
        raise InputError(
            f"{across} x {down} px were asked for; at most {MOST_PX // 10**6} "
            "megapixels are given at once.",
            "Ask for a part, or a smaller size.",
        )
    return across, down


def _largest(width: int, height: int, *, upwards: bool) -> tuple[int, int]:
    scale = math.sqrt(MOST_PX / (width * height))
    if not upwards:
        scale = min(scale, 1.0)
    if scale == 1.0:
        return width, height
    return max(math.floor(width * scale), 1), max(math.floor(height * scale), 1)


def _within(
    found: re.Match[str], text: str, width: int, height: int, *, upwards: bool
) -> tuple[int, int]:
    if not all(found.groups()):
        raise _bad("size", text, "!w,h with both")
    scale = min(int(found.group(1)) / width, int(found.group(2)) / height)
    if not upwards:
        scale = min(scale, 1.0)
    least = 1 if scale > 0.0 else 0  # a side of nothing is refused
    return max(round(width * scale), least), max(round(height * scale), least)


def _like(given: int | None, along: int, across: int) -> int:
    """Return the other side that keeps the shape; no less than a pixel."""
    assert given is not None
    return max(round(given * across / along), 1) if given else 0


def _rotation(text: str) -> tuple[bool, float]:
    found = _ROTATION.match(text)
    if found is None or float(found.group(2)) > 360.0:
        raise _bad("rotation", text, "0 to 360, after ! to mirror it first")
    return found.group(1) is not None, float(found.group(2)) % 360.0


def _bad(what: str, text: str, known: str) -> InputError:
    return InputError(f"The {what} {text[:40]!r} is not known.", f"Give {known}.")
