"""Check what is refused before a photograph is compared; pictures are invented."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from PIL import Image

from wherestood.earth.frame import Frame
from wherestood.fix.camera_draws import CameraDraws
from wherestood.ground.cameras import PlateCameras
from wherestood.ground.mapping import Mapping
from wherestood.plate.photograph import read_photograph
from wherestood.plate.scan import Plate
from wherestood.record.mapping_json import station_of
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.meet import SolidGround
from wherestood.terrain.model import Terrain
from wherestood.visit.laid_on_plate import Laying
from wherestood.visit.seen_on_both import BothSeen, look_at_both, mirrored_likelier
from wherestood.visit.then_and_now import ThenAndNow
from wherestood.visit.then_and_now_words import told_sentences
from wherestood.visit.write_then_and_now import write_then_and_now

LEAST_PAIRS, HALF_A_PIXEL = 30, 0.5
#: Correlation of tones with themselves, drawn once over; turned it is near 0.
ALL_BUT_ALIKE = 0.9


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


def test_a_plate_left_for_right_agrees_with_a_photograph_that_is_not(texture) -> None:
    """Each feature of the turned scan pairs with its own place, 11 px to the left."""
    turned = np.ascontiguousarray(texture[:, ::-1])
    pictures = (turned, 1.0, np.roll(texture, -11, axis=1), 1.0)
    looked = look_at_both(*pictures, plate_mirrored=True)
    pairs = looked.at_first()
    assert pairs is not None
    assert len(pairs) > LEAST_PAIRS
    expected = texture.shape[1] - pairs.plate_px[:, 0] - 11.0
    assert np.median(np.abs(pairs.photo_px[:, 0] - expected)) < HALF_A_PIXEL
    assert not mirrored_likelier(looked, *pictures)


def test_what_a_scan_shows_left_for_right_is_shown_the_right_way_round(
    texture, tmp_path
) -> None:
    tones = (texture * 255.0).astype(np.uint8)
    Image.fromarray(tones[:, ::-1]).save(tmp_path / "plate.png")
    Image.fromarray(np.dstack([tones] * 3)).save(tmp_path / "photo.png")
    height, width = tones.shape
    y, x = np.mgrid[0 : height // 4, 0 : width // 4] * 4.0 + 2.0
    # The turned scan's left is the photograph's right.
    laying = Laying(np.stack((width - x, y), axis=-1), (width, height), 0.5, flat=True)
    pairs = BothSeen(np.ones((50, 2)), np.ones((50, 2)))
    told = ThenAndNow(
        np.zeros(3), np.eye(3), 0.0, 0.0, 0.0, 0.0, 100.0, pairs, 0, 0, 50, laying,
        mirrored=False, plate_mirrored=True,
    )  # fmt: skip
    _, then, now = write_then_and_now(
        tmp_path / "out", told, Plate.open(tmp_path / "plate.png"),
        read_photograph(tmp_path / "photo.png"), "Invented", ("1868", "2026"), [],
    )  # fmt: skip
    for path in (then, now):
        with Image.open(path) as picture:
            shown = np.asarray(picture.convert("L"), dtype=np.float64)
        inner = np.s_[8:-8, 8:-8]
        alike = np.corrcoef(shown[inner].ravel(), tones[inner].ravel())[0, 1]
        assert alike > ALL_BUT_ALIKE
    assert "right way round" in " ".join(told_sentences(told))


def test_a_fix_that_leaves_the_hand_open_is_compared_as_most_have_it() -> None:
    each = np.zeros(5)
    draws = CameraDraws(*[each] * 13, np.array([True, False, True, True, False]))
    level = Terrain(np.zeros((20, 20), np.float32), 0.0, 0.0, 10.0, Frame.local(0, 40))
    ground = SolidGround.of(HorizonModel.of(level))
    mapping = Mapping(ground, PlateCameras(draws, 40, 30), (40, 30), (), "located")
    assert mapping.mostly_reversed
    assert mapping.one_way_round().cameras.draws.reversed.tolist() == [True] * 3


def test_each_place_of_a_fix_has_its_own_station() -> None:
    form = {"station": {"lon": 1.0}, "alternatives": [{"station": {"lon": 2.0}}]}
    assert [station_of(form, place)["lon"] for place in (0, 1, 2)] == [1.0, 1.0, 2.0]
