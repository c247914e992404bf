"""Check that a whole daybook goes out as a bag and comes back the same."""

from __future__ import annotations

import csv
import hashlib
import os
import re
import shutil
import sqlite3
import stat
import subprocess
import sys
import zipfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import bagit
import numpy as np
import pytest
from PIL import Image
from sqlalchemy import select

from wherestood.daybook import Daybook
from wherestood.daybook.change_items import add_item, set_aside
from wherestood.daybook.handover import merge, other_copy, read_bag, write_bag
from wherestood.daybook.originals import take_in, verify
from wherestood.daybook.replay import disagreements, table_rows
from wherestood.daybook.tables import (
    ITEMS,
    Decision,
    Fix,
    JournalRow,
    Lead,
    Plan,
    Plate,
    Scan,
)
from wherestood.daybook.withdraw import withdraw
from wherestood.errors import DaybookError, InputError

NewDaybook = Callable[[], Daybook]


def scan(path: Path, seed: int) -> Path:
    tones = np.random.default_rng(seed).integers(0, 255, (12, 16), dtype=np.uint8)
    Image.fromarray(tones).resize((64, 48)).save(path)
    return path


@pytest.fixture
def filled(daybook: Daybook, tmp_path: Path) -> Daybook:
    """Return a daybook with two originals, one left in place, and a lead."""
    one = scan(tmp_path / "Die Mühle 谷.tif", 1)
    take_in(daybook, "1987.12", one, "Ada", new_plate={"title": "The mill"})
    left = scan(tmp_path / "left.tif", 2)
    take_in(daybook, "1987.13", left, "Ada", leave=True, new_plate={})
    with daybook.writing("Ada", "for the rate book") as session:
        session.add(Lead(what="rate book of 1871", state="nothing found"))
    return daybook


def content(daybook: Daybook) -> dict[str, dict[str, dict[str, Any]]]:
    with daybook.reading() as session:
        connection = session.connection()
        return {name: dict(table_rows(connection, name)) for name in ITEMS}


def unlock(folder: Path) -> None:
    for path in folder.rglob("*"):
        if path.is_file():
            path.chmod(0o644)


