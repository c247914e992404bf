"""Check the published form of a fix."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import jsonschema
import numpy as np
import pytest
import shapely
from shapely.geometry import MultiPolygon, shape

from wherestood.errors import InputError
from wherestood.fix.area import read_area
from wherestood.fix.result import Fix
from wherestood.fix.settings import LocateSettings
from wherestood.record.fix_json import (
    fix_schema,
    fix_to_json,
    read_fix,
    skyline_gaps,
    write_fix,
)
from wherestood.record.inputs import FixInputs

# What the published form must always hold.
PROMISED = {
    "wherestood",
    "plate",
    "verdict",
    "near_enough_m",
    "station",
    "regions",
    "elsewhere",
    "alternatives",
    "fit",
    "terrain",
    "assumptions",
    "made",
    "version",
    "decision",
}


@pytest.fixture(params=["located", "several places", "not determined"])
def made(
    request: pytest.FixtureRequest, scene: ModuleType, tmp_path: Path
) -> tuple[Fix, FixInputs]:
    pair: tuple[Fix, FixInputs] = scene.scene(tmp_path, request.param)
    return pair


def _form(made: tuple[Fix, FixInputs], scene: ModuleType) -> dict[str, Any]:
    return fix_to_json(*made, scene.MAKING)


def test_schema_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(fix_schema())


def test_schema_requires_what_is_promised() -> None:
    assert set(fix_schema()["required"]) >= PROMISED
    assert {"required": ["camera"]} in fix_schema()["oneOf"]


def test_every_field_of_the_schema_is_described() -> None:
    def missing(part: Any, where: str) -> list[str]:
        found = []
        for name, field in part.get("properties", {}).items():
            told = {"description", "$ref", "const"} & set(field)
            found += [] if told else [f"{where}.{name}"]
            found += missing(field, f"{where}.{name}")
        if isinstance(part.get("items"), dict):
            found += missing(part["items"], f"{where}[]")
        return found

    parts = {"fix": fix_schema(), **fix_schema()["$defs"]}
    assert [m for name, part in parts.items() for m in missing(part, name)] == []


def test_schema_in_docs_is_the_one_that_ships(repository: Path) -> None:
    shipped = repository / "src" / "wherestood" / "record" / "fix.schema.json"
    assert (repository / "docs" / "fix.schema.json").read_bytes() == (
        shipped.read_bytes()
    )


def test_written_fix_reads_back_as_it_was(
    made: tuple[Fix, FixInputs], scene: ModuleType, tmp_path: Path
) -> None:
    form = write_fix(tmp_path / "fix.json", *made, scene.MAKING)
    assert read_fix(tmp_path / "fix.json") == form


def test_regions_are_right_handed_valid_and_short(
    made: tuple[Fix, FixInputs], scene: ModuleType
) -> None:
    form = _form(made, scene)
    features = form["regions"]["features"]
    assert [f["properties"]["probability"] for f in features] == [0.5, 0.9, 0.99]
    for feature in features:
        region = shape(feature["geometry"])
        assert region.is_valid
        assert all(polygon.exterior.is_ccw for polygon in region.geoms)
    numbers = re.findall(r"\d+\.(\d+)", json.dumps(features))
    assert max(len(decimals) for decimals in numbers) <= 7


def test_regions_keep_their_area_and_holes(scene: ModuleType, tmp_path: Path) -> None:
    fix, inputs = scene.scene(tmp_path)
    ring = shapely.Point(-27.5, 41.2).buffer(0.001)
    hole = shapely.Point(-27.5, 41.2).buffer(0.0005)
    region = MultiPolygon([ring.difference(hole)])
    form = fix_to_json(replace(fix, regions={0.9: region}), inputs, scene.MAKING)
    read = shape(form["regions"]["features"][0]["geometry"])
    assert read.area == pytest.approx(region.area, rel=1e-3)
    assert not read.geoms[0].interiors[0].is_ccw


def test_pieces_that_overlap_become_one(scene: ModuleType, tmp_path: Path) -> None:
    fix, inputs = scene.scene(tmp_path)
    discs = [shapely.Point(-27.5 + e, 41.2).buffer(0.001) for e in (0.0, 0.001)]
    form = fix_to_json(
        replace(fix, regions={0.9: MultiPolygon(discs)}), inputs, scene.MAKING
    )
    read = shape(form["regions"]["features"][0]["geometry"])
    assert len(read.geoms) == 1
    assert read.area == pytest.approx(shapely.union_all(discs).area, rel=1e-3)


def test_an_empty_region_stays_readable(scene: ModuleType, tmp_path: Path) -> None:
    fix, inputs = scene.scene(tmp_path)
    form = fix_to_json(
        replace(fix, regions={0.9: MultiPolygon()}), inputs, scene.MAKING
    )
    jsonschema.validate(form, fix_schema())
    assert form["regions"]["features"][0]["geometry"]["coordinates"] == []


def test_what_is_not_finite_becomes_null(scene: ModuleType, tmp_path: Path) -> None:
    fix, inputs = scene.scene(tmp_path)
    vague = replace(fix.station, sd_height_m=float("inf"))
    form = fix_to_json(
        replace(fix, station=vague, rms_px=float("nan")), inputs, scene.MAKING
    )
    assert form["station"]["sd_height_m"] is None
    assert form["fit"]["rms_px"] is None
    assert form["assumptions"]["ladder"] == [1.0, None]
    json.dumps(form, allow_nan=False)


def test_bearings_go_out_within_one_turn(scene: ModuleType, tmp_path: Path) -> None:
    fix, inputs = scene.scene(tmp_path)
    turned = replace(
        fix.camera, bearing_deg=-10.0, grid_bearing_deg=-11.0, sight_bearing_deg=370.0
    )
    camera = fix_to_json(replace(fix, camera=turned), inputs, scene.MAKING)["camera"]
    assert (camera["bearing_deg"], camera["grid_bearing_deg"]) == (350.0, 349.0)
    assert camera["sight"]["bearing_deg"] == 10.0


def test_everything_needed_to_make_it_again_is_inside(
    made: tuple[Fix, FixInputs], scene: ModuleType
) -> None:
    form, inputs = _form(made, scene), made[1]
    assert form["inputs"]["scan"]["sha256"] == inputs.plate.sha256
    assert form["settings"]["seed"] == inputs.settings.seed
    assert set(form["settings"]) == set(vars(inputs.settings))
    assert form["terrain"]["sources"][0]["sha256"] == "0" * 64
    assert form["version"] == "0.0.0"


def test_settings_and_area_can_be_taken_up_again(
    made: tuple[Fix, FixInputs], scene: ModuleType, tmp_path: Path
) -> None:
    form, inputs = _form(made, scene), made[1]
    assert LocateSettings(**form["settings"]) == inputs.settings
    path = tmp_path / "again.geojson"
    path.write_text(json.dumps(form["inputs"]["ground_searched"]["geometry"]))
    again = read_area(path)
    assert again.size_km2 == pytest.approx(inputs.area.size_km2, rel=1e-6)


def test_no_folder_goes_out(
    made: tuple[Fix, FixInputs], scene: ModuleType, tmp_path: Path
) -> None:
    assert str(tmp_path.parent) not in json.dumps(_form(made, scene))


def test_a_number_out_of_range_is_not_written(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, inputs = scene.scene(tmp_path)
    with pytest.raises(jsonschema.ValidationError, match="maximum"):
        write_fix(
            tmp_path / "fix.json", replace(fix, elsewhere=1.2), inputs, scene.MAKING
        )
    assert not (tmp_path / "fix.json").exists()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "not JSON"),
        ('{"wherestood": 2}', "not a fix in form 1"),
        ("[]", "not a fix"),
    ],
)
def test_what_is_no_fix_is_refused(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "fix.json"
    path.write_text(text)
    with pytest.raises(InputError, match=words):
        read_fix(path)


def test_a_missing_fix_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        read_fix(tmp_path / "fix.json")


def test_gaps_are_where_the_line_is_broken(scene: ModuleType) -> None:
    line, _ = scene.horizon(scene.terrain())
    assert skyline_gaps(scene.skyline(line)) == [(478.5, 610.5), (1248.5, 1300.5)]


def test_ends_without_line_are_gaps(scene: ModuleType) -> None:
    line, _ = scene.horizon(scene.terrain())
    whole = scene.skyline(line)
    kept = (whole.x_px > 200) & (whole.x_px < 400)
    short = replace(
        whole,
        x_px=whole.x_px[kept],
        y_px=whole.y_px[kept],
        sd_px=whole.sd_px[kept],
        break_after=np.zeros(int(kept.sum()), dtype=bool),
    )
    assert skyline_gaps(short) == [(0.0, 200.5), (398.5, 1600.0)]
