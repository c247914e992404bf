"""Check the study of calibration: its plates, what it keeps, what its page says."""

from __future__ import annotations

import json
import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

BENCHMARKS = Path(__file__).resolve().parents[1] / "benchmarks"
sys.path.insert(0, str(BENCHMARKS))

import calibrate  # noqa: E402
from calibration import inventing, own_noise  # noqa: E402
from calibration.bound import information_bound  # noqa: E402
from calibration.counting import band, found_within, held_by  # noqa: E402
from calibration.keeping import as_table, keep, kept_at, kept_rows  # noqa: E402
from calibration.page import write_page  # noqa: E402
from calibration.plan import Part, Plan, read_plan  # noqa: E402
from coverage_at_station import problem_of, with_noise  # noqa: E402
from study_plates import true_unknowns  # noqa: E402
from wherestood.demo.hills import invented_ground  # noqa: E402
from wherestood.evidence.noise import SkylineNoise  # noqa: E402
from wherestood.evidence.unknowns import COUNT  # noqa: E402
from wherestood.evidence.whiten import LEVEL  # noqa: E402
from wherestood.fix.cells import score_cells  # noqa: E402
from wherestood.fix.first_cameras import MODES  # noqa: E402
from wherestood.fix.posterior import smoothed_log_density  # noqa: E402
from wherestood.progress import SILENT  # noqa: E402

PLATES = 8
#: Stations to a side of the square about the truth, and its half side over the bound's.
GRID, REACH = 15, 1.2
#: ... and at most this, where the skyline tells next to nothing [m].
MOST_M = 1500.0
#: A sample of 4000 knows its sd to 1.1%; three times that.
THREE_STANDARD_ERRORS = 0.035


@pytest.fixture(scope="module")
def plates() -> list[inventing.Invented]:
    """Invent plates with the program's own noise on a small piece of ground."""
    part = Part("own_noise", seed=71, plates=PLATES, per_world=PLATES)
    ground = invented_ground(5, nodes=200, cell_m=60.0)
    patch = pytest.MonkeyPatch()
    patch.setattr(inventing, "ground_of", lambda _: ground)
    try:
        world = inventing.world_of(part, 1)
        return [inventing.invent(part, world, 1, index) for index in range(PLATES)]
    finally:
        patch.undo()


def _denser(invented: inventing.Invented, noise: str) -> float:
    """Return the probability of ground likelier than the true station's, near it."""
    case = invented.case
    problem = with_noise(problem_of(case), noise)
    full = replace(problem.noise, temper=1.0, station_power=1.0)
    problem = replace(problem, noise=full)
    assert invented.level is not None
    bound = information_bound(problem_of(case), case, invented.level)
    half_m = min(max(REACH * bound.span_m / 2.0, 2.0 * GRID), MOST_M)
    off_m = np.linspace(-half_m, half_m, GRID)
    step_m = float(off_m[1] - off_m[0])
    east, north = (part.ravel() for part in np.meshgrid(off_m, off_m))
    starts = np.full((east.size, 1, MODES, COUNT), np.nan)
    starts[:, 0, 0] = true_unknowns(case)
    cells = score_cells(
        problem,
        case.station_m[0] + east,
        case.station_m[1] + north,
        step_m,
        np.ones(east.size, dtype=bool),
        SILENT,
        starts,
    )
    density = smoothed_log_density(cells, own_noise.SHIFT_CELLS * case.cell_m)
    mass = np.exp(density - density.max())
    at = np.argmin(np.hypot(east, north))
    return float(mass[density > density[at]].sum() / mass.sum())


def test_regions_hold_stations_whose_skylines_err_as_is_believed(
    plates: list[inventing.Invented],
) -> None:
    # At full power: nothing is wrong but the sums. Of eight perfect 90% regions fewer
    # than six hold the station once in 26, and taking errors for independent is what
    # a fitter does who knows no better.
    own = np.array([_denser(one, "usual") for one in plates])
    assert (own < 0.9).sum() >= 6
    assert 1 <= (own < 0.5).sum() <= 7
    white = np.array([_denser(one, "white") for one in plates])
    assert (white < 0.9).sum() < (own < 0.9).sum()


