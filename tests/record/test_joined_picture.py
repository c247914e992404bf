"""Check the joined picture of invented plates."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from PIL import Image

from wherestood.camera import Camera, rays
from wherestood.errors import InputError
from wherestood.plate.scan import Plate
from wherestood.record.joined_picture import JoinedPicture, join_plates

WIDTH_PX, HEIGHT_PX = 600, 400
C_PX = 700.0
BEARINGS_DEG = (350.0, 20.0)
#: Tones are kept in 8 bits, and pixels are sampled between their neighbours.
ONE_TONE = 0.02


def tone(bearing_deg: np.ndarray, tangent: np.ndarray) -> np.ndarray:
    """Return the tone of an invented world in a direction."""
    return 0.5 + 0.3 * np.sin(np.radians(6.0 * bearing_deg)) + 0.2 * tangent


@pytest.fixture(scope="module")
def cameras(scene: ModuleType):
    return [
        replace(
            scene.camera(bearing),
            principal_distance_px=C_PX,
            rise_px=0.0,
            tilt_deg=lean,
            roll_deg=-lean,
        )
        for bearing, lean in zip(BEARINGS_DEG, (2.0, -1.0), strict=True)
    ]


@pytest.fixture(scope="module")
def plates(cameras, tmp_path_factory) -> list[Plate]:
    """Return scans that show the world as the cameras would."""
    folder = tmp_path_factory.mktemp("joined")
    found = []
    columns, rows = np.meshgrid(np.arange(WIDTH_PX) + 0.5, np.arange(HEIGHT_PX) + 0.5)
    for number, camera in enumerate(cameras):
        held = Camera(
            *np.radians([camera.bearing_deg, camera.tilt_deg, camera.roll_deg]),
            C_PX, 0.0, 0.0, 0.0, WIDTH_PX, HEIGHT_PX,
        )  # fmt: skip
        east, north, up = np.moveaxis(rays(held, columns, rows), -1, 0)
        shown = tone(np.degrees(np.arctan2(east, north)), up / np.hypot(east, north))
        path = folder / f"plate-{number}.png"
        Image.fromarray(np.round(255.0 * shown).astype(np.uint8)).save(path)
        found.append(Plate.open(path, negative=False))
    return found


@pytest.fixture(scope="module")
def joined(plates, cameras) -> JoinedPicture:
    return join_plates(plates, cameras)


def directions(joined: JoinedPicture) -> tuple[np.ndarray, np.ndarray]:
    rows, columns = joined.grey.shape
    bearing = joined.left_deg + (np.arange(columns) + 0.5) / joined.px_per_deg
    px_per_tangent = joined.px_per_deg * 180.0 / np.pi
    tangent = joined.top_tangent - (np.arange(rows) + 0.5) / px_per_tangent
    return np.meshgrid(bearing, tangent)


def test_every_tone_stands_at_its_own_direction(joined) -> None:
    expected = tone(*directions(joined))
    off = np.abs(joined.grey - expected)[joined.covered]
    assert off.max() < ONE_TONE


def test_what_no_plate_shows_stays_empty(joined) -> None:
    corners = joined.covered[[0, 0, -1, -1], [0, -1, 0, -1]]
    assert not corners.any()
    assert (joined.grey[~joined.covered] == 0.0).all()


def test_both_plates_reach_their_own_ends(joined) -> None:
    bearing, _ = directions(joined)
    seen = bearing[joined.covered]
    half = np.degrees(np.arctan(WIDTH_PX / 2 / C_PX))
    assert seen.min() == pytest.approx(350.0 - half, abs=1.0)
    assert seen.max() == pytest.approx(380.0 + half, abs=1.0)


def test_order_of_the_plates_changes_nothing(plates, cameras, joined) -> None:
    other = join_plates(plates[::-1], cameras[::-1])
    np.testing.assert_allclose(other.grey, joined.grey, atol=1e-6)


@pytest.mark.parametrize("name", ["joined.png", "joined.tif"])
def test_empty_ground_is_transparent_in_the_file(joined, tmp_path, name: str) -> None:
    path = joined.save(tmp_path / name)
    with Image.open(path) as picture:
        assert picture.mode == "LA"
        alpha = np.asarray(picture)[..., 1]
    np.testing.assert_array_equal(alpha == 255, joined.covered)


def test_a_form_without_transparency_is_refused(joined, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"joined\.jpg"):
        joined.save(tmp_path / "joined.jpg")


def test_a_wide_panorama_is_reduced(plates, cameras) -> None:
    small = join_plates(plates, cameras, widest_px=300)
    assert small.grey.shape[1] <= 301


def test_what_is_finer_than_the_joined_picture_is_averaged(tmp_path, cameras) -> None:
    # Lines of one pixel, black and white in turn: picked at, they would make stripes.
    lines = np.tile(np.array([0, 255], dtype=np.uint8), (HEIGHT_PX, WIDTH_PX // 2))
    Image.fromarray(lines).save(tmp_path / "lines.png")
    plate = Plate.open(tmp_path / "lines.png", negative=False)
    small = join_plates([plate], cameras[:1], widest_px=WIDTH_PX // 5)
    assert np.abs(small.grey[small.covered] - 0.5).max() < 0.1
