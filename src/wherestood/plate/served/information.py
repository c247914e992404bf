"""Describe a served scan as the IIIF Image API asks: its ``info.json``.

Source: *Image API 3.0*, section 5 "Image Information".
"""

from __future__ import annotations

from typing import Any

from wherestood.plate.served.request import MOST_PX
from wherestood.plate.served.tiled_copy import TiledCopy

__all__ = ["SERVED_TILE_PX", "image_information"]

SERVED_TILE_PX = 512


def image_information(copy: TiledCopy, address: str) -> dict[str, Any]:
    """Return a scan's information.

    Parameters
    ----------
    copy : TiledCopy
        Its tiled copy.
    address : str
        Where it is served, without a slash at the end.
    """
    factors = [2**n for n in range(len(copy.levels))]
    sizes = [
        {"width": max(width, 1), "height": max(height, 1)}
        for width, height in reversed(copy.levels)
        if width * height <= MOST_PX
    ]
    return {
        "@context": "http://iiif.io/api/image/3/context.json",
        "id": address,
        "type": "ImageService3",
        "protocol": "http://iiif.io/api/image",
        "profile": "level2",
        "width": copy.width_px,
        "height": copy.height_px,
        "maxArea": MOST_PX,
        "sizes": sizes,
        "tiles": [
            {
                "width": SERVED_TILE_PX,
                "height": SERVED_TILE_PX,
                "scaleFactors": factors,
            }
        ],
        "preferredFormats": ["webp", "jpg"],
        "extraFormats": ["webp"],
        "extraQualities": ["color", "gray", "bitonal"],
        "extraFeatures": [
            "canonicalLinkHeader",
            "mirroring",
            "profileLinkHeader",
            "rotationArbitrary",
            "sizeUpscaling",
        ],
    }
