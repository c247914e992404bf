"""Check what is said, published and drawn of ground that changed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import ModuleType

import jsonschema
import numpy as np
import pytest
import shapely
from matplotlib.colors import to_hex
from matplotlib.patches import PathPatch

from wherestood.evidence.items import ChangedGround, Evidence
from wherestood.fix.result import ChangedGroundTold, Fix
from wherestood.record.changed_ground import HATCH
from wherestood.record.fix_json import fix_schema, fix_to_json
from wherestood.record.inputs import FixInputs
from wherestood.record.map import map_figure
from wherestood.record.palette import MADDER
from wherestood.record.words import plain_words


@pytest.fixture
def told(scene: ModuleType, tmp_path: Path) -> tuple[Fix, FixInputs]:
    """Return a fix with a heap in full, a dam perhaps, a quarry not, a speck."""
    fix, inputs = scene.scene(tmp_path)
    frame = inputs.terrain.frame

    def box(*corners_m: float) -> shapely.Polygon:
        def lonlat(points: np.ndarray) -> np.ndarray:
            return np.column_stack(frame.to_lonlat(points[:, 0], points[:, 1]))

        return shapely.transform(shapely.box(*corners_m), lonlat)

    items = (
        ChangedGround(
            box(700.0, 700.0, 1300.0, 1200.0),
            "raise",
            by_m=25.0,
            id="heap",
            existed_to="1890",
            source="mine plan",
        ),
        ChangedGround(
            box(-1500.0, 300.0, -600.0, 900.0), "cut", id="dam", existed_from="1870"
        ),
        ChangedGround(
            box(0.0, -900.0, 500.0, -500.0),
            "flatten",
            height_m=130.0,
            id="quarry",
            existed_from="1900",
        ),
        ChangedGround(
            box(5.0, 5.0, 9.0, 9.0), "flood", height_m=90.0, id="speck", existed_to=""
        ),
    )
    rows = (
        ChangedGroundTold("heap", "raise", 1.0, "", 0.31, False, 130),
        ChangedGroundTold("dam", "cut", 0.6, "of the years 1865/1874", 0.0, True, 90),
        ChangedGroundTold("quarry", "flatten", 0.0, "it did not exist", 0.0, False, 0),
        ChangedGroundTold("speck", "flood", 0.5, "it is not dated", 0.0, False, 0),
    )
    evidence = Evidence(changed_ground=items, date="1865/1874")
    return (
        replace(fix, changed_ground=rows),
        replace(inputs, evidence=evidence),
    )


def section(fix: Fix, inputs: FixInputs, title: str) -> str:
    return " ".join(
        line
        for one in plain_words(fix, inputs)
        if one.heading == title
        for line in one.lines
    )


def test_each_piece_of_ground_is_said_to_be_taken_as_it_was(told) -> None:
    words = section(*told, "Ground that changed")
    assert "'heap' (raised by 25 m, until 1890) is taken in full." in words
    assert (
        "'dam' (cut to the surface between its edges, from 1870) is as likely as 60%"
        in words
    )
    assert "'quarry' (level at 130 m, from 1900) is left as" in words
    assert "'speck' (under water at 90 m) changes nothing: no node" in words
    assert "not dated: give its date" not in words


def test_a_plate_without_a_date_is_asked_for_one(told) -> None:
    fix, inputs = told
    undated = replace(inputs, evidence=replace(inputs.evidence, date=""))
    assert "give its date" in section(fix, undated, "Ground that changed")


def test_a_fix_that_leans_on_changed_ground_warns(told) -> None:
    words = section(*told, "How sure")
    assert "leans on changed ground, 'heap': over 31% of the view" in words
    assert "leans on changed ground, 'dam': the camera stands on it." in words
    assert "'quarry'" not in words


def test_nothing_is_said_where_nothing_changed(scene: ModuleType, tmp_path) -> None:
    fix, inputs = scene.scene(tmp_path)
    assert "changed" not in " ".join(
        line for one in plain_words(fix, inputs) for line in one.lines
    )


def test_the_published_fix_holds_ground_dates_and_outlines(told, scene) -> None:
    form = fix_to_json(*told, scene.MAKING)
    jsonschema.validate(form, fix_schema(), cls=jsonschema.Draft202012Validator)
    heap, dam, *_ = form["changed_ground"]
    assert (heap["chance"], heap["skyline_share"]) == (1.0, 0.31)
    assert (heap["existed_to"], heap["plate_date"]) == ("1890", "1865/1874")
    assert heap["source"] == "mine plan"
    assert dam["under_station"] is True
    outline = shapely.geometry.shape(heap["geometry"])
    given = told[1].evidence.changed_ground[0].geometry
    # The published decimals of a degree are some decimetres, of 500 m.
    assert outline.symmetric_difference(given).area < 1e-3 * given.area


def test_the_map_hatches_changed_ground_and_its_key_says_so(told) -> None:
    figure = map_figure(*told)
    hatched = [
        patch
        for patch in figure.axes[0].patches
        if isinstance(patch, PathPatch) and patch.get_hatch() == HATCH
    ]
    assert len(hatched) == 4
    assert {to_hex(patch.get_edgecolor()) for patch in hatched} == {MADDER.lower()}
    assert "hatched: ground that changed" in [text.get_text() for text in figure.texts]
