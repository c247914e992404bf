"""Show a modern photograph as an early emulsion would have recorded it.

Collodion and plain gelatin record blue and ultraviolet, and are nearly blind to green,
yellow and red (seen); orthochromatic plates, from about 1882, record green too (from
memory). The shares of a modern picture's three channels are from memory, and
ultraviolet, which no camera of today records, is left to the blue.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import InputError

__all__ = ["EMULSIONS", "Emulsion", "as_recorded"]

Emulsion = Literal["collodion", "gelatin", "orthochromatic"]
#: Shares of red, green and blue light.
EMULSIONS: dict[Emulsion, tuple[float, float, float]] = {
    "collodion": (0.0, 0.06, 0.94),
    "gelatin": (0.0, 0.12, 0.88),
    "orthochromatic": (0.02, 0.40, 0.58),
}


def as_recorded(
    picture: NDArray[np.uint8], emulsion: Emulsion = "collodion"
) -> NDArray[np.uint8]:
    """Show a picture in the greys that an early emulsion would have recorded.

    Parameters
    ----------
    picture : NDArray[np.uint8]
        (rows, columns, 3) sRGB.
    emulsion : Emulsion
        Which.

    Returns
    -------
    NDArray[np.uint8]
        (rows, columns), as a positive.

    Raises
    ------
    InputError
        If it has no three channels of whole bytes, or the emulsion is not known.
    """
    if emulsion not in EMULSIONS:
        raise InputError(
            f"No emulsion is called {emulsion!r}.", f"Known: {', '.join(EMULSIONS)}."
        )
    if picture.ndim != 3 or picture.shape[2] != 3 or picture.dtype != np.uint8:
        raise InputError(
            "The picture does not have red, green and blue of 8 bits each.",
            "Open it as a colour photograph.",
        )
    # IEC 61966-2-1: from the code to light, and back.
    code = np.arange(256) / 255.0
    light = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    recorded = light[picture] @ np.array(EMULSIONS[emulsion])
    back = np.where(
        recorded <= 0.0031308,
        12.92 * recorded,
        1.055 * np.maximum(recorded, 0.0031308) ** (1 / 2.4) - 0.055,
    )
    return np.asarray(np.rint(255.0 * back), dtype=np.uint8)
