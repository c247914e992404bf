"""Check that a plate within a scan's margin is located as it would be alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
import shapely
from PIL import Image

from wherestood import notebook
from wherestood.evidence.items import CameraFacts, Mark, PlumbEdge
from wherestood.fix.locate import locate
from wherestood.fix.on_corners import laid_evidence, laid_skyline
from wherestood.fix.settings import LocateSettings
from wherestood.plate.scan import Plate
from wherestood.plate.skyline import Skyline
from wherestood.plate.straight import straight_plate

SETTINGS = LocateSettings(surface="ground", reversed=False)
TURN = np.radians(1.5)
#: Pixels of the plate are laid out to this.
HUNDREDTH_PX = 0.01
#: Marks of 2 px move by rounding alone, and the station with them.
ONE_METRE = 1.0


def on_scan(points_px):
    """Return where points of the 1200 x 900 px plate lie on a scan with a margin."""
    x, y = (np.asarray(points_px, dtype=np.float64) - [600.0, 450.0]).T
    return np.column_stack(
        (
            760.0 + x * np.cos(TURN) - y * np.sin(TURN),
            560.0 + x * np.sin(TURN) + y * np.cos(TURN),
        )
    )


CORNERS = tuple(
    (float(x), float(y)) for x, y in on_scan([(0, 0), (1200, 0), (1200, 900), (0, 900)])
)


@pytest.fixture(scope="module")
def scan(tmp_path_factory: pytest.TempPathFactory) -> Plate:
    path: Path = tmp_path_factory.mktemp("scan") / "margin.png"
    Image.new("L", (1500, 1100), 120).save(path)
    return Plate.open(path, negative=False)


def test_a_line_and_marks_are_laid_on_the_plate(scan: Plate) -> None:
    straight = straight_plate(scan.told(size=None, corners=CORNERS))
    assert straight is not None
    x = np.linspace(-40.0, 1180.0, 400)
    y = 300.0 + 40.0 * np.sin(x / 150.0)
    line = Skyline(
        *on_scan(np.column_stack((x, y))).T,
        np.full(400, 2.0),
        1500,
        1100,
        (np.abs(x - 500.0) < 2.0),
    )
    laid = laid_skyline(straight, line)
    assert laid.width_px == 1200
    assert laid.x_px[0] >= -0.5  # the margin is no sky; half a pixel is its edge
    np.testing.assert_allclose(
        laid.y_px, 300.0 + 40.0 * np.sin(laid.x_px / 150.0), atol=HUNDREDTH_PX
    )
    gaps = laid.x_px[laid.break_after]
    np.testing.assert_allclose(gaps, x[line.break_after], atol=HUNDREDTH_PX)


def test_the_plate_is_located_as_it_would_be_without_its_margin(
    scan: Plate, plate: Plate, land, area_of, marked: ModuleType
) -> None:
    east_m, north_m = marked.STATION_M
    area = area_of(
        land,
        shapely.box(east_m - 120.0, north_m - 100.0, east_m + 100.0, north_m + 120.0),
    )
    evidence = marked.evidence_of(land)
    moved = on_scan([(mark.x_px, mark.y_px) for mark in evidence.marks])
    facts = CameraFacts(plate_corners_px=CORNERS)
    outside = Mark(30.0, 40.0, "thing 0", id="in the margin")
    on_margin = replace(
        evidence,
        marks=(
            *(
                replace(mark, x_px=float(x), y_px=float(y))
                for mark, (x, y) in zip(evidence.marks, moved, strict=True)
            ),
            outside,
        ),
        camera=facts,
    )
    alone = locate(plate, land, None, area, settings=SETTINGS, evidence=evidence)
    found = notebook.locate(scan, land, on_margin, within=area, settings=SETTINGS)
    assert found.station.east_m == pytest.approx(alone.station.east_m, abs=ONE_METRE)
    assert found.station.north_m == pytest.approx(alone.station.north_m, abs=ONE_METRE)
    assert found.camera.principal_distance_px == pytest.approx(
        alone.camera.principal_distance_px, rel=1e-3
    )
    assert [one.item for one in found.complaints] == ["in the margin"]
    assert "corners" in found.complaints[0].problem
    told = {row["id"]: row for row in found.answer.evidence}
    here = {row["id"]: row for row in alone.evidence}
    for mark in evidence.marks:
        assert told[mark.id]["residual"] == pytest.approx(
            here[mark.id]["residual"], abs=0.2
        )


def test_points_of_edges_are_laid_too(scan: Plate) -> None:
    straight = straight_plate(scan.told(size=None, corners=CORNERS))
    assert straight is not None
    ends = [(300.0, 400.0), (310.0, 700.0)]
    points = tuple(map(tuple, on_scan(ends).tolist()))
    evidence = notebook.as_checked([PlumbEdge(points)]).evidence
    (edge,) = laid_evidence(straight, evidence).plumb_edges
    np.testing.assert_allclose(edge.points_px, ends, atol=HUNDREDTH_PX)
