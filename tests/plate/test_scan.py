"""Check that scans of every kind are read, and unusable ones refused."""

import re
import struct
import warnings
import zlib
from pathlib import Path

import numpy as np
import pytest
import pyvips
import rasterio
from rasterio.errors import NotGeoreferencedWarning

from wherestood.errors import PlateError
from wherestood.plate.pixels import open_image
from wherestood.plate.scan import Plate

LOSSLESS = 1.0 / 65535
JPEG_ERROR = 0.03


def slope(width=320, height=240):
    """Return an image bright at the top left, unlike any turn of itself."""
    y, x = np.mgrid[0:height, 0:width]
    return (230 - 0.5 * y - 0.2 * x).astype(np.uint8)


def write(array, path, **options):
    pyvips.Image.new_from_array(array).copy(interpretation="b-w").write_to_file(
        str(path), **options
    )
    return path


@pytest.mark.parametrize("suffix", ["tif", "png", "jpg", "webp"])
def test_each_format_gives_the_pixels_that_were_written(tmp_path, suffix):
    array = slope()
    plate = Plate.open(write(array, tmp_path / f"scan.{suffix}"))
    grey, factor = plate.reduced(10_000)
    assert (plate.width_px, plate.height_px, factor) == (320, 240, 1.0)
    assert np.abs(grey - array / 255.0).max() < JPEG_ERROR


def test_jpeg_2000_is_read_whole_reduced_and_by_windows(tmp_path):
    array = slope()
    path = tmp_path / "scan.jp2"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        with rasterio.open(
            path,
            "w",
            driver="JP2OpenJPEG",
            width=320,
            height=240,
            count=1,
            dtype="uint8",
            QUALITY="100",
            REVERSIBLE="YES",
        ) as data:
            data.write(array, 1)
    plate = Plate.open(path)
    assert plate.reduced(160)[0].shape == (120, 160)
    window = plate.window(40, 30, 50, 20)
    assert np.abs(window - array[30:50, 40:90] / 255.0).max() < LOSSLESS


def test_sixteen_bit_tiled_tiff_keeps_its_depth(tmp_path):
    array = (slope().astype(np.uint16) * 256 + 7).astype(np.uint16)
    path = tmp_path / "deep.tif"
    pyvips.Image.new_from_array(array).copy(interpretation="grey16").write_to_file(
        str(path), tile=True, tile_width=64, tile_height=64
    )
    window = Plate.open(path).window(100, 50, 30, 40)
    assert np.abs(window - array[50:90, 100:130] / 65535.0).max() < LOSSLESS


def test_pages_of_a_tiff_are_told_apart(tmp_path):
    path = tmp_path / "pages.tif"
    both = np.vstack([slope(), slope()[::-1]])
    image = pyvips.Image.new_from_array(both).copy(interpretation="b-w")
    image.set_type(pyvips.GValue.gint_type, "page-height", 240)
    image.write_to_file(str(path))
    second = Plate.open(path, page=1, negative=False).window(0, 0, 320, 240)
    assert np.abs(second - slope()[::-1] / 255.0).max() < LOSSLESS
    with pytest.raises(PlateError, match="2 page"):
        Plate.open(path, page=2)


def test_orientation_tag_turns_the_scan_upright(tmp_path):
    turned = np.rot90(slope(), 1)  # to be turned right again by tag 6
    image = pyvips.Image.new_from_array(np.ascontiguousarray(turned))
    image = image.copy(interpretation="b-w")
    image.set_type(pyvips.GValue.gint_type, "orientation", 6)
    path = tmp_path / "turned.jpg"
    image.write_to_file(str(path), Q=95)
    plate = Plate.open(path)
    assert (plate.width_px, plate.height_px) == (320, 240)
    window = plate.window(20, 30, 100, 80)
    assert np.abs(window - slope()[30:110, 20:120] / 255.0).max() < JPEG_ERROR
    assert np.abs(plate.reduced(400)[0] - slope() / 255.0).max() < JPEG_ERROR


def test_negative_and_reversed_scans_come_back_as_upright_positives(tmp_path):
    stored = np.ascontiguousarray(255 - slope()[:, ::-1])
    path = write(stored, tmp_path / "glass.png")
    plate = Plate.open(path, negative=True, reversed=True)
    assert np.abs(plate.reduced(400)[0] - slope() / 255.0).max() < LOSSLESS
    window = plate.window(10, 20, 60, 50)
    assert np.abs(window - slope()[20:70, 10:70] / 255.0).max() < LOSSLESS


def test_a_negative_is_recognised_and_said_so_and_can_be_overruled(tmp_path):
    picture = np.full((240, 320), 220, np.uint8)
    picture[130:] = 60
    path = write(255 - picture, tmp_path / "negative.png")
    plate = Plate.open(path)
    assert plate.negative
    assert any("negative" in note for note in plate.notes)
    assert not Plate.open(path, negative=False).negative
    assert not Plate.open(write(picture, tmp_path / "positive.png")).negative


def test_colour_is_read_as_luminance_and_said_so(tmp_path):
    colour = np.dstack([slope(), slope(), slope()])
    path = tmp_path / "colour.png"
    pyvips.Image.new_from_array(colour).copy(interpretation="srgb").write_to_file(
        str(path)
    )
    plate = Plate.open(path)
    two_levels = 2.0 / 255
    assert np.abs(plate.reduced(400)[0] - slope() / 255.0).max() < two_levels
    assert any("luminance" in note for note in plate.notes)


