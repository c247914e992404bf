"""Check that a fix can be made again from its record and the files it names."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
import shapely
from affine import Affine
from PIL import Image

import wherestood
from wherestood.demo.hills import invented_ground
from wherestood.demo.invented import InventedCase, invent_case
from wherestood.demo.settings import (
    InventionSettings,
    PlateSettings,
    ViewSettings,
    WorldSettings,
)
from wherestood.evidence.file import read_evidence
from wherestood.evidence.items import (
    Feature,
    InLine,
    Item,
    Mark,
    Plan,
    RidgeLine,
    SkylinePiece,
    Statement,
    gather,
)
from wherestood.fix.area import Area, read_area
from wherestood.fix.settings import LocateSettings
from wherestood.notebook import LocatedPlate, ridges_of
from wherestood.plate.scan import Plate
from wherestood.plate.skyline import Skyline, read_traced_lines
from wherestood.record.fix_json import fix_schema, read_fix
from wherestood.record.kept_evidence import apart_from_lines
from wherestood.record.settled import region_area_m2
from wherestood.terrain.model import Terrain

SEED = 3
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
# What says when and from what copy, not what was found.
NOT_THE_ANSWER = ("made", "timing_s", "inputs", "plate")


@pytest.fixture(scope="module")
def case() -> InventedCase:
    """Return an invented plate in hills 60 m apart."""
    ground = invented_ground(SEED, nodes=200, cell_m=60.0)
    return invent_case(ground, np.random.default_rng(SEED), SETTINGS)


@pytest.fixture(scope="module")
def folder(case: InventedCase, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the scan and the elevation model as files."""
    made = tmp_path_factory.mktemp("again")
    size_px = (case.camera.width_px, case.camera.height_px)
    Image.new("L", size_px, 120).save(made / "invented.png")
    land = case.terrain()
    rows, columns = land.elevation_m.shape
    # A pixel is as wide as the nodes are apart, its middle a node.
    north_m = land.south_m + (rows - 0.5) * land.cell_m
    with rasterio.open(
        made / "invented.tif", "w", driver="GTiff", dtype="float32", count=1,
        width=columns, height=rows, crs=land.frame.crs, nodata=-9999.0,
        transform=Affine(
            land.cell_m, 0.0, land.west_m - 0.5 * land.cell_m,
            0.0, -land.cell_m, north_m,
        ),
    ) as file:  # fmt: skip
        heights = np.nan_to_num(land.elevation_m[::-1], nan=-9999.0)
        file.write(heights.astype(np.float32), 1)
    return made


class Undrawn:
    """Stand in for a picture: here the record is asked of, and nothing is looked at."""

    def save(self, path: Path) -> None:
        """Leave a file where the picture would be."""
        path.touch()


@pytest.fixture(scope="module", autouse=True)
def _quicker(
    fewer_trials: Callable[..., AbstractContextManager[None]],
) -> Iterator[None]:
    """Have both fixes search coarsely, alike, and draw nothing."""
    with fewer_trials(coarse=True), pytest.MonkeyPatch.context() as less:
        less.setattr(LocatedPlate, "comparison", lambda *_: Undrawn())
        less.setattr(LocatedPlate, "map", lambda _: Undrawn())
        less.setattr(LocatedPlate, "_save_checks", lambda *_: [])
        yield


@pytest.fixture(scope="module")
def first(case: InventedCase, folder: Path) -> dict[str, Any]:
    """Return the record of a fix made from those files."""
    land = Terrain.open(folder / "invented.tif", surface="ground")
    east_m, north_m = case.station_m[0] + 30.0, case.station_m[1] - 20.0
    lonlat = land.frame.to_lonlat(
        *np.array([(east_m + e, north_m + n) for e, n in CORNERS_M]).T
    )
    area = Area(shapely.Polygon(np.column_stack(lonlat)), "invented")
    mm = case.camera.c_px / case.facts.px_per_mm
    settings = LocateSettings(
        surface="ground",
        horizon_radius_m=15_000.0,
        principal_distance_mm=mm,
        principal_distance_sd_mm=3.0,
        seed=7,
    )
    scan = Plate.open(folder / "invented.png", size=case.facts.plate_mm, negative=False)
    located = wherestood.locate(
        scan,
        land,
        [case.skyline(), *_ridges(scan), *_told_of(land, east_m, north_m)],
        within=area,
        settings=settings,
    )
    located.save(folder / "first")
    return read_fix(folder / "first" / "fix.json")


