"""Check what is refused before a photograph is compared; pictures are invented."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from wherestood.visit.seen_on_both import look_at_both, mirrored_likelier


@pytest.fixture(scope="module")
def texture() -> np.ndarray:
    """Blobs of several sizes, which features hold on to."""
    rng = np.random.default_rng(3)
    sizes = (1.5, 3.0, 6.0)
    layers = [cv2.GaussianBlur(rng.normal(size=(180, 240)), (0, 0), s) for s in sizes]
    mixed = sum(layer / layer.std() for layer in layers)
    low, high = np.quantile(mixed, (0.01, 0.99))
    return np.clip((mixed - low) / (high - low), 0.0, 1.0).astype(np.float32)


@pytest.mark.parametrize("mirrored", [True, False])
def test_a_photograph_left_for_right_is_known_by_its_looks(texture, mirrored) -> None:
    shifted = np.roll(texture, (7, -11), axis=(0, 1))
    photo = np.ascontiguousarray(shifted[:, ::-1]) if mirrored else shifted
    pictures = (texture, 1.0, photo, 1.0)
    looked = look_at_both(*pictures)
    assert mirrored_likelier(looked, *pictures) is mirrored
