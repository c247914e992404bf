"""Check the whole search on an invented plate from an independent renderer."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from PIL import Image

from wherestood.demo.hills import invented_ground
from wherestood.demo.invented import invent_case
from wherestood.demo.settings import (
    InventionSettings,
    PlateSettings,
    ViewSettings,
    WorldSettings,
)
from wherestood.evidence.items import Evidence, RidgeLine
from wherestood.fix.locate import locate
from wherestood.fix.settings import LocateSettings
from wherestood.plate.scan import Plate
from wherestood.plate.skyline import Skyline

SEED = 3
ONE_DEGREE = 1.0
ROUNDING = 1e-9
SETTINGS = InventionSettings(
    world=WorldSettings(mesh_cell_m=30.0, most_nodes=400_000),
    view=ViewSettings(
        margin_m=3000.0,
        least_relief_deg=0.8,
        nearest_median_m=1500.0,
        area_side_m=1200.0,
    ),
    plate=PlateSettings(trim_share=0.0, size_known_share=1.0),
)


@pytest.fixture(scope="module")
def case():
    """Return a plate taken in hills with trees, mapped with errors at 60 m."""
    settings = replace(SETTINGS, model=replace(SETTINGS.model, cell_m=60.0))
    ground = invented_ground(SEED, nodes=240, cell_m=60.0)
    return invent_case(ground, np.random.default_rng(SEED), settings)


@pytest.fixture(scope="module")
def blank(case, tmp_path_factory):
    """Return the plate; its skyline is given, so its tones do not matter."""
    path = tmp_path_factory.mktemp("case") / "invented.png"
    size_px = (case.camera.width_px, case.camera.height_px)
    Image.new("L", size_px, 120).save(path)
    return Plate.open(path, size=case.facts.plate_mm, negative=False)


@pytest.fixture(scope="module")
def settings(case):
    return LocateSettings(
        surface="ground",
        reversed=False,
        horizon_radius_m=15_000.0,
        principal_distance_mm=case.camera.c_px / case.facts.px_per_mm,
        principal_distance_sd_mm=3.0,
    )


@pytest.fixture(scope="module")
def fix(case, blank, settings, area_of):
    land = case.terrain()
    area = area_of(land, shapely.box(*case.area_m))
    return locate(blank, land, case.skyline(), area, settings=settings)


def test_truth_lies_in_the_region_of_99_percent(case, fix) -> None:
    lon, lat = case.terrain().frame.to_lonlat(
        case.station_m[None, 0], case.station_m[None, 1]
    )
    assert shapely.contains_xy(fix.regions[0.99], lon, lat).all()


def test_sight_is_within_one_degree(case, fix) -> None:
    camera = case.camera
    east, north, up = camera.rays(
        np.array([camera.width_px / 2.0]), np.array([camera.height_px / 2.0])
    )[0]
    convergence_deg = case.terrain().frame.convergence_deg(
        fix.station.lon_deg, fix.station.lat_deg
    )
    bearing_deg = np.degrees(np.arctan2(east, north)) + convergence_deg
    off_deg = (fix.camera.sight_bearing_deg - bearing_deg + 180.0) % 360.0 - 180.0
    assert abs(off_deg) < ONE_DEGREE
    elevation_deg = np.degrees(np.arctan2(up, np.hypot(east, north)))
    assert fix.camera.sight_elevation_deg == pytest.approx(
        elevation_deg, abs=ONE_DEGREE
    )


def test_regions_nest_and_probabilities_are_probabilities(fix) -> None:
    assert fix.regions[0.9].buffer(1e-7).contains(fix.regions[0.5])
    assert fix.regions[0.99].buffer(1e-7).contains(fix.regions[0.9])
    assert fix.cells[:, 3].sum() == pytest.approx(1.0, abs=1e-3)
    shares = [fix.near_enough_share, *(a.probability for a in fix.alternatives)]
    assert sum(shares) <= 1.0 + ROUNDING
    for share in (*shares, fix.elsewhere, fix.chance):
        assert 0.0 <= share <= 1.0


def test_computed_skyline_lies_on_the_true_one(case, fix) -> None:
    x_px, y_px = fix.computed_skyline_px.T
    shown = np.isfinite(x_px)
    columns = np.arange(case.camera.width_px) + 0.5
    computed = np.interp(columns, x_px[shown], y_px[shown])
    apart_px = np.abs(computed - case.true_y_px)
    one_degree_px = case.camera.c_px * np.radians(1.0)
    # Trees stand on the true skyline and the model errs by metres.
    assert np.nanmedian(apart_px) < 0.3 * one_degree_px


@pytest.fixture(scope="module")
def closely(case, blank, settings, area_of):
    """Return the search of a little ground about the station, ridge lines as given."""
    land = case.terrain()
    middle = shapely.Point(case.station_m[0] + 30.0, case.station_m[1] - 20.0)
    area = area_of(land, middle.buffer(60.0, cap_style="square"))

    def made(ridges=()):
        return locate(
            blank,
            land,
            case.skyline(),
            area,
            settings=settings,
            evidence=Evidence(ridge_lines=tuple(ridges)),
        )

    return made


@pytest.fixture(scope="module")
def little(closely):
    return closely()


def test_same_seed_gives_the_same_fix(closely, little) -> None:
    first, second = little, closely()
    assert first.station == second.station
    assert first.camera == second.camera
    assert (first.chance, first.elsewhere) == (second.chance, second.elsewhere)
    np.testing.assert_array_equal(first.cells, second.cells)


def test_without_ridge_lines_the_skyline_is_all_the_evidence(fix) -> None:
    assert [item["id"] for item in fix.evidence] == ["skyline"]
    assert fix.assumptions["ridge_lines"]["lines_scored"] == 0


def test_ridge_lines_that_the_fix_foretells_are_explained_and_move_probability(
    case, closely, little
) -> None:
    foretold = joined(little.computed_ridges_px, case.camera)
    across = np.array([0.1, 0.9]) * case.camera.width_px
    sky = line_of(across, np.full(2, 5.0), case.camera)
    stub = line_of(across[:1] + np.array([0.0, 50.0]), np.full(2, 900.0), case.camera)
    given = {
        **{f"foretold {k}": (line, 0.9) for k, line in enumerate(foretold)},
        "cloud": (sky, 0.4),
        "stub": (stub, 0.4),
    }
    told = closely(
        [
            RidgeLine(id=name, line=line, trust=trust)
            for name, (line, trust) in given.items()
        ]
    )
    said = {item["id"]: item for item in told.evidence}
    assert list(said) == ["skyline", *given]
    for name, (_, trust) in given.items():
        assert said[name]["kind"] == "ridge line"
        assert said[name]["trust"] == trust
    odds = {name: item.get("log_odds") for name, item in said.items()}
    # Of a ridge some steps away the model knows nothing; of the others it does.
    best = max(odds[f"foretold {k}"] for k in range(len(foretold)))
    assert best > 1.0 > 0.0 > odds["cloud"]
    assert odds["stub"] is None
    assert told.assumptions["ridge_lines"]["lines_scored"] == len(foretold) + 1
    assert not np.array_equal(told.cells[:, 3], little.cells[:, 3])
    # A line that no ground can show weighs all places alike.
    none = closely([RidgeLine(id="cloud", line=sky, trust=0.4)])
    assert none.near_enough_share == pytest.approx(little.near_enough_share, abs=0.02)


def line_of(x_px, y_px, camera):
    broken = np.zeros(len(x_px), dtype=bool)
    size = (camera.width_px, camera.height_px)
    return Skyline(np.asarray(x_px), y_px, np.ones(len(x_px)), *size, broken)


def joined(stretches_px, camera):
    """Join stretches end to start; return the lines over a sixth of the plate."""
    after = {tuple(one[0]): tuple(one[1]) for one in stretches_px}
    ends = set(after.values())
    lines = []
    for start in (point for point in after if point not in ends):
        line = [start]
        while line[-1] in after:
            line.append(after[line[-1]])
        x_px, y_px = np.array(line).T
        if np.ptp(x_px) > camera.width_px / 6.0:
            lines.append(line_of(x_px, y_px, camera))
    return lines
