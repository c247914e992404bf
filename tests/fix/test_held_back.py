"""Check that marks held back do not count, and are foretold within their doubt."""

from __future__ import annotations

from dataclasses import replace
from types import ModuleType

import numpy as np
import pytest
import shapely

from wherestood.errors import InputError
from wherestood.evidence.foretell import plate_points
from wherestood.evidence.given import hold_back, require_something
from wherestood.evidence.items import Evidence, Mark
from wherestood.evidence.unknowns import COUNT
from wherestood.fix.locate import locate
from wherestood.fix.result import Fix
from wherestood.fix.settings import LocateSettings

SETTINGS = LocateSettings(surface="ground", reversed=False)
#: A normal error in the plane is beyond this once in a thousand times.
BEYOND_ONCE_IN_1000 = 3.72
#: Pixels by which rounding and difference quotients may move a point.
ROUNDING_PX = 0.02


@pytest.fixture(scope="module")
def searched(plate, land, area_of, marked: ModuleType):
    east, north = marked.STATION_M
    area = area_of(
        land, shapely.box(east - 300.0, north - 200.0, east + 200.0, north + 300.0)
    )

    def made(evidence: Evidence, settings: LocateSettings = SETTINGS) -> Fix:
        return locate(plate, land, None, area, settings=settings, evidence=evidence)

    return made


def test_a_mark_held_back_is_foretold_within_its_ellipse(
    searched, land, marked
) -> None:
    fix = searched(hold_back(marked.evidence_of(land), ["mark 2", "mark 4"]))
    assert {row["id"] for row in fix.evidence} == {f"mark {n}" for n in (0, 1, 3, 5, 6)}
    assert [one.id for one in fix.checks.held_back] == ["mark 2", "mark 4"]
    for one in fix.checks.held_back:
        assert one.off_sds < BEYOND_ONCE_IN_1000
        assert one.long_px >= one.short_px > 2.0  # a mark's own error
        assert one.off_px < 3.0 * one.long_px


def test_a_blunder_held_back_is_not_foretold(searched, land, marked) -> None:
    fix = searched(hold_back(marked.evidence_of(land, blunder=3), ["mark 3"]))
    (one,) = fix.checks.held_back
    assert one.off_sds > BEYOND_ONCE_IN_1000
    assert one.off_px == pytest.approx(300.0, abs=50.0)
    assert one.share_beyond < 1e-3


def test_ellipses_hold_marks_as_often_as_they_say(searched, land, marked) -> None:
    """Of marks read with their own errors, held back one by one."""
    evidence = marked.evidence_of(land)
    generator = np.random.default_rng(5)
    read = tuple(
        replace(
            mark,
            x_px=mark.x_px + mark.sd_px * generator.normal(),
            y_px=mark.y_px + mark.sd_px * generator.normal(),
        )
        for mark in evidence.marks
    )
    squares = []
    for mark in read[::2]:
        fix = searched(hold_back(replace(evidence, marks=read), [mark.id]))
        squares.append(fix.checks.held_back[0].off_sds ** 2)
    # Features are exact here, and thought to be within 2 m: no more than two each.
    assert np.mean(squares) < 2.0 + 2.0 * np.sqrt(4.0 / len(squares))


def test_on_a_reversed_scan_it_is_foretold_on_the_scan_as_read(
    searched, land, marked, plate
) -> None:
    evidence = marked.evidence_of(land)
    mirrored = replace(
        evidence,
        marks=tuple(
            replace(mark, x_px=plate.width_px - mark.x_px) for mark in evidence.marks
        ),
    )
    fix = searched(hold_back(mirrored, ["mark 1"]), replace(SETTINGS, reversed=True))
    (one,) = fix.checks.held_back
    assert one.off_sds < BEYOND_ONCE_IN_1000


def test_points_are_foretold_where_the_true_camera_shows_them(marked) -> None:
    """Against the projection that the invented plates are made with."""
    camera = marked.camera()
    diagonal = np.hypot(camera.width_px, camera.height_px)
    theta = np.zeros(COUNT)
    theta[0] = np.radians(camera.bearing_deg)
    theta[1] = np.log(camera.c_px / diagonal)
    theta[2], theta[3] = np.radians((camera.tilt_deg, camera.roll_deg))
    theta[4] = (camera.y0_px - camera.height_px / 2.0) / diagonal
    theta[5] = (camera.width_px / 2.0 - camera.x0_px) / diagonal
    bearing = theta[0] + np.radians(np.linspace(-20.0, 20.0, 9))
    tangent = np.linspace(-0.1, 0.2, 9)
    found = plate_points(theta, bearing, tangent, 0.5 * camera.width_px / diagonal)
    x, y = camera.project(np.column_stack((np.sin(bearing), np.cos(bearing), tangent)))
    np.testing.assert_allclose(
        found * diagonal,
        np.column_stack((x - camera.width_px / 2.0, camera.height_px / 2.0 - y)),
        atol=ROUNDING_PX,
    )


def test_only_marks_of_features_can_be_held_back(land, marked) -> None:
    evidence = marked.evidence_of(land)
    with pytest.raises(InputError, match="no mark 'mark 9'") as refused:
        hold_back(evidence, ["mark 9"])
    assert "mark" in refused.value.remedy
    untied = replace(evidence, marks=(Mark(5.0, 6.0, id="X"),))
    with pytest.raises(InputError, match="tied to nothing"):
        hold_back(untied, ["X"])


def test_a_search_by_marks_held_back_alone_is_refused(land, marked) -> None:
    evidence = marked.evidence_of(land)
    every = hold_back(evidence, [mark.id for mark in evidence.marks])
    with pytest.raises(InputError, match="no evidence"):
        require_something(every)
