"""Check that the study of coverage changes what it says it does and nothing else."""

from __future__ import annotations

import dataclasses
import importlib.util
import sys
from pathlib import Path
from types import ModuleType, SimpleNamespace

import numpy as np
import pytest

from wherestood.evidence.noise import SkylineNoise
from wherestood.evidence.unknowns import COUNT
from wherestood.evidence.whiten import LEVEL
from wherestood.fix.cells import Cells
from wherestood.fix.first_cameras import MODES
from wherestood.fix.problem import Problem

SPREAD_M = 60.0
# A prior of the ground that no power of the likelihood may touch [log of density].
PRIOR_LOG_PER_M = 0.02


@pytest.fixture
def study(repository: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    path = repository / "benchmarks" / "coverage_at_station.py"
    spec = importlib.util.spec_from_file_location("coverage_study", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "coverage_study", module)
    spec.loader.exec_module(module)
    return module


def test_credibility_is_that_of_the_power_over_an_untouched_prior(
    study: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    camera = SimpleNamespace(
        width_px=1200, height_px=900, bearing_deg=10.0, c_px=1400.0, tilt_deg=0.0,
        roll_deg=0.0, rise_px=0.0, cross_px=0.0, k1=0.0,
    )  # fmt: skip
    case = SimpleNamespace(
        station_m=np.zeros(3), cell_m=1.0, distance_m=np.ones(3), camera=camera
    )
    nothing = dict.fromkeys(Problem.__annotations__)
    asked = Problem(**{**nothing, "noise": SkylineNoise.usual("ground")})
    monkeypatch.setattr(study, "problem_of", lambda _: asked)

    def likelihood(east: np.ndarray, north: np.ndarray) -> np.ndarray:
        return -0.5 * ((east - SPREAD_M) ** 2 + north**2) / SPREAD_M**2

    def score(problem, _case, _theta, east, north, side_m, _floor, _seen=0) -> Cells:
        density = problem.noise.whole_power * likelihood(east, north)
        density = (density + PRIOR_LOG_PER_M * east)[:, None]
        count = east.size
        modes = np.zeros((count, 1, MODES, COUNT))
        return Cells(
            east, north, np.full(count, side_m), np.ones(count), density,
            density[:, :, None].repeat(MODES, axis=2), modes, modes, np.zeros(count),
        )  # fmt: skip

    monkeypatch.setattr(study, "_score", score)
    monkeypatch.setattr(study, "_horizons", lambda *_: None)
    outcome = study.fit_near_truth(case)
    for power, found in zip(study.POWERS, outcome.credibility, strict=True):
        # The product is normal about a middle that the prior pulls east.
        variance = SPREAD_M**2 / power
        middle = SPREAD_M + PRIOR_LOG_PER_M * variance
        expected = 1.0 - np.exp(-0.5 * middle**2 / variance)
        assert found == pytest.approx(expected, abs=0.05), power


@pytest.mark.parametrize(
    ("name", "changed"),
    [
        ("usual", set()),
        ("zero-mean", {"cover_mean_m", "cover_sd_m"}),
        ("white", {"levels", "level_log_weight", "middle"}),
    ],
)
def test_another_noise_changes_that_noise_only(
    study: ModuleType, name: str, changed: set[str]
) -> None:
    fields = {field: object() for field in Problem.__annotations__}
    asked = Problem(**{**fields, "noise": SkylineNoise.usual("ground")})
    other = study.with_noise(asked, name)
    for field in set(fields) - {"noise"}:
        assert getattr(other, field) is getattr(asked, field)
    differ = {
        field.name
        for field in dataclasses.fields(SkylineNoise)
        if not np.array_equal(
            getattr(other.noise, field.name), getattr(asked.noise, field.name)
        )
    }
    assert differ == changed


def test_white_noise_is_one_level_without_a_field(study: ModuleType) -> None:
    nothing = dict.fromkeys(Problem.__annotations__)
    asked = Problem(**{**nothing, "noise": SkylineNoise.usual("ground")})
    noise = study.with_noise(asked, "white").noise
    level = dict(zip(LEVEL, noise.levels[noise.middle], strict=True))
    # The field's share of the variance is under 2%.
    field = level["long_sd_m"] ** 2 + level["short_sd_m"] ** 2
    assert field < 0.02 * level["white_m"] ** 2
    assert np.exp(noise.level_log_weight).sum() == pytest.approx(1.0)


def test_worlds_asked_for_are_those_invented(
    study: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[int] = []

    def stop(seed: int) -> None:
        asked.append(seed)
        raise KeyboardInterrupt

    monkeypatch.setattr(study.np.random, "default_rng", stop)
    with pytest.raises(KeyboardInterrupt):
        study.invented_cases(1, 100)
    assert asked == [study.SEED + 100]