@pytest.mark.parametrize(
    ("ppi", "options", "expected_px_per_mm"),
    [
        (72, {}, None),
        (300, {}, None),
        (100, {"size": "81.28x60.96mm", "trimmed": True}, 100 / 25.4),
        (72, {"size": "80x60mm"}, 4.0),
        (72, {"size": "80x60mm", "trimmed": True}, None),
        (72, {"scan_ppi": 254.0}, 10.0),
        (80, {}, 80 / 25.4),
    ],
)
def test_scale_comes_from_what_can_be_believed(
    tmp_path, ppi, options, expected_px_per_mm
):
    path = write(slope(), tmp_path / "tagged.tif", xres=ppi / 25.4, yres=ppi / 25.4)
    plate = Plate.open(path, **options)
    assert plate.ppi_tag == pytest.approx(ppi, rel=1e-5)
    if expected_px_per_mm is None:
        assert plate.px_per_mm is None
        assert any("not used" in note for note in plate.notes)
    else:
        assert plate.px_per_mm == pytest.approx(expected_px_per_mm, rel=1e-4)


def test_absurd_resolution_tag_is_noted_and_not_used(tmp_path):
    path = write(slope(), tmp_path / "odd.tif", xres=1e6, yres=1e6)
    plate = Plate.open(path)
    assert plate.px_per_mm is None
    assert any("absurd" in note for note in plate.notes)


def test_absurd_scanning_resolution_is_refused(tmp_path):
    with pytest.raises(PlateError, match="absurd"):
        Plate.open(write(slope(), tmp_path / "scan.png"), scan_ppi=3.0)


def test_the_plate_lies_along_the_scan(tmp_path):
    path = write(np.ascontiguousarray(slope().T), tmp_path / "tall.png")
    assert Plate.open(path, size="whole plate").size_mm == pytest.approx((165.1, 215.9))


def test_text_is_refused_as_no_image(tmp_path):
    path = tmp_path / "notes.tif"
    path.write_text("Looking north from the ferry")
    with pytest.raises(PlateError, match="not an image") as raised:
        Plate.open(path)
    assert "TIFF" in str(raised.value)


def test_empty_file_is_refused(tmp_path):
    path = tmp_path / "empty.jpg"
    path.touch()
    with pytest.raises(PlateError, match="0 bytes"):
        Plate.open(path)


def test_missing_file_is_named(tmp_path):
    with pytest.raises(PlateError, match=r"absent\.tif"):
        Plate.open(tmp_path / "absent.tif")


@pytest.mark.parametrize("suffix", ["jpg", "png", "tif"])
def test_truncated_file_is_refused(tmp_path, suffix):
    rng = np.random.default_rng(1)
    noise = rng.integers(0, 255, (400, 600)).astype(np.uint8)
    whole = write(noise, tmp_path / f"whole.{suffix}")
    path = tmp_path / f"cut.{suffix}"
    path.write_bytes(whole.read_bytes()[: whole.stat().st_size // 2])
    with pytest.raises(PlateError, match=r"damaged|ends too soon") as raised:
        Plate.open(path).reduced(600)
    assert not re.search("vips|lib(png|jpeg|tiff)", str(raised.value), re.IGNORECASE)


def test_header_larger_than_its_library_reads_is_refused_by_its_size(tmp_path):
    path = tmp_path / "huge.png"
    size = struct.pack(">II", 2_000_000_000, 2_000_000_000)
    path.write_bytes(b"\x89PNG\r\n\x1a\n\x00\x00\x00\x0dIHDR" + size + b"\x08" * 9)
    with pytest.raises(PlateError, match="2000000000 x 2000000000 px; at most"):
        Plate.open(path)


def test_header_of_ten_gigapixels_is_refused_without_reading_it(tmp_path):
    def chunk(kind, body):
        check = struct.pack(">I", zlib.crc32(kind + body))
        return struct.pack(">I", len(body)) + kind + body + check

    header = struct.pack(">IIBBBBB", 100_000, 100_000, 8, 0, 0, 0, 0)
    path = tmp_path / "huge.png"
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b"\0" * 1000))
        + chunk(b"IEND", b"")
    )
    with pytest.raises(PlateError, match="100000 x 100000"):
        Plate.open(path)


def test_scan_of_a_few_pixels_is_refused(tmp_path):
    with pytest.raises(PlateError, match="8 x 6 px"):
        Plate.open(write(slope(8, 6), tmp_path / "speck.png"))


def test_window_outside_the_scan_is_refused(tmp_path):
    plate = Plate.open(write(slope(), tmp_path / "scan.png"))
    with pytest.raises(PlateError, match="leaves the scan"):
        plate.window(300, 0, 40, 10)


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("s.png", '<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"/>'),
        ("t.csv", "1,2\n3,4\n"),
    ],
)
def test_what_is_no_photograph_is_refused(tmp_path: Path, name: str, text: str) -> None:
    path = tmp_path / name
    path.write_text(text, encoding="ascii")
    with pytest.raises(PlateError, match=r"photograph|image that can be read"):
        open_image(path)


@pytest.mark.parametrize("suffix", ["png", "jpg"])
def test_picture_that_would_be_unpacked_whole_must_fit_in_memory(
    tmp_path, suffix, monkeypatch
):
    monkeypatch.setattr("wherestood.plate.pixels.LARGEST_INTERLACED_PX", 5000)
    picture = pyvips.Image.black(100, 80)
    picture.write_to_file(str(tmp_path / f"plain.{suffix}"))
    assert open_image(tmp_path / f"plain.{suffix}").width_px == 100
    picture.write_to_file(str(tmp_path / f"laced.{suffix}"), interlace=True)
    with pytest.raises(PlateError, match="interlaced or progressive"):
        open_image(tmp_path / f"laced.{suffix}")
