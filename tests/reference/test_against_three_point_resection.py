"""Check stations from angles alone against a three-point resection.

SOURCE: teaching notes "Three point resection problem", Ferris State University, SURE
215, pp. 176 ff. (method); the numbers are from memory of them and proved by Tienstra's
formula, to the millimetre:

    A (X 1000.00, Y 5300.00), B (2200.00, 6300.00), C (3100.00, 5000.00)
    angle APB 109 deg 30' 45", BPC 115 deg 05' 20"   ->   P (2128.390, 5578.144)

The ill-conditioned case was computed for this check: A (0, 0), B (4000, 6000),
C (10000, 1000), P (5000, -4000), angles APB 45.629599, BPC 50.710593 deg; P lies 17.7 m
from the circle through A, B and C.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from wherestood.camera.priors import camera_prior
from wherestood.evidence.in_lines_together import in_line_residuals
from wherestood.evidence.information import PositionInformation, position_information
from wherestood.evidence.items import InLine
from wherestood.evidence.lean import Lean
from wherestood.evidence.placed import PlacedFeature, Placement
from wherestood.evidence.stations import Stations

LEAN = Lean.of(camera_prior(4000, 3000, trimmed=False))
#: The published position is rounded to a millimetre.
ONE_MILLIMETRE = 1e-3
#: The angles of the second case are rounded to a millionth of a degree, which along
#: the circle is some 0.03 m.
ROUNDED_ANGLES_M = 0.05
EXACT_M = 1e-6

Points = dict[str, tuple[float, float]]

TEXTBOOK: Points = {"A": (1000.0, 5300.0), "B": (2200.0, 6300.0), "C": (3100.0, 5000.0)}
TEXTBOOK_ANGLES_DEG = (
    109.0 + 30.0 / 60.0 + 45.0 / 3600.0,
    115.0 + 5.0 / 60.0 + 20.0 / 3600.0,
)
NEAR_CIRCLE: Points = {"A": (0.0, 0.0), "B": (4000.0, 6000.0), "C": (10_000.0, 1000.0)}
NEAR_CIRCLE_ANGLES_DEG = (45.629599, 50.710593)


def placement(points: Points) -> Placement:
    one, nought = np.ones(1), np.zeros(1)
    return Placement(
        {
            name: PlacedFeature(
                name, "", x * one, y * one, one, EXACT_M, 0.0, nought, nought, nought,
                1.0, 0.0, 1.0,
            )
            for name, (x, y) in points.items()
        },
        {},
    )  # fmt: skip


def resected(
    points: Points, angles_deg: tuple[float, float], start: tuple[float, float]
) -> tuple[tuple[float, float], PositionInformation]:
    """Return where the angles put the station, by Newton steps, and how well."""
    items = [
        InLine("A", "B", left_deg=angles_deg[0], sd_deg=0.01),
        InLine("B", "C", left_deg=angles_deg[1], sd_deg=0.01),
    ]
    held = placement(points)
    x, y = start
    for _ in range(30):
        here = Stations(np.array([x]), np.array([y]), np.zeros(1))
        residuals = in_line_residuals(items, held, here, LEAN)
        step = np.linalg.solve(residuals.by_station[0], residuals.residual_rad[0])
        x, y = x + step[0], y + step[1]
    assert np.hypot(*step) < ONE_MILLIMETRE
    here = Stations(np.array([x]), np.array([y]), np.zeros(1))
    return (x, y), position_information(items, held, here, LEAN)


@pytest.mark.parametrize("start", [(2000.0, 5500.0), (2500.0, 5900.0)])
def test_two_angles_give_the_published_station(start: tuple[float, float]) -> None:
    found, information = resected(TEXTBOOK, TEXTBOOK_ANGLES_DEG, start)
    np.testing.assert_allclose(found, (2128.390, 5578.144), atol=ONE_MILLIMETRE)
    assert not information.nearly_indeterminate[0]


def test_station_near_the_danger_circle_is_found_and_flagged() -> None:
    found, information = resected(
        NEAR_CIRCLE, NEAR_CIRCLE_ANGLES_DEG, (5200.0, -3900.0)
    )
    np.testing.assert_allclose(found, (5000.0, -4000.0), atol=ROUNDED_ANGLES_M)
    assert information.nearly_indeterminate[0]
    # Along the circle hundreds of metres, across it about one.
    assert information.longest_sd_m[0] > 100.0 * information.shortest_sd_m[0]


def test_on_the_circle_itself_the_station_slides_along_it() -> None:
    """The circle's centre and radius are those the source computes for the textbook."""
    centre, radius_m = np.array([2063.415, 5243.902]), 1064.893
    towards_south = math.radians(185.0)
    on_circle = centre + radius_m * np.array(
        [math.sin(towards_south), math.cos(towards_south)]
    )
    items = [InLine("A", "B", sd_deg=0.01), InLine("B", "C", sd_deg=0.01)]
    here = Stations(on_circle[:1], on_circle[1:], np.zeros(1))
    found = position_information(items, placement(TEXTBOOK), here, LEAN)
    assert found.nearly_indeterminate[0]
    ratio = found.longest_sd_m[0] / found.shortest_sd_m[0]
    # The centre is rounded to a millimetre in a thousand metres.
    assert ratio > 1e5
