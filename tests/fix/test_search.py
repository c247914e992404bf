"""Check how the ground is laid out in cells, and split."""

from typing import Any

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
WIDE_M = 400.0


def as_they_are(_problem: Any, cells: Any, _progress: Any, **_more: Any) -> Any:
    """Return cells unshared: made-up scores have no cameras to share."""
    return cells


@pytest.mark.parametrize(
    "shape",
    [
        shapely.box(0.0, 0.0, 5000.0, 5000.0),
        shapely.box(0.0, 0.0, 9000.0, 700.0),
        shapely.Point(0.0, 0.0).buffer(900.0),
    ],
)
def test_first_cells_cover_the_ground_and_a_ring(shape) -> None:
    east_m, north_m, share, side_m = first_cells(shape)
    assert side_m <= FIRST_SIDE_M
    assert share.sum() > 0.9 * min(FEWEST_CELLS, shape.area / FIRST_SIDE_M**2)
    half_m = side_m / 2.0
    boxes = shapely.box(
        east_m - half_m, north_m - half_m, east_m + half_m, north_m + half_m
    )
    whole = shapely.union_all(boxes, grid_size=0.01)
    assert shape.difference(whole.buffer(0.02)).area < 1.0
    assert whole.area == pytest.approx(len(east_m) * side_m**2, rel=1e-3)
    # Cells across the outline count by their share: together they are the area.
    assert share.sum() * side_m**2 == pytest.approx(shape.area)
    centred = shapely.contains_xy(shape, east_m, north_m)
    assert np.all(share[centred] > 0.0)


def test_ring_has_its_share_of_the_area() -> None:
    shape = shapely.box(0.0, 0.0, 5000.0, 5000.0)
    _, _, share, side_m = first_cells(shape)
    ring = (1.0 - share).sum() * side_m**2 / shape.area
    assert ring == pytest.approx(RING_SHARE, abs=A_TENTH_OF_THE_AREA)


def road(degrees: float, width_m: float) -> shapely.Polygon:
    """Return a straight strip of ground, 20 km long, turned."""
    strip = shapely.box(-10_000.0, -width_m / 2, 10_000.0, width_m / 2)
    return shapely.affinity.rotate(strip, degrees, origin=(0.0, 0.0))


@pytest.mark.parametrize("degrees", [0.0, 27.0, 90.0])
def test_a_road_narrower_than_a_cell_is_searched_along_its_whole_length(
    degrees: float,
) -> None:
    shape = road(degrees, 12.0)
    east_m, north_m, share, side_m = first_cells(shape)
    assert side_m > 12.0
    touched = share > 0.0
    assert np.all(share[touched] < 1.0)
    assert share.sum() * side_m**2 == pytest.approx(shape.area)
    half_m = side_m / 2.0
    boxes = shapely.box(
        east_m - half_m, north_m - half_m, east_m + half_m, north_m + half_m
    )[touched]
    whole = shapely.union_all(boxes, grid_size=0.01)
    assert shape.difference(whole.buffer(0.02)).area < 1.0


def test_a_road_between_the_middles_of_cells_is_no_unknown_ground(
    plate, land, wavy_skyline, area_of, make_cells, monkeypatch: pytest.MonkeyPatch
) -> None:
    area = area_of(land, shapely.box(-3000.0, -1.0, 3000.0, 1.0))
    narrow = set_up(plate, land, wavy_skyline, area, LocateSettings())
    centred = []

    def score(_problem, east_m, north_m, side_m, share, *_, **__):
        shape = area.in_frame(land.frame)
        centred.append(shapely.contains_xy(shape, east_m, north_m).any())
        density = -np.hypot(east_m, north_m) / 1000.0
        return make_cells(east_m, north_m, side_m, density, share)

    monkeypatch.setattr(searching, "score_cells", score)
    monkeypatch.setattr(searching, "share_cameras", as_they_are)
    posterior = posterior_of(searching.search(narrow, SILENT))
    assert not centred[0]
    assert posterior.mass.sum() == pytest.approx(1.0)
    assert np.ptp(posterior.cells.east_m) > 5000.0


@pytest.mark.parametrize("off", [0.0, 0.25, 0.5, 0.75])
def test_neighbours_of_the_likely_are_split_wherever_the_lattice_lies(
    make_cells, off: float
) -> None:
    side_m = 50.0
    at_m = side_m * (np.arange(-20, 20) + off)
    east_m, north_m = (part.ravel() for part in np.meshgrid(at_m, at_m))
    for middle in (0.0, side_m):
        steps = np.abs(np.column_stack((east_m, north_m)) / side_m - off - middle)
        likely = np.all(steps < 0.5, axis=1)
        cells = make_cells(east_m, north_m, side_m, np.where(likely, 0.0, -50.0))
        split = searching._worth_splitting(cells, side_m, -12.0, cells.east_m.size)
        np.testing.assert_array_equal(split, np.all(steps < 1.5, axis=1))


