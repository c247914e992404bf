from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wherestood.errors import InputError
from wherestood.plate.likeness import ALIKE_BITS, hash_of, most_alike

Invent = Callable[..., Any]


@pytest.fixture(scope="module")
def shelf(invented_pair: Invent) -> list[str]:
    """Return the hashes of forty plates."""
    return [
        hash_of(invented_pair(seed, width_px=160, height_px=120).reference).words
        for seed in range(40)
    ]


@pytest.mark.parametrize(
    ("aged", "way"),
    [
        ({"toned": True}, "the same"),
        ({"stretch": 1.01, "size": 0.6}, "the same"),
        ({"mirrored": True}, "reversed"),
        ({"negative": True}, "a negative"),
        ({"mirrored": True, "negative": True}, "a reversed negative"),
        ({"keep": (0.02, 0.02, 0.98, 0.98)}, "the same"),
    ],
)
def test_a_plate_that_comes_again_is_recognised(
    invented_pair: Invent, shelf: list[str], aged: dict[str, Any], way: str
) -> None:
    for seed in (3, 17):
        copy = invented_pair(seed, width_px=160, height_px=120, **aged).copy
        found = most_alike(hash_of(copy), shelf)
        assert found is not None
        assert (found.index, found.way) == (seed, way)


def test_no_two_different_plates_are_taken_for_one(
    invented_pair: Invent, shelf: list[str]
) -> None:
    for seed in range(100, 110):
        other = invented_pair(seed, width_px=160, height_px=120).reference
        assert most_alike(hash_of(other), shelf) is None


def test_hash_reads_back_what_it_wrote(invented_pair: Invent) -> None:
    looks = hash_of(invented_pair(1, width_px=160, height_px=120).reference)
    found = most_alike(looks, [looks.words])
    assert found is not None
    assert found.bits == 0 < ALIKE_BITS


def test_a_blank_picture_has_a_hash() -> None:
    assert len(hash_of(np.full((50, 60), 0.5, np.float32)).words) == 64


def test_a_damaged_hash_is_told(invented_pair: Invent) -> None:
    looks = hash_of(invented_pair(1, width_px=160, height_px=120).reference)
    with pytest.raises(InputError, match="damaged"):
        most_alike(looks, ["zz"])
