"""Check stations from in lines and orders against constructions on squared paper.

SOURCE: Euclid, *Elements*. The drawing, worked out here in whole numbers:

- Two straight lines cross in one point (Book I, postulate 1 and definition 4). The
  line through the spire (300, 500) and the summit (900, 1700) rises 2 for 1; that
  through the chimney (-100, 300) and the tower (-900, 1100) falls 1 for 1. They cross
  where ``y = 2 x - 100`` and ``y = 200 - x``: (100, 100).
- The angle in a semicircle is right (III.31). From (0, 0) the gate (600, 0) and the oak
  (0, 800) stand at right angles; so they do from every point of the circle over them
  as a diameter: centre (300, 400), radius 500. The line through the oak and the mill
  (-400, 1600), which falls 2 for 1, meets it in the oak itself and once more:
  ``y = 800 - 2 x`` in ``x^2 + y^2 - 600 x - 800 y = 0`` gives ``5 x^2 = 2200 x``:
  x = 440, y = -80.
"""

from __future__ import annotations

import numpy as np

from wherestood.camera.priors import camera_prior
from wherestood.evidence.in_lines_together import in_line_residuals, weigh_in_lines
from wherestood.evidence.items import InLine, Order
from wherestood.evidence.lean import Lean
from wherestood.evidence.order import weigh_order
from wherestood.evidence.placed import PlacedFeature, Placement
from wherestood.evidence.stations import Stations

LEAN = Lean.of(camera_prior(4000, 3000, trimmed=False))
ONE_MICROMETRE = 1e-6
ONE_METRE = 1.0
PLACES = {
    "spire": (300.0, 500.0),
    "summit": (900.0, 1700.0),
    "chimney": (-100.0, 300.0),
    "tower": (-900.0, 1100.0),
    "gate": (600.0, 0.0),
    "oak": (0.0, 800.0),
    "mill": (-400.0, 1600.0),
}


def placement(sd_m: float = 1e-9) -> Placement:
    one, nought = np.ones(1), np.zeros(1)
    return Placement(
        {
            name: PlacedFeature(
                name, "", x * one, y * one, one, sd_m, 0.0, nought, nought, nought, 1.0,
                0.0, 1.0,
            )
            for name, (x, y) in PLACES.items()
        },
        {},
    )  # fmt: skip


def crossing(items: list[InLine], start: tuple[float, float]) -> tuple[float, float]:
    x, y = start
    for _ in range(30):
        here = Stations(np.array([x]), np.array([y]), np.zeros(1))
        residuals = in_line_residuals(items, placement(), here, LEAN)
        step = np.linalg.solve(residuals.by_station[0], residuals.residual_rad[0])
        x, y = x + step[0], y + step[1]
    return x, y


def test_two_in_lines_cross_where_two_ruled_lines_do() -> None:
    items = [InLine("spire", "summit"), InLine("chimney", "tower")]
    found = crossing(items, (150.0, 60.0))
    np.testing.assert_allclose(found, (100.0, 100.0), atol=ONE_MICROMETRE)


def test_right_angle_and_in_line_meet_on_the_circle_over_the_diameter() -> None:
    items = [InLine("oak", "gate", left_deg=90.0), InLine("oak", "mill")]
    found = crossing(items, (430.0, -60.0))
    np.testing.assert_allclose(found, (440.0, -80.0), atol=ONE_MICROMETRE)


def test_likeliest_station_of_a_fine_grid_is_the_crossing() -> None:
    items = [InLine("spire", "summit"), InLine("chimney", "tower")]
    steps = np.arange(-400.0, 401.0, 10.0)
    east, north = (part.ravel() for part in np.meshgrid(steps, steps))
    stations = Stations(east, north, np.zeros(east.size))
    density, _ = weigh_in_lines(items, placement(2.0), stations, LEAN)
    best = int(np.argmax(density))
    np.testing.assert_allclose(
        (east[best], north[best]), (100.0, 100.0), atol=ONE_METRE
    )


def test_orders_alone_leave_the_sector_that_a_ruler_cuts() -> None:
    """South and right of the ruled line the spire stands left of the summit."""
    stations = Stations(
        np.array([100.0 - 30.0, 100.0, 100.0 + 30.0]), np.full(3, 100.0), np.zeros(3)
    )
    order = Order("spire", "summit", trust=1.0)
    chance = np.exp(weigh_order(order, placement(0.5), stations, LEAN).log_likelihood)
    assert chance[0] < 1e-6
    np.testing.assert_allclose(chance[1], 0.5, atol=0.01)
    assert chance[2] > 0.9
