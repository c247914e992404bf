"""Check that evidence goes into the tables and comes out the same."""

from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wherestood.daybook import Daybook, find
from wherestood.daybook.bearing import digest_of
from wherestood.daybook.records import one_line
from wherestood.daybook.tables import Detail, Feature, Mark, Plate, Statement
from wherestood.daybook.tables import Evidence as Item
from wherestood.daybook.take_evidence import take_evidence
from wherestood.daybook.tell_evidence import tell_evidence
from wherestood.errors import InputError
from wherestood.evidence.file import read_evidence
from wherestood.evidence.items import Evidence, RidgeLine, SkylinePiece
from wherestood.evidence.joined import joined_skyline
from wherestood.plate.skyline import Skyline

WIDTH_PX, HEIGHT_PX = 9000, 7000


def _example(repository: Path, folder: Path) -> Path:
    """Return the longer example of the page on evidence files, as a file."""
    page = (repository / "docs" / "evidence-file.md").read_text(encoding="utf-8")
    text = page.split("## A longer example", 1)[1].split("```toml\n", 1)[1]
    path = folder / "example.toml"
    path.write_text(text.split("```", 1)[0], encoding="utf-8")
    return path


def _line(seed: float) -> Skyline:
    # To thousandths of a pixel, as files of lines have them.
    x_px = np.linspace(10.5, WIDTH_PX - 10.5, 40).round(3)
    y_px = (3000.0 + 200.0 * np.sin(x_px / 900.0 + seed)).round(3)
    broken = np.zeros(40, dtype=bool)
    return Skyline(x_px, y_px, np.full(40, 1.25), WIDTH_PX, HEIGHT_PX, broken)


@pytest.fixture
def told(repository: Path, tmp_path: Path) -> Evidence:
    """Return evidence of every kind."""
    path = _example(repository, tmp_path)
    kept = read_evidence(path, width_px=WIDTH_PX, height_px=HEIGHT_PX)
    found = kept.evidence
    values = {part.name: getattr(found, part.name) for part in fields(found)}
    values["skylines"] = (SkylinePiece(_line(0.0), id="left part"),)
    values["ridge_lines"] = (RidgeLine(_line(1.0), id="spur", trust=0.4),)
    return Evidence(**values)


def test_two_readers_skylines_of_a_plate_become_one_with_their_doubt(
    daybook: Daybook, tmp_path: Path
) -> None:
    one = _line(0.0)
    two = replace(one, y_px=one.y_px + 6.0)
    both = Evidence(skylines=(SkylinePiece(one, id="Ada"), SkylinePiece(two, id="Ben")))
    plate = _plate(daybook, both, "1987.12")
    with daybook.reading() as session:
        told = tell_evidence(session, find(session, Plate, plate.key))
    assert len(told.document["skyline"]) == 2
    read = read_evidence(
        told.write(tmp_path), width_px=WIDTH_PX, height_px=HEIGHT_PX
    ).evidence
    joined = joined_skyline(read.skylines)
    assert joined is not None
    # Each errs by 6 px over the root of two, besides its own 1.25 px.
    doubt_px = np.sqrt(1.25**2 + 6.0**2 / 2.0)
    assert np.median(joined.sd_px) == pytest.approx(doubt_px, rel=0.02)


def _plate(daybook: Daybook, told: Evidence, key: str = "") -> Plate:
    with daybook.writing("Ada", "from the file") as session:
        plate = Plate(key=key or told.plate)
        session.add(plate)
        session.flush()
        take_evidence(session, plate, told)
    return plate


def _read_back(daybook: Daybook, folder: Path, name: str) -> Evidence:
    with daybook.reading() as session:
        items = tell_evidence(session, find(session, Plate, name))
    assert items.left_out == ()
    path = items.write(folder)
    checked = read_evidence(path, width_px=WIDTH_PX, height_px=HEIGHT_PX)
    assert checked.complaints == ()
    return checked.evidence


def _by_id(items: Any) -> dict[str, Any]:
    return {item.id: item for item in items}