@pytest.mark.parametrize("name", ["handed over", "handed over.zip"])
def test_a_daybook_comes_back_as_it_went(
    filled: Daybook, tmp_path: Path, name: str
) -> None:
    bagged = write_bag(filled, tmp_path / name)
    assert bagged.plates == 2
    back = read_bag(bagged.path, tmp_path / "back", "Ben")
    assert back.plates == 2
    assert len(back.brought_in) == 1
    with Daybook.open(back.folder) as daybook:
        assert verify(daybook) == []
        before, after = content(filled), content(daybook)
        scans = before.pop("scans"), after.pop("scans")
        assert after == before
        for item_id, row in scans[0].items():
            other = scans[1][item_id]
            same = set(row) - {"file", "kept", "revision"}
            assert {k: row[k] for k in same} == {k: other[k] for k in same}
            original = daybook.path(other["file"])
            assert original.read_bytes() == filled.path(row["file"]).read_bytes()
            assert not original.stat().st_mode & stat.S_IWUSR
        with daybook.reading() as session, filled.reading() as old:
            uids = select(JournalRow.uid).order_by(JournalRow.number)
            journal = old.scalars(uids).all()
            assert session.scalars(uids).all()[: len(journal)] == journal
            assert disagreements(session) == []


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
def test_the_bag_validates_with_another_program(
    filled: Daybook, tmp_path: Path
) -> None:
    """The `bagit` command of the Library of Congress finds the bag valid."""
    bag = write_bag(filled, tmp_path / "bag").path
    assert (bag / "bagit.txt").read_text("utf-8").startswith("BagIt-Version: ")
    command = [sys.executable, "-m", "bagit", "--validate", str(bag)]
    told = subprocess.run(command, capture_output=True, text=True, check=False)
    assert told.returncode == 0, told.stderr
    assert "is valid" in told.stderr
    original = next((bag / "data" / "originals").rglob("*.tif"))
    original.chmod(0o644)
    original.write_bytes(original.read_bytes()[:-1] + b"?")
    told = subprocess.run(command, capture_output=True, text=True, check=False)
    assert told.returncode == 1


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
def test_a_reader_without_the_program_finds_originals_answers_and_decisions(
    filled: Daybook, tmp_path: Path
) -> None:
    """With tools for text, tables and SQLite alone, along the bag's own page."""
    with filled.writing("Ada") as session:
        plate = session.scalars(select(Plate).where(Plate.key == "1987.12")).one()
        fix = Fix(
            plate_id=plate.id, made="2026-12-01T03:00:00Z", verdict="located",
            lon_deg=8.5, lat_deg=46.1, answer={"verdict": "located"},
            words="The camera stood by the mill.",
        )  # fmt: skip
        session.add(fix)
        session.flush()
        session.add(
            Decision(
                plate_id=plate.id, fix_id=fix.id, conclusion="accepted",
                words="=the gable fits", decided_by="Ada",
                decided="2026-12-01T03:10:00Z",
            )
        )  # fmt: skip
    add_item(filled, "leads", {"plate": "1987.12", "what": "stock book",
             "state": "given up", "because": "it was pulped"}, "Ada")  # fmt: skip
    add_item(filled, "dates", {"plate": "1987.12", "of": "not before", "edtf": "1871",
             "words": "the run was let"}, "Ada")  # fmt: skip
    add_item(filled, "evidence", {"kind": "plumb_edge"}, "Ada", address="1987.12/edge")
    set_aside(filled, "evidence", "1987.12/edge", "Ada", "the wall leans")
    bag = write_bag(filled, tmp_path / "bag").path
    page = (bag / "README.txt").read_text("utf-8")
    assert "2 plates, 2 originals and 1 answer" in page
    for line in page.splitlines():
        assert len(line) <= 90
        if line.startswith(("  data/", "  manifest")):
            name = line.split()[0].rstrip("/")
            empty = name in {"data/terrain", "data/reports"}
            assert (bag / name).exists() or empty, name

    def table(name: str) -> list[dict[str, str]]:
        with (bag / name).open(encoding="utf-8-sig", newline="") as file:
            return list(csv.DictReader(file))

    for row in table("originals.csv"):
        held = (bag / row["file"]).read_bytes()
        assert hashlib.sha256(held).hexdigest() == row["sha256"]
    (answer,) = table("fixes.csv")
    assert (answer["plate"], answer["verdict"]) == ("1987.12", "located")
    assert (
        bag / answer["page of words"]
    ).read_text() == "The camera stood by the mill."
    (decided,) = table("decisions.csv")
    assert (decided["about"], decided["concluded"]) == (answer["answer"], "accepted")
    assert decided["why"] == "'=the gable fits"  # no formula in a program for tables
    dated = [row for row in table("dates.csv") if row["date"]]
    told = [
        (one["what was dated"], one["date"], one["in these words"]) for one in dated
    ]
    assert ("not before", "1871", "the run was let") in told
    tried = {(row["how it ended"], row["why"]) for row in table("tried.csv")}
    assert {("given up", "it was pulped"), ("set aside", "the wall leans")} <= tried
    with closing(sqlite3.connect(bag / "data" / "daybook.sqlite")) as database:
        for query in re.findall(r'daybook\.sqlite "(select [^"]+)"', page):
            assert database.execute(query).fetchall(), query
    # What lies beside the data is under the bag's checksums too.
    (bag / "decisions.csv").write_text("nobody decided")
    with pytest.raises(InputError, match="not whole"):
        read_bag(bag, tmp_path / "back", "Ben")


