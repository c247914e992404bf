"""Check that what is said of the camera fills only what nobody set."""

from __future__ import annotations

from dataclasses import fields

from wherestood.evidence.items import CameraFacts
from wherestood.fix.camera_facts import told_by_camera
from wherestood.fix.settings import LocateSettings

FACTS = CameraFacts(
    footing="roof",
    lens_height_m=9.0,
    lens_height_sd_m=1.5,
    principal_distance_mm=296.0,
    principal_distance_sd_mm=4.0,
    trimmed=True,
    process="glass negative",
    reversed=True,
)


def test_settings_nobody_gave_are_filled_and_no_others() -> None:
    found = told_by_camera(LocateSettings(seed=7, near_enough_m=40.0), FACTS, {})
    assert found == LocateSettings(
        seed=7,
        near_enough_m=40.0,
        footing="roof",
        lens_height_m=9.0,
        lens_height_sd_m=1.5,
        principal_distance_mm=296.0,
        principal_distance_sd_mm=4.0,
        trimmed=True,
        process="glass negative",
        reversed=True,
    )


def test_what_a_person_set_stands() -> None:
    own = LocateSettings(
        footing="wharf",
        lens_height_m=4.0,
        lens_height_sd_m=0.5,
        principal_distance_mm=210.0,
        principal_distance_sd_mm=2.0,
        process="print",
    )
    found = told_by_camera(own, FACTS, {})
    for name in ("footing", "lens_height_m", "principal_distance_mm", "process"):
        assert getattr(found, name) == getattr(own, name), name


def test_a_setting_named_stands_even_if_it_is_the_usual_one() -> None:
    given = {"footing": "tripod", "reversed": None}
    found = told_by_camera(LocateSettings(**given), FACTS, given)
    assert (found.footing, found.reversed) == ("tripod", None)
    assert found.trimmed


def test_what_is_not_known_changes_nothing() -> None:
    assert told_by_camera(LocateSettings(), CameraFacts(), {}) == LocateSettings()


def test_a_pair_is_taken_whole_or_not_at_all() -> None:
    # A person's height with the file's doubt would be nobody's.
    own = LocateSettings(lens_height_m=4.0)
    assert told_by_camera(own, FACTS, {}).lens_height_sd_m is None


def test_every_fact_that_is_a_setting_is_looked_at() -> None:
    names = {part.name for part in fields(CameraFacts)}
    names &= {part.name for part in fields(LocateSettings)}
    found = told_by_camera(LocateSettings(), FACTS, {})
    for name in names:
        assert getattr(found, name) == getattr(FACTS, name), name


def test_limits_of_a_lens_fill_what_nobody_set() -> None:
    facts = CameraFacts(
        principal_distance_least_mm=200.0, principal_distance_most_mm=320.0
    )
    found = told_by_camera(LocateSettings(), facts, {})
    assert found.principal_distance_least_mm == 200.0
    assert found.principal_distance_most_mm == 320.0
    own = LocateSettings(principal_distance_mm=296.0, principal_distance_sd_mm=4.0)
    assert told_by_camera(own, facts, {}) == own
    limits = LocateSettings(principal_distance_most_mm=250.0)
    assert told_by_camera(limits, FACTS, {}).principal_distance_mm is None
