"""Tell that two scans show one picture, whichever way round.

The hash is that of the low frequencies of the picture (``imagehash.phash``): 256 bits,
each telling whether one of 16 x 16 cosine terms lies above their median. A copy of the
same picture, scaled, toned or saved again, differs in a few; another picture in about
half.
"""

from __future__ import annotations

from dataclasses import dataclass

import imagehash
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from wherestood.errors import InputError

__all__ = ["HASH_PX", "Likeness", "Looks", "hash_of", "most_alike"]

Grey = NDArray[np.float32]

SIDE = 16
#: A picture of this size is enough for the hash [px].
HASH_PX = 256
# Of 256 bits. Of 150 invented plates, hills under sky all, no two of any hand and tone
# differed in fewer than 92. The same plate again differed in up to 20 toned, 30 through
# a dot screen, 32 turned by a degree, 56 trimmed by 3% a side; more trimmed, or with
# a corner gone, it is not recognised (tests/plate/test_likeness.py).
ALIKE_BITS = 60
WAYS = ("the same", "reversed", "a negative", "a reversed negative")


@dataclass(frozen=True)
class Looks:
    """Hold a picture's hashes the four ways it may come again.

    Attributes
    ----------
    hashes : (4, 256) bool array
        As it is, left for right, tones turned over, both.
    """

    hashes: NDArray[np.bool_]

    @property
    def words(self) -> str:
        """Return the hash of the picture as it is, hexadecimal."""
        return np.packbits(self.hashes[0]).tobytes().hex()


@dataclass(frozen=True)
class Likeness:
    """Hold that a picture comes again.

    Attributes
    ----------
    index : int
        Which of those compared with.
    way : str
        One of `WAYS`.
    bits : int
        How many of 256 bits differ.
    """

    index: int
    way: str
    bits: int


def hash_of(grey: Grey) -> Looks:
    """Return the hashes of a picture.

    Parameters
    ----------
    grey : (height, width) float32 array
        Tones, 0 to 1; a reduced picture of some hundred pixels is enough.
    """
    ways = (grey, grey[:, ::-1], 1.0 - grey, 1.0 - grey[:, ::-1])
    return Looks(np.array([_bits(way) for way in ways]))


def _bits(grey: Grey) -> NDArray[np.bool_]:
    low, high = np.percentile(grey, (1.0, 99.0))
    toned = np.clip((grey - low) / max(float(high - low), 1e-6), 0.0, 1.0)
    picture = Image.fromarray((np.ascontiguousarray(toned) * 255.0).astype(np.uint8))
    return np.asarray(imagehash.phash(picture, hash_size=SIDE).hash, np.bool_).ravel()


def most_alike(looks: Looks, others: list[str]) -> Likeness | None:
    """Return which of many pictures is the same one, and which way round.

    Parameters
    ----------
    looks : Looks
        Of the picture.
    others : list of str
        Hashes of the others, as `Looks.words`.

    Returns
    -------
    Likeness or None
        None where none is near enough.

    Raises
    ------
    InputError
        If a hash is none.
    """
    if not others:
        return None
    try:
        packed = np.frombuffer(bytes.fromhex("".join(others)), np.uint8)
        table = packed.reshape(len(others), SIDE * SIDE // 8)
    except ValueError as error:
        raise InputError(
            "A perceptual hash in the daybook is damaged.",
            "Run wherestood verify to see which scan it belongs to.",
        ) from error
    own = np.packbits(looks.hashes, axis=1)
    apart = np.bitwise_count(own[:, None, :] ^ table[None]).sum(axis=2)
    way, index = np.unravel_index(int(apart.argmin()), apart.shape)
    bits = int(apart[way, index])
    if bits > ALIKE_BITS:
        return None
    return Likeness(int(index), WAYS[int(way)], bits)