def _ridges(scan: Plate) -> list[RidgeLine]:
    """Return two lines across the land, at no whole thousandths of a pixel."""
    lines = []
    for name, down, trust in (
        ("ridge line 1", 0.55, 0.4),
        ('the "dam", new', 0.7, 0.9),
    ):
        x_px = np.linspace(0.1, 0.9, 97) * scan.width_px + 0.12345
        y_px = (down + 0.02 * np.sin(np.arange(97) / 11.0)) * scan.height_px
        line = Skyline(
            x_px,
            y_px,
            np.full(97, 1.23456),
            scan.width_px,
            scan.height_px,
            np.zeros(97, dtype=bool),
        )
        lines.append(RidgeLine(id=name, line=line, trust=trust))
    return lines


def _told_of(land: Terrain, east_m: float, north_m: float) -> list[Item]:
    """Return a mark, an in line and a statement, at no round numbers."""

    def at(east: float, north: float) -> tuple[float, float]:
        lon, lat = land.frame.to_lonlat(
            np.array([east_m + east]), np.array([north_m + north])
        )
        return float(lon[0]), float(lat[0])

    plan = Plan(id="plan 1869", shared_shift_sd_m=3.3)
    near = Feature(id="barn", geometry=at(411.3, 377.7), plan=plan, sd_m=7.7)
    far = Feature(id="peak", geometry=at(3011.1, 2717.3), height_m=611.17)
    field = Feature(
        id="field", geometry=shapely.Point(at(0.0, 0.0)).buffer(0.0005, quad_segs=3)
    )
    return [
        Mark(id="A", x_px=701.37, y_px=433.21, features={"barn": 2.0, "peak": 1.0}),
        near,
        InLine(id="over", a=near, b=far, sd_deg=5.1),
        Statement(id="caption", feature=field, weight=0.6),
        Statement(id="copy", feature=field, derived_from=("caption",)),
    ]


# A crooked field, its corners at no round place.
CORNERS_M = ((-61.3, -70.1), (68.7, -58.9), (55.2, 64.4), (-72.8, 49.6))


