"""Check probabilities, regions and places against sums done by hand."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from wherestood.fix.posterior import (
    SKYLINE_ALONE,
    UNSURE_NATS,
    find_places,
    posterior_of,
    region,
    smoothed_log_density,
)

SIDE_M = 20.0
ROUNDING = 1e-9
# What a peak of 40 m has near the edge, 12 sds away.
FAINT_EDGE = 1e-6
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


def one_peak(make_cells, side_m: float, half_m: float, spread_m: float):
    """Return a square of cells about the origin and a round peak on them."""
    at_m = np.arange(-half_m, half_m + 1.0, side_m)
    east, north = (part.ravel() for part in np.meshgrid(at_m, at_m))
    density = -0.5 * (east**2 + north**2) / spread_m**2
    return make_cells(east, north, side_m, density)


def variance_m2(cells, log_density):
    mass = np.exp(log_density - log_density.max())
    return np.sum(mass * cells.east_m**2) / mass.sum()


@pytest.mark.parametrize("reach_m", [5.0, 30.0, 60.0])
def test_average_over_near_cells_keeps_the_total(make_cells, reach_m: float) -> None:
    # Nothing lies near the edge, where cells have fewer neighbours.
    cells = one_peak(make_cells, SIDE_M, 500.0, 40.0)
    smooth = smoothed_log_density(cells, reach_m)
    before, after = np.exp(cells.log_density).sum(), np.exp(smooth).sum()
    assert after == pytest.approx(before, rel=FAINT_EDGE)


@pytest.mark.parametrize("reach_m", [30.0, 60.0])
def test_average_broadens_a_peak_by_its_reach(make_cells, reach_m: float) -> None:
    cells = one_peak(make_cells, 10.0, 600.0, 50.0)
    smooth = smoothed_log_density(cells, reach_m)
    added = variance_m2(cells, smooth) - variance_m2(cells, cells.log_density)
    # A round bell cut off at 2.5 sds lacks this share of its variance:
    # 1 - (1 - (1 + u) exp(-u)) / (1 - exp(-u)), u = 2.5^2 / 2.
    u = 0.5 * 2.5**2
    kept = (1.0 - (1.0 + u) * np.exp(-u)) / (1.0 - np.exp(-u))
    assert added == pytest.approx(kept * reach_m**2, rel=0.03)


def test_average_is_never_over_less_than_a_cell(make_cells) -> None:
    cells = one_peak(make_cells, SIDE_M, 500.0, 40.0)
    np.testing.assert_array_equal(
        smoothed_log_density(cells, 1.0), smoothed_log_density(cells, SIDE_M)
    )


def test_a_lone_score_is_shared_out_by_distance(make_cells) -> None:
    at_m = np.arange(-300.0, 301.0, SIDE_M)
    east, north = (part.ravel() for part in np.meshgrid(at_m, at_m))
    away = np.hypot(east, north)
    density = np.where(away < 1.0, 0.0, -600.0)
    reach_m = 2.0 * SIDE_M
    smooth = smoothed_log_density(make_cells(east, north, SIDE_M, density), reach_m)
    near = away < 2.4 * reach_m
    falls = smooth - smooth[away < 1.0]
    np.testing.assert_allclose(
        falls[near], -0.5 * (away[near] / reach_m) ** 2, atol=ROUNDING
    )
    np.testing.assert_allclose(smooth[away > 2.6 * reach_m], -600.0)


def test_what_is_likely_in_small_cells_reaches_the_large_ones_beside(
    make_cells,
) -> None:
    # A bell on 10 m cells out to 60 m, and 40 m cells round them, all but impossible:
    # averaged, they hold what the bell so broadened has there.
    reach_m, spread_m = 50.0, 20.0
    at_m = np.arange(-55.0, 56.0, 10.0)
    east, north = (part.ravel() for part in np.meshgrid(at_m, at_m))
    bell = -0.5 * (east**2 + north**2) / spread_m**2
    small = make_cells(east, north, 10.0, bell)
    at_m = np.arange(-220.0, 221.0, 40.0)
    east, north = (part.ravel() for part in np.meshgrid(at_m, at_m))
    round_about = np.maximum(np.abs(east), np.abs(north)) > 60.0
    large = make_cells(
        east[round_about],
        north[round_about],
        40.0,
        np.full(np.count_nonzero(round_about), -300.0),
    )
    smooth = smoothed_log_density(small.joined(large), reach_m)
    away_m = np.hypot(large.east_m, large.north_m)
    beside = away_m < 105.0
    assert np.count_nonzero(beside) == 8
    variance = spread_m**2 + reach_m**2 + (40.0**2 - 10.0**2) / 12.0
    whole = spread_m**2 / variance * np.exp(-0.5 * away_m[beside] ** 2 / variance)
    found = np.exp(smooth[small.east_m.size :][beside])
    # The cells' own sum of what they are averaged with stands in for the integral.
    np.testing.assert_allclose(found, whole, rtol=0.25)


def test_an_even_density_stays_even_where_cells_differ(make_cells) -> None:
    at_m = np.arange(-95.0, 96.0, 10.0)
    east, north = (part.ravel() for part in np.meshgrid(at_m, at_m))
    small = make_cells(east, north, 10.0, np.full(east.size, -3.0))
    at_m = np.arange(-80.0, 81.0, 40.0)
    east, north = (part.ravel() for part in np.meshgrid(at_m, at_m))
    large = make_cells(east + 200.0, north, 40.0, np.full(east.size, -3.0))
    smooth = smoothed_log_density(small.joined(large), 30.0)
    np.testing.assert_allclose(smooth, -3.0, atol=ROUNDING)


def test_an_even_density_stays_as_it_is_to_the_very_edge(make_cells) -> None:
    at_m = np.arange(-100.0, 101.0, SIDE_M)
    east, north = (part.ravel() for part in np.meshgrid(at_m, at_m))
    cells = make_cells(east, north, SIDE_M, np.full(east.size, -3.0))
    np.testing.assert_allclose(smoothed_log_density(cells, 50.0), -3.0, atol=ROUNDING)


def test_without_reach_probabilities_are_of_the_cells_own_scores(make_cells) -> None:
    density = np.random.default_rng(7).normal(0.0, 3.0, 50)
    cells = make_cells(np.arange(50) * SIDE_M, np.zeros(50), SIDE_M, density)
    posterior = posterior_of(cells)
    order = np.argsort(-density)
    np.testing.assert_array_equal(posterior.cells.east_m, cells.east_m[order])
    share = np.exp(density[order])
    np.testing.assert_allclose(posterior.mass, share / share.sum())


def test_with_reach_probabilities_are_averaged_but_scores_stay(make_cells) -> None:
    density = np.random.default_rng(7).normal(0.0, 3.0, 50)
    cells = make_cells(np.arange(50) * SIDE_M, np.zeros(50), SIDE_M, density)
    posterior = posterior_of(cells, 50.0)
    smooth = smoothed_log_density(cells, 50.0)
    order = np.argsort(-smooth)
    np.testing.assert_array_equal(posterior.cells.east_m, cells.east_m[order])
    np.testing.assert_array_equal(posterior.cells.log_density, density[order])
    share = np.exp(smooth[order])
    np.testing.assert_allclose(posterior.mass, share / share.sum())
    assert np.all(np.diff(posterior.mass) <= 0.0)


def test_a_cell_across_the_outline_counts_by_its_share(make_cells) -> None:
    share = np.array([1.0, 0.25, 0.0])
    cells = make_cells(
        np.array([0.0, 50.0, 100.0]), np.zeros(3), 50, np.zeros(3), share
    )
    found = posterior_of(cells)
    np.testing.assert_allclose(found.mass, [0.8, 0.2])
    # Three quarters of the one and all of the other, of three in all, are ring.
    assert found.ring == pytest.approx(1.75 / 3.0)
    np.testing.assert_allclose(np.exp(cells.log_weight[:2]), [2500.0, 625.0])
    assert cells.log_weight[2] == -np.inf


def row_of(make_cells, density):
    east = np.arange(density.size) * SIDE_M
    return make_cells(east, np.zeros(density.size), SIDE_M, density)


def test_the_less_a_plate_tells_the_less_of_it_is_believed(make_cells) -> None:
    shares = []
    for told in (0.1, 1.0, 10.0):
        # Two halves, one of which is likelier by so many nats.
        posterior = posterior_of(row_of(make_cells, np.repeat([0.0, told], 50)), 0.0)
        doubted = posterior_of(
            row_of(make_cells, np.repeat([0.0, told], 50)), powers=SKYLINE_ALONE
        )
        plain = posterior.mass[:50].sum()
        gained = plain * np.log(2 * plain) + (1 - plain) * np.log(2 * (1 - plain))
        scale = gained / (gained + UNSURE_NATS)
        expected = sum(
            share / (1 + np.exp(-power * scale * told))
            for share, power in SKYLINE_ALONE
        )
        assert doubted.mass[:50].sum() == pytest.approx(expected, rel=ROUNDING)
        shares.append((doubted.mass[:50].sum() - 0.5) / (plain - 0.5))
    assert shares[0] < shares[1] < shares[2]


def test_what_needs_no_camera_keeps_its_weight_beside_a_doubted_skyline(
    make_cells,
) -> None:
    # A statement that makes one half three times likelier, and a picture of nothing.
    free = np.repeat([0.0, np.log(3.0)], 50)
    cells = replace(row_of(make_cells, free), free=free)
    posterior = posterior_of(cells, powers=SKYLINE_ALONE)
    assert posterior.mass[:50].sum() == pytest.approx(0.75, rel=ROUNDING)
    assert posterior.mass[50:].sum() == pytest.approx(0.25, rel=ROUNDING)


def test_a_doubted_picture_leaves_some_probability_to_ground_it_speaks_against(
    make_cells,
) -> None:
    density = np.zeros(100)
    density[7] = 40.0
    posterior = posterior_of(row_of(make_cells, density), powers=SKYLINE_ALONE)
    assert posterior.cells.log_density[0] == 40.0
    rest = posterior.mass[1:].sum()
    # ln 100 nats are told; at the least of the powers 40 nats are some nine.
    scale = np.log(100.0) / (np.log(100.0) + UNSURE_NATS)
    expected = sum(
        share * 99.0 / (99.0 + np.exp(40.0 * power * scale))
        for share, power in SKYLINE_ALONE
    )
    flattest = min(SKYLINE_ALONE, key=lambda part: part[1])
    assert 0.0 < rest < flattest[0]
    assert rest == pytest.approx(expected, rel=1e-6)
