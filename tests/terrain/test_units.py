"""Check that the unit of heights is told from what a raster says."""

import pyproj
import pytest

from wherestood.terrain.units import height_unit

UTM = pyproj.CRS("EPSG:32610")
# Definitions: the international foot is 0.3048 m, the U.S. survey foot 1200/3937 m.
FOOT_M = 0.3048
US_SURVEY_FOOT_M = 1200.0 / 3937.0
ROUNDING = 1e-12


@pytest.mark.parametrize(
    ("unit", "description", "crs", "metres"),
    [
        ("m", None, UTM, 1.0),
        ("Meters", None, UTM, 1.0),
        ("ft", None, UTM, FOOT_M),
        ("US_survey_foot", None, UTM, US_SURVEY_FOOT_M),
        ("ftUS", None, UTM, US_SURVEY_FOOT_M),
        ("cm", None, UTM, 0.01),
        # NAVD88 height in feet, in U.S. survey feet, in metres.
        ("", None, pyproj.CRS("EPSG:32610+8228"), FOOT_M),
        (None, None, pyproj.CRS("EPSG:32610+6360"), US_SURVEY_FOOT_M),
        (None, None, pyproj.CRS("EPSG:32610+5703"), 1.0),
        # The band itself is believed before the CRS.
        ("m", None, pyproj.CRS("EPSG:32610+6360"), 1.0),
        ("fathom", None, pyproj.CRS("EPSG:32610+6360"), US_SURVEY_FOOT_M),
        (None, None, pyproj.CRS("EPSG:4979"), 1.0),
        (None, "Elevation (ft)", UTM, FOOT_M),
        (None, "Height of drifted snow", UTM, 1.0),
        (None, None, UTM, 1.0),
    ],
)
def test_unit_in_metres(unit, description, crs: pyproj.CRS, metres: float) -> None:
    got = height_unit(unit, description, crs)
    assert got.metres == pytest.approx(metres, rel=ROUNDING)


@pytest.mark.parametrize(
    ("unit", "crs", "words"),
    [
        ("fathom", UTM, "Warning: unknown height unit 'fathom'"),
        (None, pyproj.CRS("EPSG:2229"), "Warning: height unit not stated and the grid"),
        (None, UTM, "height unit not stated; heights taken as metres"),
        ("ft", UTM, "heights in ft, as the file says"),
    ],
)
def test_guess_is_told_from_knowledge(unit, crs: pyproj.CRS, words: str) -> None:
    assert height_unit(unit, None, crs).note.startswith(words)
