"""Look at a file that is to be an original, before anything is done with it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from wherestood.daybook.originals.names import refuse_controls
from wherestood.errors import PlateError
from wherestood.plate.embedded import read_embedded
from wherestood.plate.likeness import HASH_PX, Looks, hash_of
from wherestood.plate.pixels import open_image

__all__ = ["Seen", "look_at"]

# The longest panorama prints are some ten times as long as high: from memory.
LONGEST_SHAPE = 50.0


@dataclass(frozen=True)
class Seen:
    """Hold what a file shows.

    Attributes
    ----------
    width_px, height_px : int
        Its size [px].
    looks : Looks
        Its hashes.
    embedded : dict
        What is written inside, as it came.
    words : dict of str to str
        The same by `wherestood.plate.embedded.FIELDS`.
    """

    width_px: int
    height_px: int
    looks: Looks
    embedded: dict[str, Any]
    words: dict[str, str]


def look_at(path: Path) -> Seen:
    """Read a file's header, every pixel at a small size, and what is written inside.

    Raises
    ------
    PlateError
        If it is no picture, ends too soon, lies about its size, or has the shape
        of none.
    InputError
        If its name holds control characters.
    """
    refuse_controls(path.name)
    image = open_image(path)
    shape = max(image.width_px, image.height_px) / min(image.width_px, image.height_px)
    if shape > LONGEST_SHAPE:
        raise PlateError(
            f"The scan '{path.name}' is {image.width_px} x {image.height_px} px, "
            f"{shape:.0f} times as long as wide; no plate is.",
            "Cut it to the picture, and give that.",
        )
    # Every pixel is decoded here, so a file that ends too soon is found out.
    looks = hash_of(image.reduced(HASH_PX))
    embedded = read_embedded(path)
    return Seen(
        image.width_px, image.height_px, looks, embedded.as_json(), embedded.words
    )