def made_again(form: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Make a fix from its record and the files, and from nothing else."""
    scan, ground = form["inputs"]["scan"], form["terrain"]
    plate = Plate.open(
        folder / scan["file"],
        size=tuple(scan["size_mm"]) if scan["size_mm"] else None,
        trimmed=scan["trimmed"],
        negative=scan["negative"],
        reversed=scan["reversed"],
        page=scan["page"],
    )
    land = Terrain.open(
        [folder / source["file"] for source in ground["sources"]],
        surface=ground["surface"],
        refraction=ground["refraction"],
    )
    kept = form["inputs"]["skyline"]["file"]
    skyline, ridges = read_traced_lines(
        folder / "first" / kept, plate.width_px, plate.height_px
    )
    told = read_evidence(
        folder / "first" / form["inputs"]["evidence"]["file"],
        width_px=plate.width_px,
        height_px=plate.height_px,
    )
    assert told.complaints == ()
    pieces = (SkylinePiece(skyline),)
    evidence = replace(told.evidence, skylines=pieces, ridge_lines=ridges_of(ridges))
    searched = folder / "searched.geojson"
    searched.write_text(json.dumps(form["inputs"]["ground_searched"]["geometry"]))
    located = wherestood.locate(
        plate,
        land,
        evidence,
        within=read_area(searched),
        settings=LocateSettings(**form["settings"]),
    )
    located.save(folder / "second")
    return read_fix(folder / "second" / "fix.json")


def test_a_fix_made_again_from_its_record_is_the_same(
    first: dict[str, Any], folder: Path
) -> None:
    second = made_again(first, folder)
    for name in set(first) - set(NOT_THE_ANSWER):
        assert second[name] == first[name], name
    for name in ("scan", "ground_searched", "skyline", "evidence"):
        one, other = first["inputs"][name], second["inputs"][name]
        # A last blank line in the skyline's file says nothing and is not kept.
        said = {"source", "notes", "sha256"}
        assert {k: v for k, v in one.items() if k not in said} == {
            k: v for k, v in other.items() if k not in said
        }


def test_ridge_lines_stand_in_the_record_with_trust_and_odds(
    first: dict[str, Any],
) -> None:
    ridges = [e for e in first["fit"]["evidence"] if e["kind"] == "ridge line"]
    assert [(one["id"], one["trust"]) for one in ridges] == [
        ("ridge line 1", 0.4),
        ('the "dam", new', 0.9),
    ]
    assert all(isinstance(one["log_odds"], float) for one in ridges)
    assert first["assumptions"]["ridge_lines"]["lines_scored"] == 2


def test_other_evidence_stands_in_the_record_with_its_odds(
    first: dict[str, Any],
) -> None:
    rows = {row["id"]: row for row in first["fit"]["evidence"]}
    assert {"A", "over", "caption"} <= set(rows)
    assert all(
        isinstance(rows[name]["blunder_log_odds"], float)
        for name in ("A", "over", "caption")
    )
    assert np.hypot(*rows["A"]["residual_px"]) == pytest.approx(rows["A"]["residual"])
    told = first["inputs"]["evidence"]["counted_nothing"]
    assert [one["id"] for one in told] == ["copy"]
    assert first["assumptions"]["marks"]["marks_scored"] == 1
    assert first["assumptions"]["camera_free"]["items_weighed"] == 2


def test_what_only_repeats_a_traced_line_is_not_kept_to_count_again(
    case: InventedCase,
) -> None:
    shore = Feature(id="shore", geometry=(8.5, 46.1))
    evidence = gather(
        [
            SkylinePiece(case.skyline(), id="sky"),
            Mark(id="A", x_px=1.0, y_px=2.0, features=shore, derived_from=("sky",)),
            RidgeLine(id="spur", line=case.skyline()),
            Mark(id="S", x_px=5.0, y_px=2.0, features=shore, derived_from=("spur",)),
            Mark(id="B", x_px=3.0, y_px=4.0, features=shore),
        ]
    )
    kept = apart_from_lines(evidence)
    assert [item.id for item in kept.items()] == ["B"]


def test_checksums_name_the_very_files(first: dict[str, Any], folder: Path) -> None:
    named = [(folder / first["inputs"]["scan"]["file"], first["inputs"]["scan"])]
    named += [(folder / s["file"], s) for s in first["terrain"]["sources"]]
    kept = first["inputs"]["skyline"]
    named += [(folder / "first" / kept["file"], kept)]
    rest = first["inputs"]["evidence"]
    named += [(folder / "first" / rest["file"], rest)]
    for path, record in named:
        assert hashlib.sha256(path.read_bytes()).hexdigest() == record["sha256"]


def test_every_assumption_is_described_and_every_one_described_is_there(
    first: dict[str, Any],
) -> None:
    described = fix_schema()["properties"]["assumptions"]["properties"]
    today = {name for name, told in described.items() if not told.get("deprecated")}
    assert set(first["assumptions"]) == today
    prior = first["assumptions"]["prior"]
    assert all(part["sd"] > 0.0 for part in prior.values())
    # All the unknowns but the bearing (flat) and where in a cell the camera stood.
    assert len(prior) == 13


def test_advice_shrinks_the_ground_that_the_answer_tells(
    first: dict[str, Any],
) -> None:
    (region,) = (
        one["geometry"] for one in first["regions"]["features"]
        if one["properties"]["probability"] == 0.9
    )  # fmt: skip
    advice = first["checks"]["advice"]
    assert advice
    for one in advice:
        ground_m2 = region_area_m2(shapely.geometry.shape(region))
        assert one["area_before_m2"] == pytest.approx(ground_m2, rel=0.01)
        assert one["area_after_m2"] < one["area_before_m2"]


def test_the_ground_held_is_told_by_its_edges(
    first: dict[str, Any], folder: Path
) -> None:
    land = Terrain.open(folder / "invented.tif", surface="ground")
    west, south, east, north = first["terrain"]["extent_m"]
    assert (west, south) == pytest.approx((land.west_m, land.south_m), abs=1e-3)
    rows, columns = land.elevation_m.shape
    assert east - west == pytest.approx((columns - 1) * land.cell_m, abs=2e-3)
    assert north - south == pytest.approx((rows - 1) * land.cell_m, abs=2e-3)