def test_evidence_of_every_kind_comes_out_as_it_went_in(
    daybook: Daybook, told: Evidence, tmp_path: Path
) -> None:
    _plate(daybook, told)
    back = _read_back(daybook, tmp_path, told.plate)
    compared = 0
    for part in fields(told):
        first, second = getattr(told, part.name), getattr(back, part.name)
        if part.name in ("skylines", "ridge_lines"):
            assert [one.id for one in first] == [one.id for one in second]
            for one, other in zip(first, second, strict=True):
                np.testing.assert_array_equal(one.line.x_px, other.line.x_px)
                np.testing.assert_array_equal(one.line.y_px, other.line.y_px)
                assert one.trust == other.trust
        elif part.name == "features":
            # A feature of which no item speaks tells a search nothing.
            spoken = {name for item in told.items() for name in item.speaks_of()}
            first = [one for one in first if one.id in spoken]
            assert _by_id(second) == _by_id(first)
        elif isinstance(first, tuple) and first and not isinstance(first[0], str):
            assert _by_id(second) == _by_id(first), part.name
            compared += len(first)
        else:
            assert second == first, part.name
    assert compared > 10


def test_the_plate_that_an_item_was_read_from_is_its_row_s_and_no_text(
    daybook: Daybook, tmp_path: Path
) -> None:
    path = tmp_path / "two.toml"
    path.write_text(
        "wherestood = 1\n"
        + "".join(
            f'[[{table}]]\nplate = "left scan"\n{rest}\n'
            for table, rest in (
                ("mark", 'id = "A"\nx_px = 10\ny_px = 20'),
                ("mark", 'id = "B"\nx_px = 30\ny_px = 40'),
            )
        ),
        encoding="utf-8",
    )
    told = read_evidence(path, width_px=WIDTH_PX, height_px=HEIGHT_PX)
    assert told.complaints == ()
    _plate(daybook, told.evidence, "1987.13")
    again = _read_back(daybook, tmp_path, "1987.13")
    assert [mark.id for mark in again.marks] == ["A", "B"]
    assert {item.plate for item in again.items()} == {""}


def test_the_same_feature_is_not_added_twice_and_another_is_refused(
    daybook: Daybook, told: Evidence
) -> None:
    _plate(daybook, told)
    _plate(daybook, told, "another")
    with daybook.writing("Ben") as session:
        session.query(Feature).first().sd_m = 77.0
    with pytest.raises(InputError, match="sd_m is not the file's"):
        _plate(daybook, told, "third")


def test_what_was_set_aside_and_a_mark_without_a_place_tell_nothing(
    daybook: Daybook, told: Evidence, tmp_path: Path
) -> None:
    plate = _plate(daybook, told)
    with daybook.writing("Ada", "a copy of the caption") as session:
        for said in session.query(Statement):
            said.removed = True
    back = _read_back(daybook, tmp_path, plate.key)
    assert back.statements == ()
    assert len(back.marks) == len(told.marks)


def test_a_mark_is_what_its_detail_is_taken_to_be(
    daybook: Daybook, tmp_path: Path
) -> None:
    with daybook.writing("Ada") as session:
        plate = Plate(key="1987.12")
        chapel = {"type": "Point", "coordinates": [8.5, 46.1]}
        feature = Feature(key="chapel", geometry=chapel, sd_m=5.0)
        session.add_all([plate, feature])
        session.flush()
        detail = Detail(plate_id=plate.id, what="a gable", feature_id=feature.id)
        session.add(detail)
        session.flush()
        mark = Mark(plate_id=plate.id, detail_id=detail.id, points_px=[[100.5, 200.25]])
        session.add(mark)
    back = _read_back(daybook, tmp_path, "1987.12")
    assert [one.feature_id for one in back.marks[0].identities] == ["chapel"]
    assert (back.marks[0].x_px, back.marks[0].y_px) == (100.5, 200.25)


def test_digest_tells_what_an_item_says_and_not_how_often_it_was_written(
    daybook: Daybook,
) -> None:
    with daybook.writing("Ada") as session:
        plate = Plate(key="1987.12", size="whole plate")
        session.add(plate)
    before = digest_of(plate)
    for size in ("half plate", "whole plate"):
        with daybook.writing("Ada") as session:
            find(session, Plate, "1987.12").size = size
    with daybook.reading() as session:
        plate = find(session, Plate, "1987.12")
        assert plate.revision == 3
        assert digest_of(plate) == before


def test_an_item_with_nothing_more_to_tell_is_told_without_stray_commas() -> None:
    assert one_line(Item(kind="skyline", content={"line": [[1, 2]]})) == "skyline"
