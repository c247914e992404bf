"""Check whole searches by edges and waters, by orders, and by a strip of sky."""

from __future__ import annotations

from dataclasses import replace
from types import ModuleType

import numpy as np
import pytest
import shapely

from wherestood.evidence.items import (
    Evidence,
    Feature,
    Order,
    PlumbEdge,
    SeaHorizon,
    gather,
)
from wherestood.evidence.samples import FEWEST_BESIDE_OTHERS, FEWEST_BINS
from wherestood.fix.cells import score_cells
from wherestood.fix.locate import locate
from wherestood.fix.posterior import posterior_of
from wherestood.fix.problem import set_up
from wherestood.fix.search import search
from wherestood.fix.settings import LocateSettings
from wherestood.plate.skyline import Skyline
from wherestood.progress import SILENT

SETTINGS = LocateSettings(surface="ground", reversed=False, horizon_radius_m=6000.0)


@pytest.fixture(scope="module")
def area(land, area_of, marked: ModuleType):
    """Return 160 m by 160 m, the station off its middle."""
    east_m, north_m = marked.STATION_M
    return area_of(
        land,
        shapely.box(east_m - 90.0, north_m - 70.0, east_m + 70.0, north_m + 90.0),
    )


def edges(marked: ModuleType) -> list[PlumbEdge]:
    """Return upright edges as the invented camera draws them."""
    turn = np.radians(marked.BEARING_DEG)
    found = []
    for ahead, right in ((300.0, -110.0), (350.0, 10.0), (280.0, 90.0)):
        way = np.array(
            [
                ahead * np.sin(turn) + right * np.cos(turn),
                ahead * np.cos(turn) - right * np.sin(turn),
            ]
        )
        rays = np.array([[*way, -6.0], [*way, 40.0]])
        x, y = marked.camera().project(rays)
        ends = tuple((float(a), float(b)) for a, b in zip(x, y, strict=True))
        found.append(PlumbEdge(ends, id=f"edge {len(found)}"))
    return found


def spread_m(problem) -> tuple[float, float]:
    """Return the root mean square distance from the station, and cells' own size."""
    posterior = posterior_of(search(problem, SILENT), 0.0)
    cells, mass = posterior.cells, posterior.mass
    east, north = float(mass @ cells.east_m), float(mass @ cells.north_m)
    square = (cells.east_m - east) ** 2 + (cells.north_m - north) ** 2
    return float(np.sqrt(mass @ square)), float(np.hypot(east - 310.0, north + 240.0))


def test_three_marks_and_upright_edges_place_a_plate_without_a_skyline(
    plate, land, area, marked: ModuleType
) -> None:
    whole = marked.evidence_of(land)
    three = replace(whole, marks=whole.marks[:3])
    more = gather([*three.marks, *three.features, *edges(marked)])
    before = set_up(plate, land, None, area, SETTINGS, three)
    after = set_up(plate, land, None, area, SETTINGS, more)
    wide, _ = spread_m(before)
    narrow, off = spread_m(after)
    assert narrow < wide
    assert off < 3.0 * narrow


def test_upright_edges_and_a_sea_horizon_alone_end_in_an_answer(
    plate, land, area, marked: ModuleType
) -> None:
    level = SeaHorizon(((100.0, 480.0), (1100.0, 478.0)), height_m=-50.0, id="sea")
    evidence = gather([*edges(marked), level])
    problem = set_up(plate, land, None, area, SETTINGS, evidence)
    east, north = (np.array([part]) for part in marked.STATION_M)
    cells = score_cells(problem, east, north, 10.0, np.ones(1), SILENT)
    assert np.isfinite(cells.log_density).all()
    # The sea left out again, there is no water to begin a camera from.
    dry = replace(problem, seen=problem.seen.without({"sea"}))
    cells = score_cells(dry, east, north, 10.0, np.ones(1), SILENT)
    assert np.isfinite(cells.log_density).all()


def test_orders_alone_place_no_more_than_they_can(
    plate, land, area, marked: ModuleType
) -> None:
    # One thing 15 m left of another at 300 m: plain from there, and from much else.
    turn = np.radians(marked.BEARING_DEG)
    features = []
    for name, ahead, right in (("oak", 300.0, -8.0), ("barn", 900.0, 20.0)):
        at = np.array(marked.STATION_M)
        at[0] += ahead * np.sin(turn) + right * np.cos(turn)
        at[1] += ahead * np.cos(turn) - right * np.sin(turn)
        lon, lat = land.frame.to_lonlat(at[:1], at[1:])
        features.append(Feature((float(lon[0]), float(lat[0])), id=name, sd_m=3.0))

    def asked(**more) -> Evidence:
        return gather([Order(*features, "left of", id="order", **more)])

    found = locate(
        plate, land, None, area, settings=SETTINGS, evidence=asked(touching=False)
    )
    assert found.verdict == "not determined"
    # Judged across a gap the camera may have leaned: the step is softer.
    aside = [
        set_up(plate, land, None, area, SETTINGS, asked(**more))
        for more in ({}, {"touching": False, "gap_share": 0.6})
    ]
    spreads = [spread_m(problem)[0] for problem in aside]
    assert spreads[1] > spreads[0]


def test_a_strip_of_sky_counts_beside_marks(
    plate, land, area, marked: ModuleType
) -> None:
    x_px = np.arange(500.5, 668.0, 2.0)  # 14% of the width
    strip = Skyline(
        x_px,
        np.full(x_px.size, 420.0),
        np.full(x_px.size, 3.0),
        plate.width_px,
        plate.height_px,
        np.zeros(x_px.size, dtype=bool),
    )
    whole = marked.evidence_of(land)
    problem = set_up(plate, land, strip, area, SETTINGS, whole)
    strips = len(problem.hands[0].samples.table)
    assert FEWEST_BESIDE_OTHERS <= strips < FEWEST_BINS
    assert len(problem.marks.plate) == len(whole.marks)
