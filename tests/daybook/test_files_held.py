"""Check that every kind of file goes through a bag and a merge, byte for byte."""

from __future__ import annotations

import hashlib
import json
import shutil
import stat
from pathlib import Path, PurePosixPath

import pytest
from sqlalchemy import select

from wherestood.daybook import Daybook, find
from wherestood.daybook.files_held import FOLDERS, PENDING, files_named
from wherestood.daybook.handover import merge, read_bag, write_bag
from wherestood.daybook.originals import verify
from wherestood.daybook.replay import disagreements
from wherestood.daybook.report_issues import (
    errata_of,
    issue_of,
    issues,
    note_erratum,
    note_recipient,
    withdraw_issue,
)
from wherestood.daybook.tables import Plan, Plate, Scan, Setting, TerrainLayer
from wherestood.daybook.withdraw import withdraw
from wherestood.errors import DaybookError, InputError

# Invented: what files are called, and what they hold.
INSIDE = {
    "scan": "originals/7/mill.tif",
    "plan": "terrain/old plans/rate map.tif",
    "layer": "terrain/layer/heights.tif",
    "report": "reports/report-1/report.html",
    "figure": "reports/report-1/figures/plate.png",
}


def told(held: bytes, file: str) -> dict[str, object]:
    sha256 = hashlib.sha256(held).hexdigest()
    return {"file": file, "sha256": sha256, "size_bytes": len(held)}


def put(folder: Path, file: str, held: bytes) -> dict[str, object]:
    place = folder / file
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_bytes(held)
    place.chmod(0o444)
    return told(held, file)


def issue(book: Daybook, held: bytes) -> None:
    """Keep an issue as `keep_issue` does, of files that hold little."""
    files = [put(book.folder, INSIDE[one], held) for one in ("report", "figure")]
    value = {
        "number": 1, "made": "1926-05-01", "author": "Ada", "title": "The mill",
        "plates": ["7"], "fixes": [], "public": False, "files": files,
        "received": [], "errata": [],
    }  # fmt: skip
    with book.writing("Ada") as session:
        session.add(Setting(key="report-1", value=value))


def fill(book: Daybook, outside: Path) -> None:
    """Give a daybook a file of every kind, within it and left in place."""
    here = {k: put(book.folder, INSIDE[k], k.encode()) for k in INSIDE}
    left = {
        k: put(outside, f"{k}.tif", f"left {k}".encode())
        for k in ("scan", "plan", "layer")
    }
    for k, record in left.items():
        record["file"] = str(outside / f"{k}.tif")
    with book.writing("Ada") as session:
        plate = find(session, Plate, "7")
        for record, kept in ((here, "taken in"), (left, "left in place")):
            session.add(
                Scan(
                    plate_id=plate.id, kept=kept, **record["scan"], main=record is here
                )
            )
            plan = record["plan"]
            session.add(Plan(title=kept, file=plan["file"], sha256=plan["sha256"]))
            session.add(TerrainLayer(kept=kept, files=[record["layer"]], title=kept))
    issue(book, b"the report")


def checksums(book: Daybook) -> list[str]:
    """Return what the files hold that items name, as it is on the disk."""
    with book.reading() as session:
        named = sorted(files_named(session))
    return sorted(
        hashlib.sha256(book.path(one).read_bytes()).hexdigest() for one in named
    )


@pytest.fixture
def alike(empty_daybook: Path, tmp_path: Path):  # type: ignore[no-untyped-def]
    """Return two copies of a daybook with one plate."""
    shutil.copytree(empty_daybook, tmp_path / "ours")
    with Daybook.open(tmp_path / "ours") as book, book.writing("Ada") as session:
        session.add(Plate(key="7", title="The mill"))
    shutil.copytree(tmp_path / "ours", tmp_path / "theirs")
    with (
        Daybook.open(tmp_path / "ours") as one,
        Daybook.open(tmp_path / "theirs") as two,
    ):
        yield one, two


