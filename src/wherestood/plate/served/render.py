"""Make the image that a request asks for out of a tiled copy."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pyvips

from wherestood.errors import PlateError
from wherestood.plate.served.request import Piece
from wherestood.plate.served.tiled_copy import TiledCopy

__all__ = ["CHANNELS", "MEDIA_TYPES", "Viewing", "render"]

MEDIA_TYPES = {"jpg": "image/jpeg", "png": "image/png", "webp": "image/webp"}
CHANNELS = ("red", "green", "blue")
_SAVERS = {
    "jpg": (".jpg", {"Q": 90, "strip": True}),
    "png": (".png", {"compression": 3, "strip": True}),
    "webp": (".webp", {"Q": 90, "effort": 1, "strip": True}),
}
#: Local contrast is evened over a square of so many pixels of what is shown; no
#: difference of tone is made more than so many times as great, so that grain is not
#: taken for hills.
LOCAL_PX, LOCAL_SLOPE = 88, 3.0
_TONES = 256
_MOST_COUNTED = 100  # libvips takes no greater limit
#: The usual weights of a picture's luminance (ITU-R BT.709) come with libvips' b-w.
_MIDDLE = 128


@dataclass(frozen=True)
class Viewing:
    """Say how tones are shown; nothing of it is ever stored.

    Attributes
    ----------
    channel : str or None
        One of a colour scan's channels alone.
    local : bool
        Whether contrast is evened from place to place.
    light : (float, float, float) or None
        Shares of red, green and blue light that an emulsion records; the picture is
        shown in the greys that it would have given.
    """

    channel: str | None = None
    local: bool = False
    light: tuple[float, float, float] | None = None


def render(copy: TiledCopy, piece: Piece, viewing: Viewing | None = None) -> bytes:
    """Return an image file of a piece of a scan.

    Parameters
    ----------
    copy : TiledCopy
        The scan's tiled copy.
    piece : Piece
        What is asked for.
    viewing : Viewing, optional
        How its tones are shown.

    Raises
    ------
    PlateError
        If the copy is damaged.

    Notes
    -----
    Region, size, mirror, rotation, quality, in this order (*Image API 3.0*, section
    4.7). Of the copy's levels the smallest that is not smaller than what is asked for
    is read, and of it no more than the piece.
    """
    try:
        image = _scaled(copy, piece, viewing or Viewing())
        if piece.mirrored:
            image = image.fliphor()
        image = _turned(image, piece)
        suffix, options = _SAVERS[piece.format]
        data: bytes = image.write_to_buffer(suffix, **options)
        return data
    except pyvips.Error as error:
        last = str(error).strip().splitlines()
        raise PlateError(
            f"A piece of the scan cannot be read{': ' + last[-1] if last else ''}.",
            "Delete out/tiles in the daybook; it is made anew.",
        ) from error


def _scaled(copy: TiledCopy, piece: Piece, viewing: Viewing) -> pyvips.Image:
    """Return a piece at its size, in its tones."""
    scale = min(piece.width / piece.across, piece.height / piece.down)
    level = 0
    while level + 1 < len(copy.levels) and 2 ** (level + 1) <= scale * (1 + 1e-9):
        level += 1
    image = copy.level(level)
    x_factor = image.width / copy.width_px
    y_factor = image.height / copy.height_px
    # A margin serves the filters, so that tiles meet without a seam.
    # The filter of tones reaches so far in what is shown: enlarged, few of the scan's.
    reach = LOCAL_PX * scale / 2**level if viewing.local else 0.0
    margin = max(math.ceil(reach), math.ceil(4 * max(scale / 2**level, 1.0)))
    left, top = piece.left * x_factor, piece.top * y_factor
    right = (piece.left + piece.width) * x_factor
    bottom = (piece.top + piece.height) * y_factor
    x0 = max(math.floor(left) - margin, 0)
    y0 = max(math.floor(top) - margin, 0)
    x1 = min(math.ceil(right) + margin, image.width)
    y1 = min(math.ceil(bottom) + margin, image.height)
    image = image.crop(x0, y0, x1 - x0, y1 - y0)
    image = _channel(image, viewing.channel)
    if viewing.light is not None:
        image = _recorded(image, viewing.light)
    x_scale = piece.across / (right - left)
    y_scale = piece.down / (bottom - top)
    if abs(x_scale - 1.0) > 1e-3 or abs(y_scale - 1.0) > 1e-3:
        image = image.resize(x_scale, vscale=y_scale, kernel="lanczos3")
    x_left = min(round((left - x0) * x_scale), max(image.width - piece.across, 0))
    y_top = min(round((top - y0) * y_scale), max(image.height - piece.down, 0))
    if viewing.local:
        # It is held in memory: no more of it than the filter reaches.
        x_from, y_from = max(x_left - LOCAL_PX, 0), max(y_top - LOCAL_PX, 0)
        image = image.crop(
            x_from,
            y_from,
            min(piece.across + 2 * LOCAL_PX, image.width - x_from),
            min(piece.down + 2 * LOCAL_PX, image.height - y_from),
        )
        x_left, y_top = x_left - x_from, y_top - y_from
        image = _evened(image)
    image = image.crop(
        x_left,
        y_top,
        min(piece.across, image.width - x_left),
        min(piece.down, image.height - y_top),
    )
    if (image.width, image.height) != (piece.across, piece.down):
        image = image.embed(0, 0, piece.across, piece.down, extend="copy")
    return _quality(image, piece.quality)


def _channel(image: pyvips.Image, channel: str | None) -> pyvips.Image:
    if channel is None or image.bands < 3:
        return image
    return image[CHANNELS.index(channel)].copy(interpretation="b-w")


def _recorded(image: pyvips.Image, light: tuple[float, float, float]) -> pyvips.Image:
    """Weigh the light of a colour picture's channels, not their codes."""
    if image.bands < 3:
        return image
    colour = image[:3].copy(interpretation="srgb").colourspace("scrgb")
    grey = colour.recomb([list(light)])
    back = grey.bandjoin([grey, grey]).copy(interpretation="scrgb").colourspace("srgb")
    return back[0].copy(interpretation="b-w")


def _evened(image: pyvips.Image) -> pyvips.Image:
    """Even the contrast from place to place (contrast-limited, libvips)."""
    side = min(LOCAL_PX, image.width, image.height)
    grey = image if image.bands == 1 else image.colourspace("b-w")
    # What libvips calls a slope is how many pixels of the square may share a tone:
    # evenly spread, a tone has side^2 / 256 of them, which keeps contrast as it is.
    shared = round(LOCAL_SLOPE * side * side / _TONES)
    most = min(max(shared, 1), _MOST_COUNTED)
    # The filter reads about each pixel anew, so it is held once.
    return grey.copy_memory().hist_local(side, side, max_slope=most)


def _quality(image: pyvips.Image, quality: str) -> pyvips.Image:
    if quality in ("gray", "bitonal") and image.bands > 1:
        image = image.colourspace("b-w")
    if quality == "bitonal":
        image = (image >= _MIDDLE).copy(interpretation="b-w")
    return image


def _turned(image: pyvips.Image, piece: Piece) -> pyvips.Image:
    turned_deg = piece.turned_deg
    if turned_deg % 90.0 == 0.0:
        steps = round(turned_deg / 90.0) % 4
        names = ("d0", "d90", "d180", "d270")
        return image.rot(names[steps]) if steps else image
    if piece.format == "jpg":
        return image.rotate(turned_deg, background=[255] * image.bands)
    # Where nothing was it is transparent (section 4.3).
    clear = image.bandjoin(255)
    return clear.rotate(turned_deg, background=[0] * clear.bands)
