"""Check horizons made ready for scoring: their averages, and the model's edge."""

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.ndimage import uniform_filter1d

from wherestood.earth.frame import Frame
from wherestood.evidence.batch import score_stations
from wherestood.evidence.noise import SkylineNoise
from wherestood.evidence.profile import EDGE_CELLS, ProfileMaker, Profiles
from wherestood.evidence.samples import BINS, SkylineSamples
from wherestood.evidence.unknowns import CAMERA, COUNT, UNKNOWN_M
from wherestood.terrain.ground import StandingGround, standing_ground
from wherestood.terrain.horizon import HorizonModel, Horizons
from wherestood.terrain.model import Terrain

CELL_M = 50.0
HALF_M = 4000.0
AT_M = np.arange(-HALF_M, HALF_M + 1.0, CELL_M)
LENS_M = 1.6
BEARINGS = 900
WINDOW_RAD = 0.028
STRIP = 5
ROUNDING = 1e-9
A_FEW_BEARINGS = 5.0 * 2.0 * np.pi / BEARINGS
# A thousand to one, tempered.
BY_FAR = np.log(1000.0)


def land(height_m, *, source_cell_m: float = CELL_M) -> Terrain:
    """Return invented land, 8 km square."""
    return Terrain(
        np.asarray(height_m, dtype=np.float32),
        -HALF_M,
        -HALF_M,
        CELL_M,
        Frame.local(-27.5, 41.2),
        "ground",
        source_cell_m,
    )


def maker_on(terrain: Terrain, window_rad: float = WINDOW_RAD) -> ProfileMaker:
    raw = StandingGround(
        terrain.elevation_m, terrain.west_m, terrain.south_m, terrain.cell_m
    )
    return ProfileMaker(
        HorizonModel.of(terrain),
        standing_ground(terrain),
        raw,
        LENS_M,
        window_rad,
        BEARINGS,
    )


def square_wall(cells_from_edge: float):
    """Return a plain and on it a square wall, 200 m high, so many cells inside."""
    east, north = np.meshgrid(AT_M, AT_M)
    out_m = np.maximum(np.abs(east), np.abs(north))
    return np.where(np.abs(out_m - HALF_M + cells_from_edge * CELL_M) < 1.0, 200.0, 0.0)


def unknown(maker: ProfileMaker, east_m: float, north_m: float):
    """Say at which bearings of one station no horizon is known."""
    made = maker.make(np.array([east_m]), np.array([north_m]))
    return made.table[0, :, 2] > 0.5 * UNKNOWN_M


@pytest.mark.parametrize("cells", [0, 1])
def test_a_horizon_by_the_edge_of_the_model_is_unknown(cells: int) -> None:
    assert cells < EDGE_CELLS
    maker = maker_on(land(square_wall(cells)))
    assert unknown(maker, 0.0, 0.0).all()


@pytest.mark.parametrize("cells", [3, 20])
def test_a_horizon_well_inside_the_model_is_known(cells: int) -> None:
    assert cells > EDGE_CELLS
    maker = maker_on(land(square_wall(cells)))
    for station in ((0.0, 0.0), (-1500.0, 900.0)):
        assert not unknown(maker, *station).any()
    due_east = BEARINGS // 4
    made = maker.make(np.zeros(1), np.zeros(1))
    wall_m = HALF_M - cells * CELL_M
    assert made.table[0, due_east, 1] == pytest.approx(wall_m, abs=CELL_M)
    assert made.table[0, due_east, 0] == pytest.approx(200.0 / wall_m, rel=0.02)


def test_the_edge_is_as_wide_as_the_cells_the_model_came_in() -> None:
    wall = square_wall(3)
    assert not unknown(maker_on(land(wall)), 0.0, 0.0).any()
    coarse = maker_on(land(wall, source_cell_m=3.0 * CELL_M))
    assert unknown(coarse, 0.0, 0.0).all()