def test_a_changed_file_in_the_bag_is_refused_by_name(
    filled: Daybook, tmp_path: Path
) -> None:
    bag = write_bag(filled, tmp_path / "bag").path
    unlock(bag)
    original = next((bag / "data" / "originals").rglob("*.tif"))
    original.write_bytes(original.read_bytes()[:-1] + b"?")
    with pytest.raises(InputError, match=r"not whole.*Mühle"):
        read_bag(bag, tmp_path / "back", "Ben")
    assert not (tmp_path / "back").exists()
    assert not list(tmp_path.glob(".unbagging-*"))


def test_a_missing_or_added_file_in_the_bag_is_refused(
    filled: Daybook, tmp_path: Path
) -> None:
    bag = write_bag(filled, tmp_path / "bag").path
    (bag / "data" / "stray.txt").write_text("?", encoding="utf-8")
    with pytest.raises(InputError, match="not whole"):
        read_bag(bag, tmp_path / "back", "Ben")
    (bag / "data" / "stray.txt").unlink()
    unlock(bag)
    next((bag / "data" / "originals").rglob("*.tif")).unlink()
    with pytest.raises(InputError, match="not whole"):
        read_bag(bag, tmp_path / "back", "Ben")


def test_a_daybook_whose_original_changed_is_not_handed_over(
    filled: Daybook, tmp_path: Path
) -> None:
    with filled.reading() as session:
        wanted = select(Scan).where(Scan.kept == "taken in")
        original = filled.path(session.scalars(wanted).one().file)
    original.chmod(0o644)
    original.write_bytes(b"?")
    with pytest.raises(DaybookError, match=r"scan 1987\.12/1 is not what it was"):
        write_bag(filled, tmp_path / "bag")
    assert not (tmp_path / "bag").exists()
    assert not list(tmp_path.glob(".bagging-*"))


def test_nothing_is_written_over(filled: Daybook, tmp_path: Path) -> None:
    (tmp_path / "bag").mkdir()
    with pytest.raises(InputError, match="already"):
        write_bag(filled, tmp_path / "bag")
    bag = write_bag(filled, tmp_path / "other").path
    (tmp_path / "back").mkdir()
    (tmp_path / "back" / "mine.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="already"):
        read_bag(bag, tmp_path / "back", "Ben")


def _zip(path: Path, *names: str, link: bool = False) -> Path:
    with zipfile.ZipFile(path, "w") as packed:
        for name in names:
            member = zipfile.ZipInfo(name)
            if link:
                member.external_attr = (stat.S_IFLNK | 0o777) << 16
            packed.writestr(member, b"x")
    return path


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("../climbs.txt", "climbs out"),
        ("bag/../../climbs.txt", "climbs out"),
        ("/etc/climbs.txt", "climbs out"),
        ("C:/climbs.txt", "climbs out"),
        ("bag\\..\\..\\climbs.txt", "climbs out"),
        ("bag/bell\x07.txt", "control character"),
    ],
)
def test_a_zip_that_climbs_out_is_refused(tmp_path: Path, name: str, told: str) -> None:
    packed = _zip(tmp_path / "bag.zip", "bag/bagit.txt", name)
    with pytest.raises(InputError, match=told):
        read_bag(packed, tmp_path / "deep" / "back", "Ben")
    assert sorted(path.name for path in tmp_path.rglob("*")) == ["bag.zip", "deep"]


def test_a_zip_with_a_link_or_one_name_twice_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is a link"):
        read_bag(_zip(tmp_path / "a.zip", "bag/x", link=True), tmp_path / "back", "B")
    with pytest.raises(InputError, match="twice"):
        read_bag(_zip(tmp_path / "b.zip", "bag/x", "bag/X"), tmp_path / "back", "B")


