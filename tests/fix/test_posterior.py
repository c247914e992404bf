"""Check probabilities, regions and places against sums done by hand."""

import numpy as np
import pytest
import shapely

from wherestood.fix.posterior import find_places, posterior_of, region

SIDE_M = 20.0
ROUNDING = 1e-9
RADIUS_M = 100.0
# Middles and shares of three round peaks, a kilometre apart and more.
PEAKS = ((0.0, 0.0, 0.6), (1000.0, 200.0, 0.3), (-300.0, 1500.0, 0.1))
SPREAD_M = 25.0


@pytest.fixture
def three_peaks(make_cells):
    at_m = np.arange(-1000.0, 2001.0, SIDE_M)
    east, north = (part.ravel() for part in np.meshgrid(at_m, at_m))
    density = sum(
        share * np.exp(-0.5 * ((east - e) ** 2 + (north - n) ** 2) / SPREAD_M**2)
        for e, n, share in PEAKS
    )
    return posterior_of(make_cells(east, north, SIDE_M, np.log(density + 1e-30)))


def test_probabilities_sum_to_one_densest_first(three_peaks) -> None:
    assert three_peaks.mass.sum() == pytest.approx(1.0, abs=ROUNDING)
    assert np.all(np.diff(three_peaks.cells.log_density) <= 0.0)


def test_a_cell_weighs_by_its_area(make_cells) -> None:
    small = make_cells(np.zeros(1), np.zeros(1), 10.0, np.zeros(1))
    large = make_cells(np.full(1, 50.0), np.zeros(1), 20.0, np.zeros(1))
    posterior = posterior_of(small.joined(large))
    of_small = posterior.mass[posterior.cells.side_m == 10.0]
    assert of_small == pytest.approx(10.0**2 / (10.0**2 + 20.0**2))


def test_what_lies_in_the_ring_is_counted_apart(make_cells) -> None:
    inside = np.array([True, True, False])
    density = np.log([3.0, 1.0, 6.0])
    cells = make_cells(np.array([0.0, 50.0, 100.0]), np.zeros(3), 50, density, inside)
    posterior = posterior_of(cells)
    assert posterior.ring == pytest.approx(0.6)
    np.testing.assert_allclose(posterior.mass, [0.75, 0.25])


def test_regions_nest_and_hold_their_probability(three_peaks) -> None:
    cells = three_peaks.cells
    points = shapely.points(cells.east_m, cells.north_m)
    densest = three_peaks.mass.max()
    before = None
    for probability in (0.5, 0.9, 0.99):
        shape = region(three_peaks, probability)
        shapely.prepare(shape)
        held = three_peaks.mass[shapely.contains(shape, points)].sum()
        # The smallest region goes over by one cell at most.
        assert probability <= held < probability + densest
        if before is not None:
            assert before.difference(shape).area < 1.0
        before = shape


def test_no_region_of_the_same_probability_is_smaller(three_peaks) -> None:
    order = np.sort(three_peaks.mass)[::-1]
    fewest = np.searchsorted(np.cumsum(order), 0.9) + 1
    assert region(three_peaks, 0.9).area == pytest.approx(fewest * SIDE_M**2, rel=1e-3)


def test_places_are_the_peaks_likeliest_first(three_peaks) -> None:
    places = find_places(three_peaks, RADIUS_M, 6)
    assert len(places) == len(PEAKS)
    # A circle of four sds holds all but exp(-8) of a round peak.
    for place, (east_m, north_m, share) in zip(places, PEAKS, strict=True):
        assert np.hypot(place.east_m - east_m, place.north_m - north_m) < SIDE_M
        assert place.probability == pytest.approx(share, abs=2e-3)


def test_places_are_disjoint(three_peaks) -> None:
    places = find_places(three_peaks, 40.0, 6, least=1e-6)
    members = np.concatenate([place.members for place in places])
    assert len(np.unique(members)) == len(members)
    total = sum(place.probability for place in places)
    assert total == pytest.approx(three_peaks.mass[members].sum(), abs=ROUNDING)


def test_first_place_beats_every_circle_about_a_cell(three_peaks) -> None:
    radius_m = 30.0
    place = find_places(three_peaks, radius_m, 1)[0]
    cells = three_peaks.cells
    for index in range(60):
        away_m = np.hypot(
            cells.east_m - cells.east_m[index], cells.north_m - cells.north_m[index]
        )
        assert place.probability >= three_peaks.mass[away_m <= radius_m].sum() - 1e-9