def test_every_kind_of_file_goes_through_a_bag_and_a_merge(
    alike: tuple[Daybook, Daybook], tmp_path: Path
) -> None:
    ours, theirs = alike
    fill(theirs, tmp_path / "outside")
    assert verify(theirs) == []
    before = checksums(theirs)
    assert len(set(before)) == 7  # scan, plan, layer twice; two files of one report
    bag = write_bag(theirs, tmp_path / "bag.zip")
    back = read_bag(bag.path, tmp_path / "back", "Ben")
    assert len(back.brought_in) == 3
    with Daybook.open(back.folder) as again:
        assert verify(again) == []
        assert checksums(again) == before
        report = again.path(INSIDE["report"])
        assert not report.stat().st_mode & stat.S_IWUSR
        merged = merge(ours, again, "Ada")
        note_recipient(again, "report-1", "the archive", "by post", "Ben")
        assert merge(ours, again, "Ada").files == ()
    assert (len(merged.files), merged.outside) == (8, ())
    assert verify(ours) == []
    assert checksums(ours) == before
    with ours.reading() as session:
        assert [one["by"] for one in issue_of(session, "report-1").received] == [
            "the archive"
        ]
    assert write_bag(ours, tmp_path / "bag of both").files == 1 + 8


def test_an_issue_of_the_same_number_comes_to_a_folder_of_its_own(
    alike: tuple[Daybook, Daybook],
) -> None:
    ours, theirs = alike
    issue(ours, b"ours")
    issue(theirs, b"theirs")
    with theirs.reading() as session:
        theirs_id = find(session, Setting, "report-1").id
    merge(ours, theirs, "Ada")
    assert ours.path(INSIDE["report"]).read_bytes() == b"ours"
    with ours.reading() as session:
        other = issue_of(session, session.get_one(Setting, theirs_id).key)
        assert [one.number for one in issues(session)] == [1, 1]
    home = Path("reports/report-1 (2)")
    assert [one["file"] for one in other.files] == [
        (home / "report.html").as_posix(),
        (home / "figures" / "plate.png").as_posix(),
    ]
    assert all(ours.path(one["file"]).read_bytes() == b"theirs" for one in other.files)
    # What becomes of it there changes nothing about where it lies here.
    note_recipient(theirs, "report-1", "the archive", "by post", "Ben")
    merged = merge(ours, theirs, "Ada")
    assert merged.files == ()
    with ours.reading() as session:
        assert issue_of(session, other.key).files == other.files
    assert verify(ours) == []


def test_a_file_in_any_folder_that_no_item_names_is_told(
    alike: tuple[Daybook, Daybook],
) -> None:
    book = alike[0]
    for folder in FOLDERS:
        put(book.folder, f"{folder}/stray.txt", b"invented")
    found = [(one.trouble, one.where) for one in verify(book)]
    assert found == [("unknown file", f"{folder}/stray.txt") for folder in FOLDERS]


def test_nothing_is_handed_over_that_is_still_to_be_deleted(
    alike: tuple[Daybook, Daybook], tmp_path: Path
) -> None:
    book = alike[0]
    put(book.folder, "originals/7/withdrawn.tif", b"withdrawn")
    note = {"act": "invented", "files": ["originals/7/withdrawn.tif"]}
    (book.folder / PENDING).write_text(json.dumps(note), encoding="utf-8")
    with pytest.raises(DaybookError, match="not all of it could be deleted"):
        write_bag(book, tmp_path / "bag")
    assert not (tmp_path / "bag").exists()


def test_the_file_of_an_item_set_aside_may_be_missing_from_a_bag(
    alike: tuple[Daybook, Daybook], tmp_path: Path
) -> None:
    book = alike[0]
    fill(book, tmp_path / "outside")
    (book.folder / INSIDE["plan"]).unlink()
    with pytest.raises(DaybookError, match="set its item aside"):
        write_bag(book, tmp_path / "bag")
    with book.writing("Ada") as session:
        gone = select(Plan).where(Plan.file == INSIDE["plan"])
        session.scalars(gone).one().removed = True
    assert write_bag(book, tmp_path / "bag").files == 8


def test_withdrawing_names_copies_of_the_daybook_and_what_no_layer_names(
    alike: tuple[Daybook, Daybook], tmp_path: Path
) -> None:
    book = alike[0]
    fill(book, tmp_path / "outside")
    put(book.folder, "daybook.sqlite.bak", b"all of it")
    put(book.folder, "terrain/old.sqlite", b"all of it")
    with book.reading() as session:
        plate = find(session, Plate, "7").id
    done = withdraw(book, Plate, plate, person="Ada")
    assert done.beside == ("daybook.sqlite.bak", "terrain/old.sqlite")
    assert done.issued == ("report-1",)
    assert done.files == (INSIDE["scan"],)


