"""Offer invented plates as they are handed out, and what was written of them."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
import shapely

from wherestood.record.export import handed_of_fix, write_formats
from wherestood.record.export.handed import (
    Answer,
    Decided,
    Feature,
    HandedOut,
    HandedPlate,
    Marked,
    Place,
)
from wherestood.record.fix_json import fix_to_json

ROUND_HILL = (-27.49, 41.24)


@pytest.fixture(scope="session")
def form(scene: ModuleType, tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Return the published form of an invented fix, one place found."""
    fix, inputs = scene.scene(tmp_path_factory.mktemp("scene"))
    held = replace(fix.camera, tilt_deg=1.5, roll_deg=0.8, rise_px=40.0, cross_px=-25.0)
    form = fix_to_json(replace(fix, camera=held), inputs, scene.MAKING)
    form["camera"]["principal_distance_mm"] = 264.8
    return json.loads(json.dumps(form)) | {"scan_path": str(inputs.plate.path)}


@pytest.fixture(scope="session")
def handed(form: Any) -> HandedOut:
    """Return three invented plates: known exactly, by a square, and not at all."""
    bare = handed_of_fix(form, scans=[Path(form["scan_path"])], made="2026-05-04")
    (plate,) = bare.plates
    assert plate.answer is not None
    decided = Decided("accepted", "Ada Moss", "2026-05-03T10:00:00+00:00", "it fits")
    exact = replace(
        plate,
        name="1987/12",
        row={
            "accession number": "1987/12", "title": "The mill & its <weir>, = sum",
            "maker": "Edwin Quill", "date": "about 1871", "held by": "Quexley Museum",
            "description": "Looking up the valley; \"the old road\"",
        },
        place_words="the upper valley",
        date_edtf="1871-05~",
        answer=replace(plate.answer, decided=decided, key="fix-1"),
        marks=(
            Marked("A", "point", ((800.0, 420.0),), "round top", "round-hill"),
            Marked("B", "line", ((10.0, 700.0), (300.0, 690.0)), "shore"),
            Marked("C", "outline", ((5.0, 5.0), (90.0, 5.0), (50.0, 80.0)), "gable"),
        ),
        features=("round-hill", "weir"),
        credits=("Photograph: Quexley Museum.", "Licence UNKNOWN."),
    )  # fmt: skip
    coarse = HandedPlate(
        "square", {"title": "A garden"}, precision="1 km", place_words="a valley",
        date_edtf="1871",
        answer=Answer(places=(Place(-27.52, 41.18, side_m=1000.0),)),
        withheld=("how the camera looked", "all but a square of its place"),
    )  # fmt: skip
    hidden = HandedPlate(
        "hidden",
        {},
        precision="withheld",
        withheld=("its place",),
        credits=("UNKNOWN",),
    )
    west, north = ROUND_HILL
    features = (
        Feature(
            "round-hill", "summit", ("Round Hill", "Cnoc Crùn"),
            shapely.Point(west, north), height_m=512.0, sd_m=15.0, source="old plan",
        ),
        Feature(
            "weir", "weir",
            shape=shapely.LineString([(-27.5, 41.2), (-27.499, 41.201)]),
            traced=True, existed_from="1840~",
        ),
        Feature("pond", "pond", shape=shapely.Point(-27.4, 41.1).buffer(0.001)),
    )  # fmt: skip
    return HandedOut(
        "Plates of the valley", "full", (exact, coarse, hidden), features,
        ("Elevation: invented, no rights.",), "2026-05-04T00:00:00+00:00", "0.0.0",
    )  # fmt: skip


@pytest.fixture(scope="session")
def written(handed: HandedOut, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder in which all of it was written, in every form."""
    folder = tmp_path_factory.mktemp("written")
    write_formats(folder, handed)
    return folder