def test_a_plain_that_runs_off_the_model_has_no_horizon() -> None:
    # A lens at 1.6 m sees 4.8 km: farther than the model goes this way.
    maker = maker_on(land(np.zeros((AT_M.size, AT_M.size))))
    assert unknown(maker, 3000.0, 0.0)[BEARINGS // 8 : 3 * BEARINGS // 8].all()


def test_only_bearings_off_the_model_are_unknown() -> None:
    east, _ = np.meshgrid(AT_M, AT_M)
    wall = np.where(np.abs(east) < 1.0, 300.0, 0.0)
    lacking = unknown(maker_on(land(wall)), 3000.0, 0.0)
    bearing = np.arange(BEARINGS) * 2.0 * np.pi / BEARINGS
    off_west = np.abs(bearing - 1.5 * np.pi)
    # The wall, 3 km west, runs from edge to edge: 4 km to either side.
    end = np.arctan(HALF_M / 3000.0)
    assert not lacking[off_west < end - A_FEW_BEARINGS].any()
    assert lacking[np.abs(bearing - 0.5 * np.pi) < end].all()


@dataclass(frozen=True)
class KnownHorizon:
    """Stand for a terrain whose horizon is given."""

    terrain: Terrain
    tangent: np.ndarray
    distance_m: np.ndarray
    raised: np.ndarray
    curvature_per_m: float = 6.8e-8

    def horizons_and_raised(self, *_, **__):
        return Horizons(self.tangent[None], self.distance_m[None]), self.raised[None]


@pytest.fixture
def two_ridges():
    """Return a near and a far ridge in turn, and the maker that sees them."""
    rng = np.random.default_rng(5)
    near = np.sin(12.0 * np.arange(BEARINGS) * 2.0 * np.pi / BEARINGS) > 0.0
    distance = np.where(near, 500.0, 3000.0) * rng.uniform(0.9, 1.1, BEARINGS)
    tangent = rng.uniform(0.02, 0.08, BEARINGS)
    plain = land(np.zeros((AT_M.size, AT_M.size)))
    # Raised ground shows in full: the horizon's own distance sets its noise.
    horizon = KnownHorizon(plain, tangent, distance, tangent + 6.0 / distance)
    maker = maker_on(plain)
    seen = ProfileMaker(
        horizon,  # type: ignore[arg-type]
        maker.ground,
        maker.raw,
        LENS_M,
        WINDOW_RAD,
        BEARINGS,
    )
    return seen, horizon


def test_distance_is_averaged_harmonically_over_a_strip(two_ridges) -> None:
    maker, horizon = two_ridges
    assert abs(WINDOW_RAD * BEARINGS / (2.0 * np.pi) - STRIP) <= 1.0
    table = maker.make(np.zeros(1), np.zeros(1)).table[0]
    mean = uniform_filter1d(1.0 / horizon.distance_m, STRIP, mode="wrap")
    np.testing.assert_allclose(1.0 / table[:, 1], mean, rtol=ROUNDING)
    # So that a height on the skyline is what it is on average over the strip.
    np.testing.assert_allclose(1.0 / table[:, 2], mean, rtol=ROUNDING)
    tangent = uniform_filter1d(horizon.tangent, STRIP, mode="wrap")
    np.testing.assert_allclose(table[:, 0], tangent, rtol=ROUNDING)


def test_a_strip_is_averaged_over_its_known_bearings_alone(two_ridges) -> None:
    maker, horizon = two_ridges
    horizon.tangent[100], horizon.distance_m[100] = -np.inf, np.nan
    horizon.raised[100] = -np.inf
    horizon.tangent[200:203], horizon.distance_m[200:203] = -np.inf, np.nan
    table = maker.make(np.zeros(1), np.zeros(1)).table[0]
    assert np.isfinite(table).all()
    # Bearings 98 to 102, the lacking one left out.
    left = np.array([98, 99, 101, 102])
    assert table[100, 0] == pytest.approx(horizon.tangent[left].mean())
    assert 1.0 / table[100, 1] == pytest.approx(np.mean(1.0 / horizon.distance_m[left]))
    lacking = np.flatnonzero(table[:, 2] > 0.5 * UNKNOWN_M)
    # Three of five lack it in the strips of three bearings.
    np.testing.assert_array_equal(lacking, [200, 201, 202])


def test_unknown_bearings_bend_no_slope_of_their_neighbours(two_ridges) -> None:
    maker, horizon = two_ridges
    horizon.tangent[200:203], horizon.distance_m[200:203] = -np.inf, np.nan
    table = maker.make(np.zeros(1), np.zeros(1)).table[0]
    line = np.linspace(table[199, 0], table[203, 0], 5)
    np.testing.assert_allclose(table[199:204, 0], line, rtol=ROUNDING)


@pytest.fixture(scope="module")
def ringed_valley():
    """Return horizons of a valley ringed by hills, and of a plain beyond them.

    The plain's station sees off the model's edge to the east.
    """
    east, north = np.meshgrid(AT_M, AT_M)
    out_m, bearing = np.hypot(east, north), np.arctan2(east, north)
    crest = 250.0 + 60.0 * np.sin(5.0 * bearing) + 40.0 * np.sin(11.0 * bearing + 1.0)
    maker = maker_on(land(crest * np.exp(-0.5 * ((out_m - 2300.0) / 350.0) ** 2)))
    profiles = maker.make(np.array([0.0, 3700.0]), np.zeros(2))
    lacking = profiles.table[..., 2] > 0.5 * UNKNOWN_M
    assert not lacking[0].any()
    assert lacking[1, BEARINGS // 8 : 3 * BEARINGS // 8].all()
    return profiles


def best_scores(hills, profiles, closely: bool):
    """Return each station's best score for a skyline seen from the first."""
    truth = np.zeros(COUNT)
    truth[:2] = 4.0, np.log(0.95)
    error = np.random.default_rng(2).normal(0.0, 1e-3, BINS)
    # Trees of 8 m on hills at some 2.3 km.
    table = hills.samples_of(profiles.table[0], truth, BINS, error + 8.0 / 2300.0)
    starts = np.zeros((2, 24, COUNT))
    starts[..., 0] = truth[0] + np.arange(24) * 2.0 * np.pi / 24
    starts[..., 1] = truth[1]
    sd = np.full(COUNT, 1e-6)
    sd[0] = np.inf
    sd[1:CAMERA] = [0.3, 0.04, 0.03, 0.06, 0.02, 0.01, 0.01, 0.003, 0.002]
    found = score_stations(
        starts,
        SkylineSamples(table, 5000.0, 4000, 3000),
        profiles,
        6.8e-8,
        np.where(np.arange(COUNT) == 1, truth[1], 0.0),
        sd,
        np.log([0.45, 2.2]),
        SkylineNoise.usual("ground"),
        closely=closely,
    )
    assert not np.isnan(found.score).any()
    return found.score.max(axis=1)


BOTH_LOOKS = pytest.mark.parametrize("closely", [False, True])


@BOTH_LOOKS
def test_looking_off_the_model_loses_by_far_to_the_true_view(
    hills, ringed_valley, closely: bool
) -> None:
    true, off_the_edge = best_scores(hills, ringed_valley, closely)
    assert off_the_edge < true - BY_FAR


@BOTH_LOOKS
def test_a_level_horizon_loses_by_far_to_the_true_view(
    hills, ringed_valley, closely: bool
) -> None:
    table = ringed_valley.table.copy()
    table[1] = 0.05, 3000.0, 3000.0, 0.0, 0.0
    level = Profiles(table, ringed_valley.ground_m, ringed_valley.ground_sd_m)
    true, at_level = best_scores(hills, level, closely)
    assert at_level < true - BY_FAR
