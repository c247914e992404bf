"""Check what a place keeps when every doubt is doubled."""

import numpy as np
import pytest

from wherestood.evidence import noise as noises
from wherestood.fix import cells as scoring
from wherestood.fix import doubled as doubling
from wherestood.fix import first_cameras
from wherestood.fix.posterior import Place, posterior_of
from wherestood.progress import SILENT

FIRST_M, FINE_M = 100.0, 25.0
RIVAL_M = (1200.0, 900.0)
ROUNDING = 1e-9


@pytest.fixture
def ordinary(make_cells):
    """Return a sharp place in fine cells, and large cells that hold nothing."""
    at_m = np.arange(-1950.0, 2000.0, FIRST_M)
    east, north = (part.ravel() for part in np.meshgrid(at_m, at_m))
    about = np.hypot(east, north) < 120.0
    large = make_cells(
        east[~about], north[~about], FIRST_M, np.full((~about).sum(), -40.0)
    )
    # With the usual doubt no camera was found there at all.
    large.mode_score[:] = -np.inf
    fine_m = np.arange(-112.5, 120.0, FINE_M)
    fine = [part.ravel() for part in np.meshgrid(fine_m, fine_m)]
    small = make_cells(*fine, FINE_M, np.zeros(fine[0].size))
    return posterior_of(small.joined(large))


@pytest.fixture
def place(ordinary) -> Place:
    return Place(0.0, 0.0, 1.0, np.flatnonzero(ordinary.cells.side_m == FINE_M))


@pytest.fixture
def rescored(make_cells, monkeypatch: pytest.MonkeyPatch):
    """Score cells in closed form: a rival shows where a screen is made for it."""
    calls = []

    def score(problem, east_m, north_m, side_m, share, _progress, starts=None, **_):
        calls.append((problem.noise.doubt, side_m, starts is None, len(east_m)))
        density = (
            np.zeros(len(east_m)) if side_m == FINE_M else np.full(len(east_m), -40.0)
        )
        rival = np.hypot(east_m - RIVAL_M[0], north_m - RIVAL_M[1]) < FIRST_M
        blind = starts is not None and not np.isfinite(starts[..., 1]).any()
        if not blind:
            density[rival] = 3.0
        return make_cells(east_m, north_m, side_m, density, share)

    monkeypatch.setattr(doubling, "score_cells", score)
    return calls


def test_a_rival_without_a_camera_before_is_found_by_screening_anew(
    problem, ordinary, place, rescored
) -> None:
    kept = doubling.share_when_doubled(problem, ordinary, place, SILENT)
    assert all(doubt == 2.0 for doubt, *_ in rescored)
    assert [screened for _, side, screened, _ in rescored if side == FINE_M] == [False]
    near = np.hypot(
        ordinary.cells.east_m - RIVAL_M[0], ordinary.cells.north_m - RIVAL_M[1]
    )
    count = (near < FIRST_M).sum()
    fine = ordinary.cells.side_m == FINE_M
    own = (np.hypot(ordinary.cells.east_m, ordinary.cells.north_m) <= 125.0)[fine].sum()
    held = own * FINE_M**2
    whole = fine.sum() * FINE_M**2
    rival = np.exp(3.0) * count * FIRST_M**2
    # Beyond the likeliest, rivals stand for their like: some weigh more than one.
    assert kept < 1.3 * held / (whole + rival)
    assert kept > 0.3 * held / (whole + rival)


def test_sampled_first_cells_stand_for_all_of_their_kind(
    problem, ordinary, place, rescored, monkeypatch: pytest.MonkeyPatch
) -> None:
    large = (ordinary.cells.side_m == FIRST_M).sum()
    monkeypatch.setattr(doubling, "RIVALS", 50)
    monkeypatch.setattr(doubling, "OTHERS", 100)
    doubling.share_when_doubled(problem, ordinary, place, SILENT)
    screened = [count for _, side, new, count in rescored if new]
    assert 50 < screened[0] <= 150 < large


def test_ground_between_first_and_finest_cells_counts_in_full(
    problem, make_cells, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Cells split once hold nothing with the usual doubt, and half with twice of it."""
    at_m = np.arange(-1975.0, 2000.0, 50.0)
    east, north = (part.ravel() for part in np.meshgrid(at_m, at_m))
    away = np.hypot(east, north) > 150.0
    east, north = east[away], north[away]
    middling = make_cells(east, north, 50.0, np.full(east.size, -30.0))
    sharp = make_cells(np.zeros(1), np.zeros(1), FINE_M, np.zeros(1))
    large = make_cells(np.full(1, 5000.0), np.zeros(1), FIRST_M, np.full(1, -60.0))
    posterior = posterior_of(sharp.joined(middling, large))
    as_much = np.log(east.size * 50.0**2 / FINE_M**2)

    def score(_problem, east_m, north_m, side_m, share, _progress, _starts=None, **_):
        density = {FINE_M: as_much, 50.0: 0.0, FIRST_M: -60.0}[side_m]
        return make_cells(east_m, north_m, side_m, np.full(len(east_m), density), share)

    monkeypatch.setattr(doubling, "score_cells", score)
    place = Place(0.0, 0.0, 1.0, np.zeros(1, dtype=np.int64))
    kept = doubling.share_when_doubled(problem, posterior, place, SILENT)
    assert kept == pytest.approx(0.5, abs=ROUNDING)


def test_a_screen_of_twice_the_doubt_is_as_much_wider(
    problem, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen = []

    def screen(*given):
        seen.append((given[4], given[7]))
        given[-1][:] = 0.0

    monkeypatch.setattr(first_cameras, "screen_stations", screen)
    at_m = np.zeros(1)
    for asked in (problem, problem.doubled()):
        scoring.score_cells(asked, at_m, at_m, FIRST_M, np.ones(1), SILENT)
    (sd, cover), (sd_doubled, cover_doubled) = seen[0], seen[2]
    np.testing.assert_allclose(sd_doubled, 2.0 * sd)
    assert cover_doubled == 2.0 * cover


def test_doubling_stretches_the_whole_law_of_the_errors() -> None:
    """Every size is doubled alike, so the law is the same in units twice as long."""
    usual = noises.SkylineNoise.usual("ground")
    doubled = usual.doubled()
    ratios = doubled.levels[:, [0, 2, 4, 5]] / usual.levels[:, [0, 2, 4, 5]]
    np.testing.assert_allclose(ratios, doubled.cover_sd_m / usual.cover_sd_m)