def test_an_issue_can_be_taken_back_and_its_number_is_given_to_no_other(
    alike: tuple[Daybook, Daybook], tmp_path: Path
) -> None:
    book, other = alike
    fill(book, tmp_path / "outside")
    note_recipient(book, "report-1", "the county archive", "by post", "Ada")
    note_erratum(book, "report-1", "The fence is old.", "Ada")
    merge(other, book, "Ben")
    one, told = withdraw_issue(book, "report-1", "Ada", "told too much")
    assert told.stubs == ("issued report 'report-1'",)
    assert set(told.files) == {INSIDE["report"], INSIDE["figure"]}
    assert not list((book.folder / "reports").rglob("*.*"))
    assert (one.number, one.title, one.files) == (1, "[withdrawn]", ())
    assert one.received[0]["by"] == "the county archive"
    for path in book.folder.rglob("*"):
        assert not path.is_file() or b"The fence is old" not in path.read_bytes()
    with book.reading() as session:
        assert errata_of(session, ["7"])[0].startswith("report-1: withdrawn on ")
        assert disagreements(session) == []
        assert max(one.number for one in issues(session)) == 1
    with pytest.raises(InputError, match="was withdrawn on"):
        note_erratum(book, "report-1", "more", "Ada")
    merge(other, book, "Ben")
    assert not (other.folder / INSIDE["report"]).exists()
    for each in alike:
        assert [f for f in verify(each) if f.is_serious] == []
        assert write_bag(each, tmp_path / f"{each.folder.name}.bag").lost == ()


def test_what_an_issue_lost_stops_no_bag_and_no_merge_and_is_told(
    alike: tuple[Daybook, Daybook], tmp_path: Path
) -> None:
    book, other = alike
    fill(book, tmp_path / "outside")
    (book.folder / INSIDE["report"]).unlink()
    (book.folder / INSIDE["figure"]).chmod(0o644)
    (book.folder / INSIDE["figure"]).write_bytes(b"another")
    lost = write_bag(book, tmp_path / "bag").lost
    assert [one.split(" is ")[1].split(":")[0] for one in lost] == [
        "gone", "not what it was when it came",
    ]  # fmt: skip
    assert "report.html" in (tmp_path / "bag" / "bag-info.txt").read_text("utf-8")
    back = read_bag(tmp_path / "bag", tmp_path / "back", "Ben")
    serious = sorted(one.trouble for one in back.findings if one.is_serious)
    assert serious == ["changed", "missing"]
    (book.folder / INSIDE["figure"]).unlink()
    merge(other, book, "Ben")
    assert {one.trouble for one in verify(other) if one.is_serious} == {"missing"}


def test_layers_of_two_copies_that_have_one_folder_are_kept_apart(
    alike: tuple[Daybook, Daybook],
) -> None:
    for book, held in zip(alike, (b"low", b"high"), strict=True):
        same = put(book.folder, "terrain/same/same.tif", b"alike")
        record = put(book.folder, "terrain/dem/dem.tif", held)
        with book.writing("Ada") as session:
            session.add(TerrainLayer(kept="taken in", files=[record], title="dem"))
            session.add(TerrainLayer(kept="taken in", files=[same], title="same"))
    ours, theirs = alike
    merge(ours, theirs, "Ada")
    with ours.reading() as session:
        layers = session.scalars(select(TerrainLayer).order_by(TerrainLayer.key)).all()
        homes = [str(PurePosixPath(one.files[0]["file"]).parent) for one in layers]
        both = [one.id for one in layers if one.title == "same"]
    assert sorted(homes) == [
        "terrain/dem", "terrain/dem (2)", "terrain/same", "terrain/same",
    ]  # fmt: skip
    assert verify(ours) == []
    # A file that another layer names too stays.
    assert withdraw(ours, TerrainLayer, both[1], person="Ada").files == ()
    assert verify(ours) == []