@pytest.mark.usefixtures("wide_peak")
def test_cells_beyond_the_most_that_are_split_keep_their_probability(
    problem, monkeypatch: pytest.MonkeyPatch
) -> None:
    shape = problem.area.in_frame(problem.terrain.frame)
    east_m, _, _, first_m = first_cells(shape)
    monkeypatch.setattr(searching, "MOST_SPLIT", (30, 30, 30))
    monkeypatch.setattr(searching, "ENOUGH_CELLS", 2000)
    cells = searching.search(problem, SILENT)
    assert (cells.side_m**2).sum() == pytest.approx(len(east_m) * first_m**2, rel=1e-9)
    posterior = posterior_of(cells)
    # Density e^(-r/s) to either side: what the whole square holds beyond a disc.
    left = posterior.cells.side_m == first_m
    at_m = np.arange(-1999.0, 2000.0, 2.0)
    east, north = np.meshgrid(at_m, at_m)
    density = np.exp(-np.hypot(east - PEAK_M[0], north - PEAK_M[1]) / WIDE_M)
    split = shapely.union_all(
        shapely.box(
            *(
                (posterior.cells.east_m - posterior.cells.side_m / 2)[~left],
                (posterior.cells.north_m - posterior.cells.side_m / 2)[~left],
                (posterior.cells.east_m + posterior.cells.side_m / 2)[~left],
                (posterior.cells.north_m + posterior.cells.side_m / 2)[~left],
            )
        ),
        grid_size=0.01,
    )
    shapely.prepare(split)
    unsplit = ~shapely.contains_xy(split, east, north)
    expected = density[unsplit].sum() / density.sum()
    assert expected > 0.3
    assert posterior.mass[left].sum() == pytest.approx(expected, rel=0.02)


@pytest.fixture
def wide_peak(make_cells, monkeypatch: pytest.MonkeyPatch) -> None:
    """Score cells by a peak that many of them share."""

    def score(_problem, east_m, north_m, side_m, share, *_, **__):
        away_m = np.hypot(east_m - PEAK_M[0], north_m - PEAK_M[1])
        return make_cells(east_m, north_m, side_m, -away_m / WIDE_M, share)

    monkeypatch.setattr(searching, "score_cells", score)
    monkeypatch.setattr(searching, "share_cameras", as_they_are)


@pytest.fixture
def round_peak(make_cells, monkeypatch: pytest.MonkeyPatch):
    """Score cells by a round peak in closed form instead of a skyline."""

    def score(_problem, east_m, north_m, side_m, share, *_, **__):
        away = np.hypot(east_m - PEAK_M[0], north_m - PEAK_M[1])
        # A cell's score is marginal over the cell: its own spread is added.
        spread = np.hypot(SPREAD_M, side_m / np.sqrt(12.0))
        density = -0.5 * (away / spread) ** 2 - 2.0 * np.log(spread)
        return make_cells(east_m, north_m, side_m, density, share)

    monkeypatch.setattr(searching, "score_cells", score)
    monkeypatch.setattr(searching, "share_cameras", as_they_are)


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

    def score(_problem, east_m, north_m, side_m, share, *_, **__):
        away_m = np.hypot(east_m - peak_m[0], north_m - peak_m[1])
        density = -away_m / 500.0
        if side_m == first_m:
            # The true cell comes out worse than any place, its neighbours do not.
            density[np.argmin(away_m)] -= hopeless
        else:
            density += 20.0 * np.exp(-0.5 * (away_m / SPREAD_M) ** 2)
        return make_cells(east_m, north_m, side_m, density, share)

    monkeypatch.setattr(searching, "score_cells", score)
    monkeypatch.setattr(searching, "share_cameras", as_they_are)
    monkeypatch.setattr(searching, "ENOUGH_CELLS", 5000)
    posterior = posterior_of(searching.search(problem, SILENT))
    best = posterior.cells
    assert np.hypot(best.east_m[0] - peak_m[0], best.north_m[0] - peak_m[1]) < SPREAD_M
    assert best.side_m[0] < first_m / 4.0


def test_ground_unknown_under_all_finer_cells_ends_the_search(
    problem, make_cells, monkeypatch: pytest.MonkeyPatch
) -> None:
    first_m = first_cells(problem.area.in_frame(problem.terrain.frame))[3]

    def score(_problem, east_m, north_m, side_m, share, *_, **__):
        density = -np.hypot(east_m, north_m) / SPREAD_M
        known = np.full(len(east_m), side_m == first_m)
        return make_cells(
            east_m[known], north_m[known], side_m, density[known], share[known]
        )

    monkeypatch.setattr(searching, "score_cells", score)
    monkeypatch.setattr(searching, "share_cameras", as_they_are)
    cells = searching.search(problem, SILENT)
    assert np.all(cells.side_m == first_m)


def test_no_known_ground_inside_the_area_is_told(
    problem, make_cells, monkeypatch: pytest.MonkeyPatch
) -> None:
    def score(_problem, east_m, north_m, side_m, share, *_, **__):
        ring = share == 0.0
        nothing = np.zeros(ring.sum())
        return make_cells(east_m[ring], north_m[ring], side_m, nothing, share[ring])

    monkeypatch.setattr(searching, "score_cells", score)
    monkeypatch.setattr(searching, "share_cameras", as_they_are)
    with pytest.raises(AreaError, match="No ground inside the area") as caught:
        searching.search(problem, SILENT)
    assert "another area" in str(caught.value)


def test_area_away_from_the_terrain_is_told(plate, land, wavy_skyline, area_of) -> None:
    away = area_of(land, shapely.box(40_000.0, 0.0, 42_000.0, 2_000.0))
    with pytest.raises(TerrainError, match="No height is known anywhere") as caught:
        set_up(plate, land, wavy_skyline, away, LocateSettings())
    assert "elevation model that covers it" in str(caught.value)
