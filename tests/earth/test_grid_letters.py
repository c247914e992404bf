"""Check the letters of squares and zones against those of known places."""

import pytest

from wherestood.earth.grid_letters import grid_square, utm_zone


def test_squares_of_the_military_grid_have_their_letters() -> None:
    """4Q FJ 12345 67890 lies in Honolulu; 18S UJ at Washington: from memory."""
    assert utm_zone(-157.916, 21.309) == (4, "Q")
    assert grid_square(612_345.0, 2_367_890.0, 4, 32604) == "FJ"
    assert utm_zone(-77.04, 38.9) == (18, "S")
    assert grid_square(323_400.0, 4_306_400.0, 18, 32618) == "UJ"


@pytest.mark.parametrize(
    ("lon_deg", "lat_deg", "zone"),
    [
        (5.3, 60.4, (32, "V")), (2.9, 60.4, (31, "V")), (20.0, 78.0, (33, "X")),
        (8.9, 78.0, (31, "X")), (9.1, 78.0, (33, "X")), (0.0, 83.9, (31, "X")),
        (180.0, -45.0, (1, "G")), (10.0, -85.0, None), (10.0, 85.0, None),
    ],
)  # fmt: skip
def test_zones_are_wide_where_they_are(lon_deg, lat_deg, zone) -> None:
    assert utm_zone(lon_deg, lat_deg) == zone
