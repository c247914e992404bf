"""Check bearings of points on a plate against trigonometry."""

from __future__ import annotations

import math
from dataclasses import replace
from types import ModuleType

import numpy as np
import pytest

from wherestood.record.sighting import bearings_deg, edge_bearings_deg

ONE_ARCSECOND_DEG = 1.0 / 3600.0
WIDTH_PX, HEIGHT_PX = 1600, 1200


def test_a_level_camera_sees_an_edge_at_half_its_field(scene: ModuleType) -> None:
    camera = replace(scene.camera(350.0), rise_px=0.0)
    half_deg = math.degrees(math.atan(WIDTH_PX / 2 / scene.DISTANCE_PX))
    left, right = edge_bearings_deg(camera, WIDTH_PX, HEIGHT_PX)
    assert left == pytest.approx(350.0 - half_deg, abs=ONE_ARCSECOND_DEG)
    assert right == pytest.approx(350.0 + half_deg, abs=ONE_ARCSECOND_DEG)


def test_a_reversed_scan_turns_left_for_right(scene: ModuleType) -> None:
    camera = scene.camera()
    x_px, y_px = np.array([300.0]), np.array([500.0])
    seen = bearings_deg(camera, x_px, y_px, WIDTH_PX, HEIGHT_PX)
    mirrored = bearings_deg(
        replace(camera, reversed=True), WIDTH_PX - x_px, y_px, WIDTH_PX, HEIGHT_PX
    )
    assert mirrored == pytest.approx(seen, abs=ONE_ARCSECOND_DEG)


def test_roll_moves_what_is_above_the_axis_to_the_right(scene: ModuleType) -> None:
    """Turned clockwise seen from behind, the camera's up leans to the right."""
    camera = replace(scene.camera(), rise_px=0.0, roll_deg=5.0)
    above = bearings_deg(
        camera, np.array([800.0]), np.array([100.0]), WIDTH_PX, HEIGHT_PX
    )
    expected = math.degrees(
        math.atan(500.0 * math.sin(math.radians(5.0)) / scene.DISTANCE_PX)
    )
    assert above[0] - camera.bearing_deg == pytest.approx(
        expected, abs=ONE_ARCSECOND_DEG
    )


def test_a_barrel_lens_sees_wider_at_the_edge(scene: ModuleType) -> None:
    camera = replace(scene.camera(0.0), rise_px=0.0, k1=0.02)
    _, right = edge_bearings_deg(camera, WIDTH_PX, HEIGHT_PX)
    perfect_px = 800.0 * (1 + 0.02 * 0.8**2)  # the edge is 0.8 of the half-diagonal
    expected_deg = math.degrees(math.atan(perfect_px / scene.DISTANCE_PX))
    assert right == pytest.approx(expected_deg, abs=ONE_ARCSECOND_DEG)
