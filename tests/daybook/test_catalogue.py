"""Check that catalogues come in and go out; all entries are invented."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from sqlalchemy import func, select

from wherestood.daybook import Daybook, find
from wherestood.daybook.catalogue import (
    CataloguePlan,
    catalogue_rows,
    plan_for,
    read_dublin_core,
    remembered_columns,
    take_catalogue,
    take_folder,
    write_dublin_core,
)
from wherestood.daybook.catalogue.columns import tell_columns
from wherestood.daybook.catalogue.dublin_core import COLUMNS, dublin_core_cells
from wherestood.daybook.catalogue.give import GIVEN_COLUMNS
from wherestood.daybook.originals import verify
from wherestood.daybook.sheets import Sheet, read_sheet
from wherestood.daybook.sheets.write import write_sheet
from wherestood.daybook.tables import JournalRow, Maker, Plate, Right, Scan
from wherestood.errors import InputError

TEXT = """Accession number,Title,Photographer,Date,Location,Subject,Medium,Rights,Shelf
1987.12,The mill,Ada Moss,May 1898,Oxbow,mill; river,Dry plate negative,No known,B 3
1987.13,"The ""new"" road",Ada Moss,c. 1900,Oxbow,,Albumen print,,B 4
0014,Dam,Ben Fell,,,,Collotype,,
"""


def table(path: Path, text: str = TEXT) -> Sheet:
    path.write_text(text, encoding="utf-8")
    return read_sheet(path)


def planned(
    daybook: Daybook, sheet: Sheet, change: bool = False, **told: str
) -> CataloguePlan:
    with daybook.reading() as session:
        columns = tell_columns(
            sheet.columns, told, remembered_columns(session, sheet.columns)
        )
        return plan_for(session, sheet, columns, change=change)


def take(daybook: Daybook, sheet: Sheet, change: bool = False) -> CataloguePlan:
    plan = planned(daybook, sheet, change)
    take_catalogue(daybook, plan, sheet.columns, "Ada", "the register")
    return plan


def given(daybook: Daybook) -> list[dict[str, str]]:
    with daybook.reading() as session:
        return list(catalogue_rows(session))


def test_rows_become_plates_makers_and_rights_in_one_act(
    daybook: Daybook, tmp_path: Path
) -> None:
    plan = take(daybook, table(tmp_path / "a.csv"))
    assert plan.count("add") == 3
    with daybook.reading() as session:
        mill = session.scalars(select(Plate).where(Plate.key == "1987.12")).one()
        assert mill.date_words == "May 1898"
        assert mill.subjects == ["mill", "river"]
        assert mill.process == "glass negative"
        assert mill.catalogue is not None
        assert mill.catalogue["Shelf"] == "B 3"
        names = sorted(session.scalars(select(Maker.name)))
        assert names == ["Ada Moss", "Ben Fell"]
        assert session.scalars(select(Right.terms)).all() == ["No known"]
        collotype = session.scalars(select(Plate).where(Plate.key == "0014")).one()
        assert collotype.process is None
        assert collotype.catalogue is not None
        assert collotype.catalogue["Medium"] == "Collotype"
        assert len(set(session.scalars(select(JournalRow.act)))) == 1
    assert verify(daybook) == []


def test_a_plan_changes_nothing(daybook: Daybook, tmp_path: Path) -> None:
    plan = planned(daybook, table(tmp_path / "a.csv"))
    assert plan.count("add") == 3
    with daybook.reading() as session:
        assert session.scalar(select(func.count()).select_from(JournalRow)) == 0


def test_the_same_file_again_changes_nothing(daybook: Daybook, tmp_path: Path) -> None:
    sheet = table(tmp_path / "a.csv")
    take(daybook, sheet)
    with daybook.reading() as session:
        before = session.scalar(select(func.count()).select_from(JournalRow))
    again = take(daybook, sheet)
    assert again.count("same") == 3
    with daybook.reading() as session:
        assert session.scalar(select(func.count()).select_from(JournalRow)) == before


def test_a_row_that_differs_is_refused_or_changes_by_leave(
    daybook: Daybook, tmp_path: Path
) -> None:
    take(daybook, table(tmp_path / "a.csv"))
    changed = TEXT.replace("The mill", "The old mill").replace("B 3", "C 1")
    changed = changed.replace("c. 1900", "")
    sheet = table(tmp_path / "a.csv", changed)
    plan = planned(daybook, sheet)
    (refusal,) = plan.refused
    assert refusal.where == "row 2"
    assert "differs in: Shelf, title" in refusal.why
    plan = take(daybook, sheet, change=True)
    assert plan.entries[0].changes == {
        "title": ("The mill", "The old mill"),
        "Shelf": ("B 3", "C 1"),
    }
    rows = {row["accession number"]: row for row in given(daybook)}
    assert rows["1987.12"]["title"] == "The old mill"
    # An empty cell says nothing.
    assert rows["1987.13"]["date"] == "c. 1900"


@pytest.mark.parametrize(
    ("row", "told"),
    [
        (",Nameless,,,,,,,", "no accession number"),
        ("1987.12,Again,,,,,,,", "stands in row 2 already"),
        ("1,too,many,cells,here,,,,,x", "has 10 cells"),
        (f"{'9' * 300},Long,,,,,,,", "300 letters long"),
        ("7\x01,Bell,,,,,,,", "control character U+0001"),
    ],
)
def test_a_row_that_cannot_be_taken_is_told_and_the_others_are(
    daybook: Daybook, tmp_path: Path, row: str, told: str
) -> None:
    plan = take(daybook, table(tmp_path / "a.csv", TEXT + row + "\n"))
    assert plan.count("add") == 3
    (refusal,) = plan.refused
    assert refusal.where == "row 5"
    assert told in refusal.why
    assert len(given(daybook)) == 3


def test_rows_that_are_refused_are_told_in_the_order_of_the_file(
    daybook: Daybook, tmp_path: Path
) -> None:
    """Some are refused in reading the file, others in comparing it."""
    more = "1987.12,Again,,,,,,,\n5,too,many,cells,here,,,,,x\n,Nameless,,,,,,,\n"
    plan = planned(daybook, table(tmp_path / "a.csv", TEXT + more))
    assert [one.where for one in plan.refused] == ["row 5", "row 6", "row 7"]


def test_a_mark_of_doubt_names_no_maker(daybook: Daybook, tmp_path: Path) -> None:
    take(daybook, table(tmp_path / "a.csv", TEXT + "15,Weir,?,,,,,,\n"))
    with daybook.reading() as session:
        assert set(session.scalars(select(Maker.name))) == {"Ada Moss", "Ben Fell"}
        plate = find(session, Plate, "15")
        assert (plate.maker_id, plate.catalogue["Photographer"]) == (None, "?")


def test_what_columns_mean_is_told_once(daybook: Daybook, tmp_path: Path) -> None:
    text = "Signatur,Titel,Fotograf\nP 7,Die Mühle,Jörg Fell\n"
    sheet = table(tmp_path / "a.csv", text)
    with pytest.raises(InputError, match="accession number"):
        planned(daybook, sheet)
    plan = planned(daybook, sheet, Signatur="key", Titel="title", Fotograf="maker")
    take_catalogue(daybook, plan, sheet.columns, "Ada")
    more = table(tmp_path / "b.csv", text.replace("P 7", "P 8"))
    assert take(daybook, more).count("add") == 1
    assert [row["maker"] for row in given(daybook)] == ["Jörg Fell"] * 2


@pytest.mark.parametrize("suffix", [".csv", ".xlsx"])
def test_what_goes_out_comes_in_unchanged(
    daybook: Daybook, new_daybook: Any, tmp_path: Path, suffix: str
) -> None:
    take(daybook, table(tmp_path / "a.csv"))
    path = tmp_path / f"out{suffix}"
    rows = [[row[c] for c in GIVEN_COLUMNS] for row in given(daybook)]
    write_sheet(path, GIVEN_COLUMNS, rows)
    assert planned(daybook, read_sheet(path)).count("same") == 3
    other = new_daybook()
    assert take(other, read_sheet(path)).count("add") == 3
    assert given(other) == given(daybook)


def test_dublin_core_goes_out_and_comes_in(
    daybook: Daybook, new_daybook: Any, tmp_path: Path
) -> None:
    take(daybook, table(tmp_path / "a.csv"))
    path = tmp_path / "out.xml"
    assert write_dublin_core(path, given(daybook)) == 3
    other = new_daybook()
    take(other, read_dublin_core(path))
    kept = ("accession number", "title", "maker", "date", "place", "subjects", "rights")
    for one, same in zip(given(daybook), given(other), strict=True):
        assert {k: one[k] for k in kept} == {k: same[k] for k in kept}


@pytest.mark.parametrize("name", ["out.xml", "out.csv"])
def test_dublin_core_that_went_out_is_known_again_as_the_same(
    daybook: Daybook, tmp_path: Path, name: str
) -> None:
    full = (
        "accession number,title,description,note,inscription,held by,collection,"
        "negative number,process,size,place,licence,credit\n"
        "1987.12,The mill,By the weir,Torn,A.M. 12,Museum Kern,Moss,N 7,Albumen print,"
        "half plate,Oxbow,CC BY,Moss family\n"
        "1987.13,Dam,,,,,,,,,,,\n"
    )
    take(daybook, table(tmp_path / "a.csv", full))
    path = tmp_path / name
    if path.suffix == ".xml":
        write_dublin_core(path, given(daybook))
        sheet = read_dublin_core(path)
    else:
        cells = [dublin_core_cells(row) for row in given(daybook)]
        write_sheet(path, COLUMNS, [[one[c] for c in COLUMNS] for one in cells])
        sheet = read_sheet(path)
    plan = planned(daybook, sheet)
    assert plan.refused == ()
    assert plan.count("same") == 2
    with daybook.writing("Ada") as session:
        session.scalars(
            select(Plate).where(Plate.key == "1987.12")
        ).one().note = "Mended"
    (refusal,) = planned(daybook, sheet).refused
    assert refusal.what == "1987.12"


def test_dublin_core_is_what_the_standard_writes(
    daybook: Daybook, tmp_path: Path
) -> None:
    take(daybook, table(tmp_path / "a.csv"))
    path = tmp_path / "out.xml"
    write_dublin_core(path, given(daybook))
    text = path.read_text(encoding="utf-8")
    assert 'xmlns:dc="http://purl.org/dc/elements/1.1/"' in text
    assert "<dc:identifier>1987.12</dc:identifier>" in text
    assert "<dc:subject>river</dc:subject>" in text


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("<a", "no XML"),
        ("<a/>", "no Dublin Core"),
        ('<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>', "entities"),
    ],
)
def test_bad_dublin_core_is_refused_by_name(
    tmp_path: Path, text: str, told: str
) -> None:
    path = tmp_path / "a.xml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=told):
        read_dublin_core(path)


def scan(path: Path, seed: int, xmp: str = "") -> Path:
    """Write a small invented scan with words inside."""
    tones = np.random.default_rng(seed).integers(0, 255, (24, 32), dtype=np.uint8)
    large = Image.fromarray(tones).resize((128, 96))
    large.save(path, **({"xmp": xmp.encode("utf-8")} if xmp else {}))
    return path


XMP = (
    '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF '
    'xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description '
    'xmlns:dc="http://purl.org/dc/elements/1.1/" dc:identifier="1987.12" '
    'dc:title="The mill" dc:creator="Ada Moss" dc:rights="No known"/></rdf:RDF>'
    "</x:xmpmeta>"
)


def test_a_folder_of_scans_comes_in_with_the_words_inside(
    daybook: Daybook, tmp_path: Path
) -> None:
    folder = tmp_path / "scans"
    (folder / "deep").mkdir(parents=True)
    scan(folder / "a.jpg", 1, XMP)
    scan(folder / "deep" / "P 7.png", 2)
    (folder / "broken.tif").write_bytes(b"II*\x00 and no more")
    (folder / "notes.txt").write_text("not a scan", encoding="utf-8")
    scan(folder / ".hidden.jpg", 3)
    would = take_folder(daybook, folder, "Ada", dry_run=True)
    assert would.taken == ()
    assert would.would_take == (("a.jpg", "1987.12"), ("deep/P 7.png", "P 7"))
    assert would.new_plates == ("1987.12", "P 7")
    found = take_folder(daybook, folder, "Ada")
    assert found.new_plates == ("1987.12", "P 7")
    assert [one.address for one in found.taken] == ["1987.12/1", "P 7/1"]
    assert [one.where for one in found.refused] == ["broken.tif"]
    row = given(daybook)[0]
    assert (row["title"], row["maker"], row["rights"], row["file"]) == (
        "The mill",
        "Ada Moss",
        "No known",
        "a.jpg",
    )
    would = take_folder(daybook, folder, "Ada", dry_run=True)
    assert (would.would_take, would.new_plates) == ((), ())
    again = take_folder(daybook, folder, "Ada")
    assert again.taken == ()
    assert "byte for byte" in again.refused[0].why
    assert verify(daybook) == []


def test_a_folder_s_scans_go_to_the_plates_a_catalogue_names(
    daybook: Daybook, tmp_path: Path
) -> None:
    folder = tmp_path / "scans"
    folder.mkdir()
    scan(folder / "DSC001.JPG", 1)
    take(daybook, table(tmp_path / "a.csv"))
    plates = {"dsc001.jpg": "1987.13"}
    found = take_folder(daybook, folder, "Ada", plates=plates, leave=True)
    assert found.taken[0].address == "1987.13/1"
    with daybook.reading() as session:
        assert session.scalars(select(Scan.kept)).all() == ["left in place"]
    shutil.rmtree(folder)
    assert [finding.trouble for finding in verify(daybook)] == ["missing"]
