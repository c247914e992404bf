"""Give arrays to pages in few bytes."""

from __future__ import annotations

import numpy as np
import pyvips
from fastapi.responses import Response
from numpy.typing import NDArray
from pydantic import BaseModel

__all__ = ["as_it_is", "known", "pairs", "png_of"]


def as_it_is(told: BaseModel) -> Response:
    """Return an answer that is not checked again on its way, while somebody drags."""
    return Response(told.model_dump_json(), media_type="application/json")


def png_of(pixels: NDArray[np.uint8]) -> bytes:
    """Return grey, (height, width, 3) or (height, width, 4) pixels as a PNG file."""
    height, width = pixels.shape[:2]
    bands = pixels.shape[2] if pixels.ndim == 3 else 1
    image = pyvips.Image.new_from_memory(
        np.ascontiguousarray(pixels).tobytes(), width, height, bands, "uchar"
    )
    image = image.copy(interpretation="srgb" if bands > 2 else "b-w")
    data: bytes = image.write_to_buffer(".png", compression=3)
    return data


def known(values: NDArray[np.float64], decimals: int) -> list[float | None]:
    """Return numbers rounded to decimals; what is not known is null."""
    told = np.round(values, decimals).astype(object)
    told[~np.isfinite(values)] = None
    listed: list[float | None] = told.tolist()
    return listed


def pairs(points: NDArray[np.float64], decimals: int) -> list[tuple[float, float]]:
    """Return (n, 2) points rounded to decimals."""
    return [(float(a), float(b)) for a, b in np.round(points, decimals)]
