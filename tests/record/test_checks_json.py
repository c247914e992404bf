"""Check that what the checks found has its published form."""

from __future__ import annotations

import math
from dataclasses import fields, replace
from pathlib import Path
from types import ModuleType

from wherestood.fix.checked import (
    Advice,
    Agreement,
    Checks,
    Conflict,
    HeldBack,
    Indeterminate,
    LeftOut,
    MissingGround,
)
from wherestood.fix.result import Alternative, Proposed, ProposedTold
from wherestood.record.fix_json import fix_schema, read_fix, write_fix

LEFT = LeftOut("A", ("A",), 95.0, 30.0, 90.0, 0.4, -1.0, 12.0, 7.0, 2e3, 0.9, 8.5, 46.1)
EVERY = Checks(
    (Agreement("marks", ("A", "B"), -9.0, 120.0, 4.0, 5e4),),
    LEFT,
    (HeldBack("C", "f1", 410.0, 990.0, 60.0, 20.0, 20.0, 110.0, 1.4, 0.3),),
    Conflict(("B",), 0.004, ("A", "B"), False),
    Indeterminate(310.0, 2.0, 88.0, 17.7, ("a", "b", "c")),
    (
        Advice("place", ("A", "f1"), 5.0, 3e4, 4e3, 8.5, 46.1, 300.0, 4e3, 12.0),
        Advice("lens", (), 0.01, 3e4, 9e3),
    ),
    (MissingGround(2.0, 12.0, 8e3, 461.0),),
)


def test_every_check_is_written_in_the_published_form_and_read_again(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, inputs = scene.scene(tmp_path)
    place = Alternative(fix.station, fix.camera, 0.9, evidence=fix.evidence)
    told = (
        ProposedTold(
            Proposed("the sexton", 8.5, 46.1, reason="so he said"),
            "fits poorly",
            -4.0,
            (("A", -4.0),),
            math.nan,
            math.nan,
            place,
            12.0,
        ),
        ProposedTold(
            Proposed("at sea", 0.0, 0.0), "impossible", -math.inf, (), math.nan
        ),
    )
    full = replace(fix, left_out=(LEFT,), checks=EVERY, proposed=told)
    write_fix(tmp_path / "fix.json", full, inputs, scene.MAKING)
    form = read_fix(tmp_path / "fix.json")
    assert form["checks"]["conflict"]["smallest"] == ["A", "B"]
    assert form["checks"]["indeterminate"]["one_way_deg"] is None
    assert form["checks"]["advice"][1]["lon"] is None
    assert form["proposed"][0]["reason"] == "so he said"
    assert form["proposed"][0]["answer"]["probability"] == 0.9
    assert form["proposed"][1]["log_ratio"] is None
    assert form["left_out"][0]["expected_m"] == 12.0


def test_a_fix_of_before_there_were_checks_can_still_be_read(
    scene: ModuleType, tmp_path: Path
) -> None:
    write_fix(tmp_path / "fix.json", *scene.scene(tmp_path), scene.MAKING)
    assert "checks" not in fix_schema()["required"]


def test_the_form_has_every_check() -> None:
    known = set(fix_schema()["properties"]["checks"]["properties"])
    assert known == {part.name for part in fields(Checks)}
