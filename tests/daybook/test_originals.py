"""Check that originals come in whole, stay as they are, and are watched."""

from __future__ import annotations

import errno
import hashlib
import json
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from scipy import ndimage
from sqlalchemy import select

from wherestood.daybook import Daybook
from wherestood.daybook.choose import Wanted, choose
from wherestood.daybook.originals import ScanDetails, take, take_in, verify
from wherestood.daybook.originals.passing import TAKING_IN, sweep
from wherestood.daybook.tables import Note, Plate, Scan
from wherestood.daybook.words_astray import mend_words
from wherestood.errors import DaybookError, InputError, PlateError

NEW: dict[str, Any] = {"new_plate": {}}


def picture(path: Path, seed: int = 1, mirrored: bool = False) -> Path:
    """Write an invented scan: blurred noise, different for every seed."""
    noise = np.random.default_rng(seed).standard_normal((90, 120))
    smooth = ndimage.gaussian_filter(noise, 5.0)
    tones = np.clip(128 + 60 * smooth / smooth.std(), 0, 255).astype(np.uint8)
    path.parent.mkdir(exist_ok=True)
    Image.fromarray(tones[:, ::-1] if mirrored else tones).save(path)
    return path


def scans(daybook: Daybook) -> list[Scan]:
    with daybook.reading() as session:
        return list(session.scalars(select(Scan).order_by(Scan.key)))


def left_over(daybook: Daybook) -> list[str]:
    return [str(path) for path in (daybook.folder / "originals" / TAKING_IN).iterdir()]


def test_an_original_comes_in_byte_for_byte_and_read_only(
    daybook: Daybook, tmp_path: Path
) -> None:
    source = picture(tmp_path / "Die Mühle, früh.tif")
    before = source.read_bytes()
    taken = take_in(daybook, "1987/12", source, "Ada", **NEW)
    copy = daybook.path(taken.file)
    assert copy.read_bytes() == before == source.read_bytes()
    assert copy.name == "Die Mühle, früh.tif"
    assert not copy.stat().st_mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH)
    assert taken.file == "originals/1987_12/Die Mühle, früh.tif"
    (scan,) = scans(daybook)
    assert scan.original_name == "Die Mühle, früh.tif"
    assert (scan.kept, scan.main) == ("taken in", True)
    assert left_over(daybook) == []
    assert verify(daybook) == []


def test_an_original_can_stay_where_it_is_and_is_watched(
    daybook: Daybook, tmp_path: Path
) -> None:
    source = picture(tmp_path / "scan.tif")
    taken = take_in(daybook, "12", source, "Ada", leave=True, **NEW)
    assert taken.file == str(source)
    assert not (daybook.folder / "originals" / "12").exists()
    assert verify(daybook) == []
    picture(source, seed=2)
    (finding,) = verify(daybook)
    assert finding.trouble == "changed"
    assert "scan 12/1" in finding.sentence


def test_the_same_bytes_are_refused_unless_asked_for_again(
    daybook: Daybook, tmp_path: Path
) -> None:
    source = picture(tmp_path / "scan.tif")
    take_in(daybook, "12", source, "Ada", **NEW)
    with pytest.raises(InputError, match="byte for byte, as 12/1"):
        take_in(daybook, "13", source, "Ada", **NEW)
    with daybook.reading() as session:
        assert session.scalars(select(Plate.key)).all() == ["12"]
    assert take_in(daybook, "13", source, "Ada", again=True, **NEW).address == "13/1"


@pytest.mark.parametrize("how", ["lost", "damaged"])
def test_a_lost_or_damaged_original_is_put_back_by_taking_it_in(
    daybook: Daybook, tmp_path: Path, how: str
) -> None:
    source = picture(tmp_path / "mill.tif")
    copy = daybook.path(take_in(daybook, "1987.12", source, "Ada", **NEW).file)
    copy.chmod(0o644)
    copy.unlink()
    if how == "damaged":
        copy.write_bytes(b"damaged")
    (finding,) = verify(daybook)
    assert "wherestood take-in FILE --plate 1987.12" in finding.sentence
    back = take_in(daybook, "1987.12", source, "Ben")
    assert (back.address, back.put_back) == ("1987.12/1", True)
    assert copy.read_bytes() == source.read_bytes()
    assert len(scans(daybook)) == 1
    left = [one.where for one in verify(daybook)]
    kept = copy.with_name("mill (damaged).tif")
    if how == "damaged":
        assert left == ["originals/1987.12/mill (damaged).tif"]
        assert kept.read_bytes() == b"damaged"
    else:
        assert left == []
    with pytest.raises(InputError, match="byte for byte"):
        take_in(daybook, "1987.12", source, "Ben")


