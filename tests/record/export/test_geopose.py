"""Check poses against the standard and an independent reckoning of turns.

Source: OGC GeoPose 1.0 Data Exchange Standard, OGC 21-056r11, clauses 7 and 9: the
members, the tangent plane, and the order yaw, pitch, roll. `scipy.spatial.transform`
turns angles and quaternions by itself.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from wherestood.camera.model import Camera, axes
from wherestood.record.export.geopose import geopose_of
from wherestood.record.export.handed import (
    Answer,
    Decided,
    HandedOut,
    HandedPlate,
    Held,
    Place,
)

#: Angles are told to 0.0001 deg.
TOLD_ANGLE_RAD = math.radians(1e-4)
NUMBER = {"type": "number"}
WITHIN_ONE = {"type": "number", "minimum": -1, "maximum": 1}
POSITION = {
    "type": "object", "required": ["lat", "lon", "h"],
    "properties": {
        "lat": {"type": "number", "minimum": -90, "maximum": 90},
        "lon": {"type": "number", "minimum": -180, "maximum": 180}, "h": NUMBER,
    },
}  # fmt: skip
#: The standard's two schemas, as far as they require and allow (from its clause 9).
SCHEMAS: dict[str, Any] = {
    "angles": {
        "type": "object", "required": ["position", "angles"],
        "properties": {
            "position": POSITION,
            "angles": {
                "type": "object", "required": ["yaw", "pitch", "roll"],
                "properties": dict.fromkeys(("yaw", "pitch", "roll"), NUMBER),
            },
        },
    },
    "quaternion": {
        "type": "object", "required": ["position", "quaternion"],
        "properties": {
            "position": POSITION,
            "quaternion": {
                "type": "object", "required": ["x", "y", "z", "w"],
                "properties": dict.fromkeys("xyzw", WITHIN_ONE),
            },
        },
    },
}  # fmt: skip


def plate_held(bearing_deg: float, tilt_deg: float, roll_deg: float) -> HandedPlate:
    turned = map(math.radians, (bearing_deg, tilt_deg, roll_deg))
    camera = Camera(*turned, 1900.0, 0.0, 0.0, 0.0, 1600, 1200)
    place = Place(8.5, 46.1, height_m=812.5, held=Held(camera, bearing_deg, tilt_deg))
    return HandedPlate("p", answer=Answer("located", places=(place,)))


def test_yaw_pitch_roll_of_a_reckoned_case() -> None:
    """Bearing 37, tilt -1.5, roll 0.8 deg, reckoned by hand from the clauses."""
    pose = geopose_of(plate_held(37.0, -1.5, 0.8), "Basic-YPR")
    assert pose is not None
    assert pose["angles"] == {"yaw": 53.0, "pitch": 1.5, "roll": 0.8}
    pose = geopose_of(plate_held(37.0, -1.5, 0.8), "Basic-Quaternion")
    assert pose is not None
    told = [pose["quaternion"][name] for name in "xyzw"]
    by_hand = (0.000406828, 0.014828800, 0.446066933, 0.894876658)
    assert told == pytest.approx(by_hand, abs=1e-8)


def test_both_turns_carry_the_body_s_axes_to_those_of_our_camera() -> None:
    draw = np.random.default_rng(11)
    for _ in range(200):
        bearing, tilt, roll = draw.uniform((0, -80, -170), (360, 80, 170))
        plate = plate_held(bearing, tilt, roll)
        place = plate.place
        assert place is not None
        assert place.held is not None
        right, up, forward = axes(place.held.camera)
        ours = np.column_stack((forward, -right, up))  # x, y, z of the body
        angles = geopose_of(plate, "Basic-YPR")
        quaternion = geopose_of(plate, "Basic-Quaternion")
        assert angles is not None
        assert quaternion is not None
        told = [angles["angles"][name] for name in ("yaw", "pitch", "roll")]
        turn = Rotation.from_euler("ZYX", told, degrees=True)
        assert np.abs(turn.as_matrix() - ours).max() < 3 * TOLD_ANGLE_RAD
        parts = [quaternion["quaternion"][name] for name in "xyzw"]
        assert np.linalg.norm(parts) == pytest.approx(1.0, abs=1e-8)
        assert np.abs(Rotation.from_quat(parts).as_matrix() - ours).max() < 1e-7


@pytest.mark.parametrize("kind", ["angles", "quaternion"])
def test_files_hold_what_the_schema_requires_and_say_which_axis_is_the_lens(
    written: Path, kind: str
) -> None:
    ending = "ypr" if kind == "angles" else "quaternion"
    (path,) = (written / "geopose").glob(f"*{ending}.json")
    form = json.loads(path.read_text("utf-8"))
    jsonschema.validate(form, SCHEMAS[kind])
    assert form["wherestood"]["body_axes"].startswith("x along the lens")
    assert "vertical datum" in form["wherestood"]["height"]
    assert form["position"]["h"] == 131.6


def test_no_pose_is_told_where_no_one_place_holds(handed: HandedOut) -> None:
    plate = handed.plates[0]
    assert plate.answer is not None
    rejected = replace(plate.answer, decided=Decided("rejected"))
    several = replace(plate.answer, verdict="several places", decided=None)
    for answer in (rejected, several, None):
        assert geopose_of(replace(plate, answer=answer), "Basic-YPR") is None
    assert geopose_of(handed.plates[1], "Basic-YPR") is None