def test_the_field_is_as_wide_as_its_level_says() -> None:
    sizes = dict(zip(LEVEL, SkylineNoise.usual("ground").levels[2], strict=True))
    count = 30
    flat = np.zeros(count)
    strips = own_noise.Strips(
        np.arange(count), flat, np.linspace(800.0, 4000.0, count), flat,
        np.linspace(-0.5, 0.5, count), flat, np.linspace(-1.0, 1.0, count),
    )  # fmt: skip
    rng = np.random.default_rng(3)
    drawn = np.array([own_noise._field(strips, sizes, rng) for _ in range(4000)])
    usual_m = math.hypot(sizes["long_sd_m"], sizes["short_sd_m"])
    assert drawn.std(axis=0) == pytest.approx(usual_m, rel=THREE_STANDARD_ERRORS)
    assert np.corrcoef(drawn[:, 10], drawn[:, 11])[0, 1] > 0.5


def test_foreground_stands_above_the_hills_and_as_often_as_its_odds_say() -> None:
    noise = SkylineNoise.usual("ground")
    count = 60
    flat = np.zeros(count)
    strips = own_noise.Strips(
        np.arange(count), flat, np.full(count, 3000.0), flat,
        np.linspace(-0.5, 0.5, count), flat, np.linspace(-1.0, 1.0, count),
    )  # fmt: skip
    rng = np.random.default_rng(5)
    drawn = np.array(
        [own_noise._with_foreground(strips, noise, flat, rng) for _ in range(2000)]
    )
    assert drawn.min() == 0.0
    begins = (drawn[:, 2:] > 0.0) & (drawn[:, 1:-1] == 0.0)
    # Of those that go on from level ground half would go below it, and do not show.
    expected = 0.5 * math.exp(noise.foreground_log_odds)
    assert 0.5 * expected < begins.mean() < 2.0 * expected


def test_the_plan_runs_what_is_promised() -> None:
    parts = read_plan().parts
    assert parts["own_noise"].plates >= 300
    assert parts["more_noise"].plates >= 100
    assert parts["wrong_ground"].plates + parts["flat_skyline"].plates >= 300
    assert parts["reversed_plates"].plates >= 40
    assert len({part.seed for part in parts.values()}) == len(parts)
    for part in parts.values():
        plates = [index for world in part.worlds() for index in world]
        assert plates == list(range(part.plates))


def test_a_run_cut_short_goes_on_where_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    part = Part("own_noise", seed=1, plates=5, per_world=2)
    plan = Plan({"own_noise": part}, 1.0, 125.0)
    asked: list[int] = []

    def invent(_part: Part, _world: object, _number: int, index: int) -> int:
        asked.append(index)
        if index == 3:
            raise LookupError("no such view")
        if index == 4 and asked.count(4) == 1:
            raise KeyboardInterrupt
        return index

    monkeypatch.setattr(calibrate, "world_of", lambda *_: object())
    monkeypatch.setattr(calibrate, "invent", invent)
    monkeypatch.setattr(calibrate, "tried", lambda *words: {"denser": words[-1] / 10})
    first, second, third = calibrate.tasks(plan, tmp_path, 1.0, "abc")
    calibrate.try_world(first)
    calibrate.try_world(second)
    with pytest.raises(KeyboardInterrupt):
        calibrate.try_world(third)
    left = calibrate.tasks(plan, tmp_path, 1.0, "abc")
    assert [task[3] for task in left] == [[4]]
    for task in left:
        calibrate.try_world(task)
    assert calibrate.tasks(plan, tmp_path, 1.0, "abc") == []
    assert asked == [0, 1, 2, 3, 4, 4]
    rows = kept_rows(tmp_path, part)
    assert [row.get("denser") for row in rows] == [0.0, 0.1, 0.2, None, 0.4]
    assert "no such view" in str(rows[3]["left_out"])
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        kept_at(tmp_path, part, index).name for index in range(5)
    ]