def test_a_zip_that_bursts_is_refused(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "a.zip", "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("bag/data/x", b"\x00" * 30_000_000)
    with pytest.raises(InputError, match="would unpack to 30 MB"):
        read_bag(tmp_path / "a.zip", tmp_path / "back", "Ben")


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
def test_a_bag_whose_list_or_links_climb_out_is_refused(
    filled: Daybook, tmp_path: Path
) -> None:
    secret = tmp_path / "secret.txt"
    secret.write_text("secret", encoding="utf-8")
    bag = write_bag(filled, tmp_path / "bag").path
    manifest = bag / "manifest-sha256.txt"
    plain = manifest.read_text("utf-8")
    manifest.write_text(plain + f"{'0' * 64}  data/../../secret.txt\n", "utf-8")
    with pytest.raises(InputError, match="bag"):
        read_bag(bag, tmp_path / "back", "Ben")
    manifest.write_text(plain, "utf-8")
    (bag / "data" / "link.txt").symlink_to(secret)
    with pytest.raises(InputError, match="holds a link"):
        read_bag(bag, tmp_path / "back", "Ben")
    (bag / "data" / "link.txt").unlink()
    (bag / "fetch.txt").write_text("http://x.test/a 1 data/a\n", encoding="utf-8")
    with pytest.raises(InputError, match="fetched from elsewhere"):
        read_bag(bag, tmp_path / "back", "Ben")
    assert not (tmp_path / "back").exists()


def test_a_folder_that_is_no_bag_is_refused(tmp_path: Path) -> None:
    (tmp_path / "bag").mkdir()
    with pytest.raises(InputError, match="no bag"):
        read_bag(tmp_path / "bag", tmp_path / "back", "Ben")


def test_a_bag_of_something_else_is_refused(tmp_path: Path) -> None:
    (tmp_path / "bag").mkdir()
    (tmp_path / "bag" / "letter.txt").write_text("Dear Ben", encoding="utf-8")
    bagit.make_bag(str(tmp_path / "bag"), checksums=["sha256"])
    with pytest.raises(DaybookError, match="holds no daybook"):
        read_bag(tmp_path / "bag", tmp_path / "back", "Ben")
    shutil.rmtree(tmp_path / "bag")


def _damaged(path: Path, how: int) -> Path:
    with zipfile.ZipFile(path, "w", how) as packed:
        packed.writestr("bag/data/x.txt", "plates " * 2000)
        at = packed.getinfo("bag/data/x.txt").header_offset
    content = bytearray(path.read_bytes())
    content[at + 60 : at + 80] = b"\xff" * 20
    path.write_bytes(content)
    return path


@pytest.mark.parametrize("how", [zipfile.ZIP_DEFLATED, zipfile.ZIP_LZMA])
def test_a_zip_that_is_damaged_within_is_refused_by_the_file(
    tmp_path: Path, how: int
) -> None:
    with pytest.raises(InputError, match=r"damaged: 'bag/data/x\.txt'"):
        read_bag(_damaged(tmp_path / "a.zip", how), tmp_path / "back", "Ben")
    assert [path.name for path in tmp_path.iterdir()] == ["a.zip"]


@pytest.mark.parametrize(
    ("names", "told"),
    [
        (["."], "is no name"),
        (["bag/a", "bag/a/b"], "'bag/a/b', which cannot be unpacked beside the rest"),
        (["bag/a/b", "bag/a"], "'bag/a', which cannot be unpacked beside the rest"),
        (["bag/" + "n" * 300], "nnn', which cannot be unpacked"),
        (["bag/M\u00fchle", "bag/Mu\u0308hle"], "twice"),
        ([], "holds no bag"),
    ],
)
def test_a_zip_with_odd_names_or_none_is_refused(
    tmp_path: Path, names: list[str], told: str
) -> None:
    with pytest.raises(InputError, match=told):
        read_bag(_zip(tmp_path / "a.zip", *names), tmp_path / "back", "Ben")
    assert [path.name for path in tmp_path.iterdir()] == ["a.zip"]


def _forge(daybook: Daybook, statement: str) -> None:
    """Change a row as only somebody who means harm does."""
    with daybook.engine.begin() as connection:
        raw = connection.connection.driver_connection
        assert raw is not None
        raw.execute(statement)


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
@pytest.mark.parametrize("file", ["../secret.txt", "originals/../../secret.txt", None])
def test_a_daybook_whose_rows_lead_out_of_it_is_refused(
    filled: Daybook, tmp_path: Path, file: str | None
) -> None:
    """Neither a bag made of it nor a copy to be merged reaches another file."""
    secret = tmp_path / "secret.txt"
    secret.write_text("secret", encoding="utf-8")
    leading = file or str(secret)
    copy = tmp_path / "copy" / "deep"
    shutil.copytree(filled.folder, copy)
    with Daybook.open(copy) as other:
        _forge(other, f"UPDATE scans SET file = '{leading}' WHERE kept = 'taken in'")
    with Daybook.open(copy) as other:
        found = {(one.trouble, one.where) for one in verify(other)}
        assert ("outside", "scan 1987.12/1") in found
        with pytest.raises((DaybookError, InputError), match="outside"):
            write_bag(other, tmp_path / "bag")
        with pytest.raises(InputError, match="outside"), other.writing("Ada") as s:
            s.add(Plan(title="rate map", file="../rates.tif"))
    with Daybook.open(copy) as other:
        made = tmp_path / "empty"
        with Daybook.create(made) as ours:
            with pytest.raises(InputError, match=r"scan '1' names the file .* outside"):
                merge(ours, other, "Ada", unrelated=True)
            assert not verify(ours)
    assert secret.read_text(encoding="utf-8") == "secret"
    assert not list(tmp_path.glob("secret (2)*"))


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
def test_a_bag_that_says_more_than_a_daybook_is_refused(
    filled: Daybook, tmp_path: Path
) -> None:
    """An address of a server's database would be followed on opening it."""
    bag = write_bag(filled, tmp_path / "bag").path
    data = tmp_path / "forged"
    shutil.copytree(bag / "data", data)
    (data / "daybook.url").write_text("postgresql+psycopg://x@y/z\n", encoding="utf-8")
    bagit.make_bag(str(data), checksums=["sha256"])
    with pytest.raises(InputError, match=r"'data/daybook\.url'"):
        read_bag(data, tmp_path / "back", "Ben")


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
def test_a_plan_outside_the_daybook_comes_along_in_the_bag(
    daybook: Daybook, tmp_path: Path
) -> None:
    plan = tmp_path / "rate map.tif"
    plan.write_bytes(b"invented")
    with daybook.writing("Ada") as session:
        sha256 = hashlib.sha256(b"invented").hexdigest()
        session.add(Plan(title="rate map", file=str(plan), sha256=sha256))
    bag = write_bag(daybook, tmp_path / "bag")
    assert bag.files == 2
    plan.unlink()
    back = read_bag(bag.path, tmp_path / "back", "Ben")
    with Daybook.open(back.folder) as other, other.reading() as session:
        kept = session.scalars(select(Plan)).one()
        assert kept.file == "terrain/old plans/rate map.tif"
        assert other.path(kept.file).read_bytes() == b"invented"
        assert verify(other) == []


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
def test_folders_are_forced_to_the_disk_before_a_bag_or_an_original_counts(
    daybook: Daybook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file is there after a power cut if its folder was forced after it came."""
    done: list[tuple[str, Path]] = []
    forced, replaced = os.fsync, os.replace

    def force(handle: int) -> None:
        done.append(("forced", Path(f"/proc/self/fd/{handle}").readlink()))
        forced(handle)

    def replace(source: Any, target: Any) -> None:
        replaced(source, target)
        done.append(("moved", Path(target)))

    monkeypatch.setattr(os, "fsync", force)
    monkeypatch.setattr(os, "replace", replace)
    one = scan(tmp_path / "mill.tif", 1)
    take_in(daybook, "1987.12", one, "Ada", new_plate={"title": "The mill"})
    assert ("forced", daybook.folder / "originals") in done
    assert ("forced", daybook.folder / "originals" / "1987.12") in done
    done.clear()
    bag = write_bag(daybook, tmp_path / "given" / "bag").path
    moved = done.index(("moved", bag))
    assert ("forced", tmp_path) in done[:moved]  # in which given is new
    kinds = [path.name for what, path in done[:moved] if what == "forced"]
    assert {"data", "1987.12", "manifest-sha256.txt", "bagit.txt"} <= set(kinds)
    assert ("forced", bag.parent) in done[moved:]
    done.clear()
    back = read_bag(bag, tmp_path / "back", "Ben").folder
    assert ("forced", tmp_path) in done[done.index(("moved", back)) :]


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
@pytest.mark.parametrize(
    "planted",
    [
        "CREATE TRIGGER t AFTER INSERT ON notes BEGIN UPDATE plates SET title='x'; END",
        "CREATE TABLE hidden (words TEXT)",
        "CREATE VIEW v AS SELECT 1",
        "CREATE INDEX i ON plates (lower(title))",
    ],
)
def test_a_bag_with_more_in_its_database_than_a_daybook_is_refused(
    daybook: Daybook, tmp_path: Path, planted: str
) -> None:
    with daybook.writing("Ada") as session:
        session.add(Lead(what="rate book", state="to do"))
    bag = write_bag(daybook, tmp_path / "bag").path
    raw = sqlite3.connect(bag / "data" / "daybook.sqlite")
    raw.execute(planted)
    raw.commit()
    raw.close()
    bagit.Bag(str(bag)).save(manifests=True)
    with pytest.raises(DaybookError, match="as none does"):
        read_bag(bag, tmp_path / "back", "Ben")
    assert not (tmp_path / "back").exists()


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
def test_merging_a_bag_of_the_same_daybook_changes_nothing(
    filled: Daybook, tmp_path: Path
) -> None:
    """Files that were left in place stay where they are."""
    bag = write_bag(filled, tmp_path / "bag").path
    before = content(filled)
    for _ in range(2):
        with other_copy(bag, "Ben", filled) as theirs:
            assert merge(filled, theirs, "Ben").acts == 0
    assert content(filled) == before
    assert not list(tmp_path.glob(".merging-*"))


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
def test_a_copy_that_is_merged_from_is_not_changed(
    filled: Daybook, tmp_path: Path
) -> None:
    """An older one neither: it is brought up to date in memory alone."""
    schemas = Path(__file__).with_name("schemas")
    other = tmp_path / "older"
    (other / "out").mkdir(parents=True)
    (other / "out" / "mine.txt").write_text("mine")
    (other / "withdrawal-pending.json").write_text('{"act": "0", "files": []}')
    raw = sqlite3.connect(other / "daybook.sqlite")
    raw.executescript((schemas / "1.sql").read_text(encoding="utf-8"))
    raw.close()
    before = {path: path.read_bytes() for path in other.rglob("*") if path.is_file()}
    with other_copy(other, "Ben", filled) as theirs, theirs.reading() as session:
        assert session.scalars(select(JournalRow.seal)).all()[0]
    assert before == {
        path: path.read_bytes() for path in other.rglob("*") if path.is_file()
    }


def test_a_withdrawn_file_that_is_there_again_goes_into_no_bag(
    filled: Daybook, tmp_path: Path
) -> None:
    """As a service puts it back that keeps two folders alike."""
    with filled.reading() as session:
        scan = session.scalars(select(Scan).where(Scan.kept == "taken in")).one()
    held = filled.path(scan.file).read_bytes()
    withdraw(filled, Scan, scan.id, person="Ada")
    again = filled.folder / "originals" / "again.tif"
    again.write_bytes(held)
    (found,) = [one for one in verify(filled) if one.is_serious]
    assert found.trouble == "withdrawn"
    with pytest.raises(DaybookError, match="was withdrawn with scan"):
        write_bag(filled, tmp_path / "bag")
    assert not (tmp_path / "bag").exists()
