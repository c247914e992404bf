"""Check bearings and distances to features against GeographicLib.

SOURCE: C. F. F. Karney, GeographicLib (Python package ``geographiclib``), algorithms of
"Algorithms for geodesics", J. Geodesy 87, 2013. Used as a program: values are computed
by it when the test runs.
"""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from wherestood.earth.frame import Frame
from wherestood.evidence.directions import directions
from wherestood.evidence.items import Evidence, Feature
from wherestood.evidence.placed import place_evidence
from wherestood.evidence.stations import Stations

# A straight grid line bends against the geodesic by dN (2 E1 + E2) / 6 R^2: below
# 0.0003 deg between points within 10 km of the centre and 20 km of one another.
BEND_DEG = 3e-4
# Point scale grows as x^2 / 2 R^2: one part in 100 000 at 28 km.
SCALE = 1e-5

STATION_M = np.array([[0.0, 0.0], [8000.0, -5000.0], [-3000.0, 9000.0]])


@pytest.mark.parametrize("centre", [(8.5, 46.1), (-70.4, -32.8), (19.0, 69.6)])
def test_differences_of_bearings_are_those_of_geodesics(
    centre: tuple[float, float],
) -> None:
    frame = Frame.local(*centre)
    ends = [
        Geodesic.WGS84.Direct(centre[1], centre[0], bearing, length)
        for bearing, length in ((10.0, 2000.0), (75.0, 9000.0), (200.0, 6000.0))
    ]
    features = tuple(
        Feature((end["lon2"], end["lat2"]), id=f"f{number}", height_m=0.0)
        for number, end in enumerate(ends)
    )
    placement = place_evidence(Evidence(features=features), frame)
    stations = Stations(STATION_M[:, 0], STATION_M[:, 1], np.zeros(3))
    lon, lat = frame.to_lonlat(stations.east_m, stations.north_m)
    azimuth, distance = (
        np.column_stack(
            [
                getattr(directions(stations, placement.candidates(f.id)), name)[:, 0]
                for f in features
            ]
        )
        for name in ("azimuth_rad", "distance_m")
    )
    for row in range(3):
        geodesics = [
            Geodesic.WGS84.Inverse(lat[row], lon[row], end["lat2"], end["lon2"])
            for end in ends
        ]
        true_deg = np.array([geodesic["azi1"] for geodesic in geodesics])
        turn = np.degrees(azimuth[row]) - true_deg
        # Convergence is the same for all features of a station: it drops out.
        apart = (turn - turn[0] + 180.0) % 360.0 - 180.0
        assert np.abs(apart).max() < BEND_DEG
        lengths = [geodesic["s12"] for geodesic in geodesics]
        np.testing.assert_allclose(distance[row], lengths, rtol=SCALE)