def test_parts_come_on_together(tmp_path: Path) -> None:
    parts = {
        "own_noise": Part("own_noise", 1, 40, 10),
        "flat_skyline": Part("flat_skyline", 2, 8, 4),
    }
    todo = calibrate.tasks(Plan(parts, 1.0, 125.0), tmp_path, 1.0, "abc")
    assert [task[1].name for task in todo] == [
        "own_noise", "flat_skyline", "own_noise",
        "own_noise", "flat_skyline", "own_noise",
    ]  # fmt: skip
    half = calibrate.tasks(Plan(parts, 1.0, 125.0), tmp_path, 0.5, "abc")
    assert sum(len(task[3]) for task in half) == 24


def _line(plate: int, denser: float, **other: object) -> dict[str, object]:
    return {
        "plate": plate, "commit": "abc", "ground": "real", "horizon_m": 2000.0,
        "relief_deg": 1.5, "denser": denser, "before_ha": 10.0 * denser,
        "area_90_ha": 6.0, "bound_area_ha": 2.0, "bound_span_m": 50.0, "rank": 1,
        "located": True, "chance": 0.001, "off_m": 20.0, "seconds": 9.0,
    } | other  # fmt: skip


def test_the_page_counts_what_its_tables_hold(tmp_path: Path) -> None:
    plan = read_plan()
    folder = tmp_path / "calibration"
    folder.mkdir()
    # A program ten times too sure: two regions of 90% in three miss.
    rows = [_line(n, 0.95 if n % 3 else 0.3, located=n % 2 == 0) for n in range(30)]
    rows.append({"plate": 30, "commit": "abc", "left_out": "LookupError: none"})
    (folder / "own_noise.csv").write_text(as_table(rows), encoding="utf-8")
    wrong = [_line(n, 0.5, located=n < 3) for n in range(100)]
    (folder / "wrong_ground.csv").write_text(as_table(wrong), encoding="utf-8")
    write_page(plan, tmp_path)
    page = (tmp_path / "calibration.md").read_text(encoding="utf-8")
    assert "| own noise | 300 | 31 | 1 | abc (31) | 9 |" in page
    assert "| all | 30 | 10 | 10 | 30 | 6 |" in page
    assert "the 50% region 10" in page
    assert "the 90% region 10, 22 to 30 asked: **missed**" in page
    assert "3.0 times as much; at most 3 times is asked: as asked" in page
    assert "of 3 of 100 plates" in page
    assert "3 of 100, at most 2 asked: **missed**" in page
    assert "of the 30 plates" in page
    assert "15 were `located`, at least 70% asked: **missed**" in page
    for picture in ("held", "sharp", "found"):
        assert (folder / f"{picture}.png").stat().st_size > 5000
    assert not (folder / "added.png").exists()


def test_the_page_in_the_docs_is_that_of_its_tables(
    repository: Path, tmp_path: Path
) -> None:
    kept = repository / "docs" / "calibration"
    (tmp_path / "calibration").mkdir()
    for table in kept.glob("*.csv"):
        copy = tmp_path / "calibration" / table.name
        copy.write_bytes(table.read_bytes())
    write_page(read_plan(), tmp_path)
    page = (tmp_path / "calibration.md").read_text(encoding="utf-8")
    said = (repository / "docs" / "calibration.md").read_text(encoding="utf-8")
    assert page == said


def test_bands_are_those_of_the_binomial() -> None:
    # Central 99% for 300 trials, worked out apart from this code.
    assert band(300, 0.5) == (128, 172)
    assert band(300, 0.9) == (256, 283)
    assert band(300, 0.99)[0] == 292


def test_a_region_holds_what_lies_before_it() -> None:
    lines = [
        {"denser": text, "area_90_ha": "2", "before_ha": ha}
        for text, ha in (("0.2", "1"), ("0.6", "3"), ("0.95", "9"), ("1", "100"))
    ]
    assert held_by("all", lines).held == (1, 2, 3)
    assert found_within(lines, np.array([2.0, 10.0])).tolist() == [0.25, 0.75]


def test_a_result_is_kept_whole_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "one.json"
    keep(path, {"denser": 0.5})
    with pytest.raises(TypeError):
        keep(path, {"denser": object()})
    assert json.loads(path.read_text(encoding="utf-8")) == {"denser": 0.5}
    assert [file.name for file in tmp_path.iterdir()] == ["one.json"]
