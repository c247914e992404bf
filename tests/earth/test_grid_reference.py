from __future__ import annotations

import numpy as np
import pyproj
import pytest

from wherestood.earth.grid_reference import (
    looks_like_grid_reference,
    read_grid_reference,
)
from wherestood.errors import InputError

# Half of the smallest square read here.
HALF_A_METRE = 0.5


def _in(crs: str, lon: float, lat: float) -> tuple[float, float]:
    to = pyproj.Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    return to.transform(lon, lat)


@pytest.mark.parametrize(
    ("text", "east_m", "north_m", "side_m"),
    [
        # Ordnance Survey, "A guide to coordinate systems in Great Britain", annexe C:
        # TG 51409 13177 is E 651409.903, N 313177.270.
        ("TG 51409 13177", 651409.5, 313177.5, 1.0),
        # The same guide's layout of squares: NN is E 200 to 300, N 700 to 800 km.
        ("NN 166 712", 216650.0, 771250.0, 100.0),
        ("nn17", 215000.0, 775000.0, 10_000.0),
        ("SV", 50_000.0, 50_000.0, 100_000.0),
        ("HP 6 1", 465_000.0, 1_215_000.0, 10_000.0),
    ],
)
def test_british_letters_name_their_square(
    text: str, east_m: float, north_m: float, side_m: float
) -> None:
    square = read_grid_reference(text)
    assert square.side_m == side_m
    east, north = _in("EPSG:27700", square.lon_deg, square.lat_deg)
    assert abs(east - east_m) < HALF_A_METRE
    assert abs(north - north_m) < HALF_A_METRE


def test_an_irish_letter_names_its_square() -> None:
    # O is column 4 of 5 and row 3 from the south: E 300 to 400, N 200 to 300 km.
    square = read_grid_reference("O 159 345")
    east, north = _in("EPSG:29902", square.lon_deg, square.lat_deg)
    assert (east, north) == pytest.approx((315_950.0, 234_550.0), abs=HALF_A_METRE)


def test_a_military_reference_known_from_memory() -> None:
    # 4QFJ 12345 67890 lies at 21.4098 N, 157.9161 W: from memory.
    square = read_grid_reference("4QFJ1234567890")
    assert square.lat_deg == pytest.approx(21.40980, abs=1e-4)
    assert square.lon_deg == pytest.approx(-157.91608, abs=1e-4)


@pytest.mark.parametrize("lon", [-179.9, -61.0, 2.9, 8.5, 145.2])
@pytest.mark.parametrize("lat", [-79.5, -33.9, -0.01, 0.01, 46.1, 71.9, 83.9])
def test_military_references_hold_the_place_they_were_made_for(
    lon: float, lat: float
) -> None:
    # Letters by the standard's own rule (NGA.STND.0037, appendix B), written out here
    # from the universal grid's numbers, which proj computes.
    zone = int((lon + 180.0) // 6.0) + 1
    east, north = _in(f"EPSG:{(32600 if lat >= 0 else 32700) + zone}", lon, lat)
    band = "CDEFGHJKLMNPQRSTUVWX"[min(int((lat + 80.0) // 8.0), 19)]
    column = "ABCDEFGHJKLMNPQRSTUVWXYZ"[(zone - 1) % 3 * 8 + int(east // 1e5) - 1]
    row = "ABCDEFGHJKLMNPQRSTUV"[(int(north // 1e5) + (5 if zone % 2 == 0 else 0)) % 20]
    digits = f"{int(east % 1e5):05d}{int(north % 1e5):05d}"
    square = read_grid_reference(f"{zone}{band} {column}{row} {digits}")
    geod = pyproj.Geod(ellps="WGS84")
    _, _, apart_m = geod.inv(lon, lat, square.lon_deg, square.lat_deg)
    assert apart_m < 1.0  # the place lies in the square of 1 m


def test_doubt_is_that_of_a_place_anywhere_in_the_square() -> None:
    draws = np.random.default_rng(1).uniform(0.0, 100.0, 100_000)
    square = read_grid_reference("NN 166 712")
    assert square.sd_m == pytest.approx(draws.std(), rel=0.01)


@pytest.mark.parametrize(
    "text",
    ["", "hello", "NN 16 7", "ZZ 12 34", "99T MS 12 34", "32T AS 1 2", "NN16671"],
)
def test_what_is_no_square_is_refused_by_name(text: str) -> None:
    with pytest.raises(InputError) as caught:
        read_grid_reference(text)
    assert repr(text) in caught.value.problem
    assert caught.value.remedy


def test_a_military_square_of_another_band_is_refused() -> None:
    square = read_grid_reference("32T MS 12 34")
    assert 40.0 < square.lat_deg < 48.0
    with pytest.raises(InputError, match="band"):
        read_grid_reference("32X MA 12 34")


def test_words_and_numbers_are_not_taken_for_references() -> None:
    assert looks_like_grid_reference("TG 514 131")
    assert not looks_like_grid_reference("8.5, 46.1")
    assert not looks_like_grid_reference("Old Mill")
