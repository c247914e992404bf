"""Write a modern photograph as an early emulsion would have recorded it."""

from __future__ import annotations

from pathlib import Path
from typing import cast

import numpy as np
from PIL import Image, ImageOps, UnidentifiedImageError

from wherestood.dating.emulsion import Emulsion, as_recorded
from wherestood.errors import InputError

__all__ = ["write_as_recorded"]


def write_as_recorded(photograph: Path, kind: str, out: Path) -> None:
    """Write a photograph in the greys of an early emulsion.

    Parameters
    ----------
    photograph : Path
        A colour photograph; it is read only.
    kind : str
        A key of `wherestood.dating.emulsion.EMULSIONS`.
    out : Path
        Picture to write; its ending says in which form.

    Raises
    ------
    InputError
        If the file is no picture, or is the one to be written, or that cannot be.
    """
    if out.exists() and out.samefile(photograph):
        raise InputError(
            f"{out} is the photograph itself, which is not written over.",
            "Give the picture another name.",
        )
    try:
        with Image.open(photograph) as opened:
            upright = ImageOps.exif_transpose(opened)
            picture = np.asarray(upright.convert("RGB"), dtype=np.uint8)
    except (OSError, UnidentifiedImageError, Image.DecompressionBombError) as trouble:
        raise InputError(
            f"{photograph} cannot be read as a photograph.", "Give a JPEG, PNG or TIFF."
        ) from trouble
    grey = as_recorded(picture, cast(Emulsion, kind))
    try:
        Image.fromarray(grey).save(out)
    except (OSError, ValueError) as trouble:
        raise InputError(
            f"{out} cannot be written.",
            "Choose a folder that can be written, and end the name in .png or .jpg.",
        ) from trouble