def test_the_place_of_a_lost_original_is_given_to_no_other(
    daybook: Daybook, tmp_path: Path
) -> None:
    source = picture(tmp_path / "mill.tif")
    first = take_in(daybook, "1987.12", source, "Ada", **NEW)
    daybook.path(first.file).unlink()
    other = picture(tmp_path / "other" / "mill.tif", 2)
    second = take_in(daybook, "1987.12", other, "Ada")
    third = take_in(daybook, "1987.12", source, "Ada", again=True)
    assert len({first.file, second.file, third.file}) == 3
    assert [one.trouble for one in verify(daybook)] == ["missing"]


def test_one_left_in_place_that_is_gone_is_said_to_be(
    daybook: Daybook, tmp_path: Path
) -> None:
    source = picture(tmp_path / "mill.tif")
    take_in(daybook, "1987.12", source, "Ada", leave=True, **NEW)
    moved = source.rename(tmp_path / "moved.tif")
    with pytest.raises(InputError, match=r"left in place at .* no longer there"):
        take_in(daybook, "1987.12", moved, "Ada")


def test_two_who_take_one_file_in_at_once_make_one_scan(
    daybook: Daybook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second comes to write when the first has just been written."""
    source = picture(tmp_path / "mill.tif")
    arriving = take.arrive

    @contextmanager
    def arrive(*args: Any, **more: Any) -> Iterator[Any]:
        with arriving(*args, **more) as arrival:
            monkeypatch.setattr(take, "arrive", arriving)
            other = Daybook.open(daybook.folder)
            take_in(other, "1987.12", source, "Ben", **NEW)
            other.close()
            yield arrival

    monkeypatch.setattr(take, "arrive", arrive)
    with pytest.raises(InputError, match=r"as 1987\.12/1"):
        take_in(daybook, "1987.12", source, "Ada", **NEW)
    assert len(scans(daybook)) == 1
    assert verify(daybook) == []


def test_a_scan_that_comes_again_mirrored_is_recognised(
    daybook: Daybook, tmp_path: Path
) -> None:
    take_in(daybook, "12", picture(tmp_path / "a.tif"), "Ada", **NEW)
    other = picture(tmp_path / "b.jpg", mirrored=True)
    taken = take_in(daybook, "13", other, "Ada", **NEW)
    assert (taken.alike, taken.way) == ("12/1", "reversed")
    third = take_in(daybook, "14", picture(tmp_path / "c.tif", 3), "Ada", **NEW)
    assert third.alike == ""


def test_two_files_of_one_name_both_stay(daybook: Daybook, tmp_path: Path) -> None:
    for number in (1, 2):
        (tmp_path / str(number)).mkdir()
        source = picture(tmp_path / str(number) / "Scan.tif", number)
        take_in(daybook, "12", source, "Ada", **NEW)
    files = {scan.file for scan in scans(daybook)}
    assert files == {"originals/12/Scan.tif", "originals/12/Scan (2).tif"}
    assert [scan.main for scan in scans(daybook)] == [True, False]
    assert verify(daybook) == []


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [
        ("empty.tif", b"", "is empty"),
        ("words.jpg", b"not a picture", "not an image"),
        ("bell\x07.png", None, r"bell\\x07"),
    ],
)
def test_what_is_no_scan_is_refused_by_name_and_nothing_taken(
    daybook: Daybook, tmp_path: Path, name: str, content: bytes | None, told: str
) -> None:
    path = tmp_path / name
    if content is None:
        picture(path)
    else:
        path.write_bytes(content)
    with pytest.raises(InputError, match=told):
        take_in(daybook, "12", path, "Ada", **NEW)
    assert scans(daybook) == []
    with daybook.reading() as session:
        assert session.scalars(select(Plate)).all() == []
    assert not (daybook.folder / "originals" / "12").exists()


def test_an_image_that_lies_about_its_size_is_refused(
    daybook: Daybook, tmp_path: Path
) -> None:
    path = picture(tmp_path / "scan.jpg")
    content = bytearray(path.read_bytes())
    # Height and width stand after a frame header's length and precision:
    # ITU-T T.81, B.2.2.
    place = content.index(b"\xff\xc0") + 5
    content[place : place + 4] = (20_000).to_bytes(2, "big") * 2
    path.write_bytes(content)
    with pytest.raises(PlateError, match=r"scan\.jpg"):
        take_in(daybook, "12", path, "Ada", **NEW)
    assert scans(daybook) == []


def test_a_line_a_million_pixels_wide_is_no_plate(
    daybook: Daybook, tmp_path: Path
) -> None:
    path = tmp_path / "line.png"
    Image.new("L", (1_000_000, 20), 128).save(path)
    with pytest.raises(PlateError, match="1000000 x 20 px"):
        take_in(daybook, "12", path, "Ada", **NEW)


def test_no_plate_is_made_unless_asked_for(daybook: Daybook, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no plate '12'"):
        take_in(daybook, "12", picture(tmp_path / "a.tif"), "Ada")


def test_a_row_that_is_refused_leaves_no_file(daybook: Daybook, tmp_path: Path) -> None:
    source = picture(tmp_path / "a.tif")
    details = ScanDetails(what="a painting")
    with pytest.raises(InputError, match="painting"):
        take_in(daybook, "12", source, "Ada", details=details, **NEW)
    assert list((daybook.folder / "originals").rglob("*.tif")) == []
    assert left_over(daybook) == []


def test_a_full_disk_leaves_nothing_and_is_told(
    daybook: Daybook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    source = picture(tmp_path / "a.tif")

    def full(_handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr("wherestood.daybook.originals.passing.os.fsync", full)
        with pytest.raises(DaybookError, match="no room left"):
            take_in(daybook, "12", source, "Ada", **NEW)
    assert left_over(daybook) == []
    assert scans(daybook) == []
    assert take_in(daybook, "12", source, "Ada", **NEW).address == "12/1"


def test_missing_unknown_and_writable_files_are_found(
    daybook: Daybook, tmp_path: Path
) -> None:
    gone, loose = (
        daybook.path(take_in(daybook, str(n), picture(tmp_path / f"{n}.tif", n), "Ada",
                             **NEW).file)
        for n in (1, 2)
    )  # fmt: skip
    gone.unlink()
    loose.chmod(0o644)
    (daybook.folder / "originals" / "stray.txt").write_text("?", encoding="utf-8")
    found = {finding.trouble: finding for finding in verify(daybook)}
    assert set(found) == {"missing", "writable", "unknown file"}
    assert "scan 1/1" in found["missing"].where
    assert found["missing"].is_serious
    assert not found["unknown file"].is_serious


def test_a_note_about_nothing_is_found(daybook: Daybook) -> None:
    with daybook.writing("Ada") as session:
        session.add(Note(about_table="plates", about_id="0" * 32, words="lost"))
    (finding,) = verify(daybook)
    assert finding.trouble == "reference"


def test_words_that_searches_miss_are_found_and_written_anew(daybook: Daybook) -> None:
    with daybook.writing("Ada") as session:
        session.add_all([Plate(key="1", title="mill"), Plate(key="2", title="weir")])
    with daybook.engine.connect() as connection:
        raw = connection.connection.cursor()
        raw.execute("DELETE FROM words WHERE text LIKE '%mill%'")
        raw.execute("UPDATE words SET text = 'forged' WHERE text LIKE '%weir%'")
        connection.connection.commit()
    (finding,) = verify(daybook)
    assert (finding.trouble, finding.is_serious) == ("words", False)
    assert "2 items" in finding.sentence
    assert mend_words(daybook) == 2
    assert verify(daybook) == []
    with daybook.reading() as session:
        assert [p.key for p in choose(session, Plate, Wanted(words="mill"))] == ["1"]


@pytest.mark.parametrize("reached", ["copied", "promised", "held", "moved"])
def test_what_a_kill_left_is_cleared_up_and_nothing_else(
    daybook: Daybook, tmp_path: Path, reached: str
) -> None:
    kept = take_in(daybook, "1", picture(tmp_path / "1.tif", 1), "Ada", **NEW)
    source = picture(tmp_path / "2.tif", 2)
    home = daybook.folder / "originals"
    dead = f"999999999@{os.uname().nodename}@0"
    place = home / "2" / "2.tif"
    place.parent.mkdir()
    if reached != "moved":
        (home / TAKING_IN / f"{dead}.part").write_bytes(source.read_bytes())
    else:
        place.write_bytes(source.read_bytes())
    if reached == "held":
        place.write_bytes(b"")
    if reached != "copied":
        digest = hashlib.sha256(source.read_bytes()).hexdigest()
        told = json.dumps({"file": "originals/2/2.tif", "sha256": digest})
        (home / TAKING_IN / f"{dead}.json").write_text(told, encoding="utf-8")
    sweep(daybook.folder, lambda file: file == kept.file)
    assert left_over(daybook) == []
    assert not place.exists()
    assert daybook.path(kept.file).exists()
    assert verify(daybook) == []


def test_a_kill_after_the_row_was_written_keeps_the_file(
    daybook: Daybook, tmp_path: Path
) -> None:
    kept = take_in(daybook, "1", picture(tmp_path / "1.tif", 1), "Ada", **NEW)
    told = json.dumps({"file": kept.file, "sha256": kept.sha256})
    dead = f"999999999@{os.uname().nodename}@0"
    promise = daybook.folder / "originals" / TAKING_IN / f"{dead}.json"
    promise.write_text(told, encoding="utf-8")
    take_in(daybook, "2", picture(tmp_path / "2.tif", 2), "Ada", **NEW)
    assert not promise.exists()
    assert verify(daybook) == []
