"""Check how the ground is laid out in cells, and split."""

import numpy as np
import pytest
import shapely

from wherestood.errors import AreaError, TerrainError
from wherestood.fix import search as searching
from wherestood.fix.posterior import posterior_of
from wherestood.fix.problem import set_up
from wherestood.fix.search import FEWEST_CELLS, FIRST_SIDE_M, RING_SHARE, first_cells
from wherestood.fix.settings import LocateSettings
from wherestood.progress import SILENT

A_TENTH_OF_THE_AREA = 0.1
PEAK_M = (310.0, -740.0)
SPREAD_M = 30.0


@pytest.mark.parametrize(
    "shape",
    [
        shapely.box(0.0, 0.0, 5000.0, 5000.0),
        shapely.box(0.0, 0.0, 9000.0, 700.0),
        shapely.Point(0.0, 0.0).buffer(900.0),
    ],
)
def test_first_cells_cover_the_ground_and_a_ring(shape) -> None:
    east_m, north_m, inside, side_m = first_cells(shape)
    assert side_m <= FIRST_SIDE_M
    assert inside.sum() > 0.9 * min(FEWEST_CELLS, shape.area / FIRST_SIDE_M**2)
    half_m = side_m / 2.0
    boxes = shapely.box(
        east_m - half_m, north_m - half_m, east_m + half_m, north_m + half_m
    )
    whole = shapely.union_all(boxes, grid_size=0.01)
    assert shape.difference(whole.buffer(0.02)).area < 1.0
    assert whole.area == pytest.approx(len(east_m) * side_m**2, rel=1e-3)
    np.testing.assert_array_equal(inside, shapely.contains_xy(shape, east_m, north_m))
    assert inside.sum() * side_m**2 == pytest.approx(
        shape.area, rel=A_TENTH_OF_THE_AREA
    )


def test_ring_has_its_share_of_the_area() -> None:
    shape = shapely.box(0.0, 0.0, 5000.0, 5000.0)
    _, _, inside, side_m = first_cells(shape)
    ring = (~inside).sum() * side_m**2 / shape.area
    assert ring == pytest.approx(RING_SHARE, abs=A_TENTH_OF_THE_AREA)


@pytest.fixture
def round_peak(make_cells, monkeypatch: pytest.MonkeyPatch):
    """Score cells by a round peak in closed form instead of a skyline."""

    def score(_problem, east_m, north_m, side_m, inside, *_, **__):
        away = np.hypot(east_m - PEAK_M[0], north_m - PEAK_M[1])
        # A cell's score is marginal over the cell: its own spread is added.
        spread = np.hypot(SPREAD_M, side_m / np.sqrt(12.0))
        density = -0.5 * (away / spread) ** 2 - 2.0 * np.log(spread)
        return make_cells(east_m, north_m, side_m, density, inside)

    monkeypatch.setattr(searching, "score_cells", score)


@pytest.mark.usefixtures("round_peak")
def test_splitting_closes_in_on_the_peak_and_loses_no_ground(problem) -> None:
    shape = problem.area.in_frame(problem.terrain.frame)
    east_m, _, _, first_m = first_cells(shape)
    cells = searching.search(problem, SILENT)
    area_m2 = (cells.side_m**2).sum()
    assert area_m2 == pytest.approx(len(east_m) * first_m**2, rel=1e-9)
    half_m = cells.side_m / 2.0
    boxes = shapely.box(
        cells.east_m - half_m,
        cells.north_m - half_m,
        cells.east_m + half_m,
        cells.north_m + half_m,
    )
    whole = shapely.union_all(boxes, grid_size=0.001)
    assert whole.area == pytest.approx(area_m2, rel=1e-4)
    at_peak = np.hypot(cells.east_m - PEAK_M[0], cells.north_m - PEAK_M[1]) < SPREAD_M
    assert np.all(cells.side_m[at_peak] <= first_m / 4.0)
    posterior = posterior_of(cells)
    found = posterior.cells
    mean_m = np.average(
        np.column_stack((found.east_m, found.north_m)), axis=0, weights=posterior.mass
    )
    np.testing.assert_allclose(mean_m, PEAK_M, atol=SPREAD_M / 10.0)
    sd_m = np.sqrt(np.average((found.east_m - mean_m[0]) ** 2, weights=posterior.mass))
    assert sd_m == pytest.approx(SPREAD_M, rel=0.1)


def test_true_cell_that_scores_badly_is_split_for_its_neighbours_sake(
    problem, make_cells, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A sharp peak at a cell's corner: its own middle scores worst of all."""
    shape = problem.area.in_frame(problem.terrain.frame)
    east_m, north_m, _, first_m = first_cells(shape)
    true = int(np.argmin(np.hypot(east_m - PEAK_M[0], north_m - PEAK_M[1])))
    peak_m = (east_m[true] + 0.3 * first_m, north_m[true] + 0.3 * first_m)
    hopeless = 2.0 * searching.KEEP_WITHIN

    def score(_problem, east_m, north_m, side_m, inside, *_, **__):
        away_m = np.hypot(east_m - peak_m[0], north_m - peak_m[1])
        density = -away_m / 500.0
        if side_m == first_m:
            # The true cell comes out worse than any place, its neighbours do not.
            density[np.argmin(away_m)] -= hopeless
        else:
            density += 20.0 * np.exp(-0.5 * (away_m / SPREAD_M) ** 2)
        return make_cells(east_m, north_m, side_m, density, inside)

    monkeypatch.setattr(searching, "score_cells", score)
    monkeypatch.setattr(searching, "ENOUGH_CELLS", 5000)
    posterior = posterior_of(searching.search(problem, SILENT))
    best = posterior.cells
    assert np.hypot(best.east_m[0] - peak_m[0], best.north_m[0] - peak_m[1]) < SPREAD_M
    assert best.side_m[0] < first_m / 4.0


def test_ground_unknown_under_all_finer_cells_ends_the_search(
    problem, make_cells, monkeypatch: pytest.MonkeyPatch
) -> None:
    first_m = first_cells(problem.area.in_frame(problem.terrain.frame))[3]

    def score(_problem, east_m, north_m, side_m, inside, *_, **__):
        density = -np.hypot(east_m, north_m) / SPREAD_M
        known = np.full(len(east_m), side_m == first_m)
        return make_cells(
            east_m[known], north_m[known], side_m, density[known], inside[known]
        )

    monkeypatch.setattr(searching, "score_cells", score)
    cells = searching.search(problem, SILENT)
    assert np.all(cells.side_m == first_m)


def test_no_known_ground_inside_the_area_is_told(
    problem, make_cells, monkeypatch: pytest.MonkeyPatch
) -> None:
    def score(_problem, east_m, north_m, side_m, inside, *_, **__):
        ring = ~inside
        nothing = np.zeros(ring.sum())
        return make_cells(east_m[ring], north_m[ring], side_m, nothing, inside[ring])

    monkeypatch.setattr(searching, "score_cells", score)
    with pytest.raises(AreaError, match="No ground inside the area") as caught:
        searching.search(problem, SILENT)
    assert "another area" in str(caught.value)


def test_area_away_from_the_terrain_is_told(plate, land, wavy_skyline, area_of) -> None:
    away = area_of(land, shapely.box(40_000.0, 0.0, 42_000.0, 2_000.0))
    with pytest.raises(TerrainError, match="No height is known anywhere") as caught:
        set_up(plate, land, wavy_skyline, away, LocateSettings())
    assert "elevation model that covers it" in str(caught.value)
