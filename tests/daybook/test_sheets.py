"""Check reading and writing of tables."""

from __future__ import annotations

import csv
import datetime
import io
import re
import shutil
import subprocess
import zipfile
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.chart import BarChart

from wherestood.daybook.sheets import read_sheet
from wherestood.daybook.sheets.write import write_sheet
from wherestood.errors import InputError

COLUMNS = ("number", "title", "maker")
# What spreadsheets like to change: invented values of the trade.
HARD_ROWS = (
    ("1987.10", "Die Mühle, von der Brücke", "Ada Moss"),
    ("0012", 'The "new" road', "=1+1"),
    ("1/2", "two\nlines", "+64 3 477"),
    ("1898-05-01", "谷の水車", "TRUE"),
    ("12345678901234567890", "1e5", "-5"),
    ("May 1898", "a;b\tc|d", "@home"),
)


def _csv(path: Path, text: str, encoding: str = "utf-8") -> Path:
    path.write_bytes(text.encode(encoding))
    return path


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252", "latin-1"]
)
def test_csv_of_any_delimiter_and_encoding_is_read(
    tmp_path: Path, delimiter: str, encoding: str
) -> None:
    rows = [
        ("1", "Die Mühle unter der Brücke", "Jörg Müller"),
        ("2", "Straße nach Süden, früh am Tag", "Ada Moß"),
        ("3", "Größere Häuser am Fluß", "Jürg Fell"),
    ]
    stream = io.StringIO()
    csv.writer(stream, delimiter=delimiter).writerows([COLUMNS, *rows])
    sheet = read_sheet(_csv(tmp_path / "a.csv", stream.getvalue(), encoding))
    assert sheet.columns == COLUMNS
    assert [tuple(row.values.values()) for row in sheet.rows] == rows
    assert sheet.refused == ()


def test_rows_are_numbered_as_a_spreadsheet_numbers_them(tmp_path: Path) -> None:
    text = 'a,b\n1,"x\ny"\n\n2,z\n3\n"4"?,5\n'
    sheet = read_sheet(_csv(tmp_path / "a.csv", text))
    assert [row.number for row in sheet.rows] == [2, 4]
    assert [(one.where, one.what) for one in sheet.refused] == [
        ("row 5", "3"),
        ("row 6 (line 7)", '4"?'),
    ]


# Invented words that no encoding but the right one spells so.
DOUBTFUL = {
    "cp1252": "Señor Núñez;Søren ved åen;La fenêtre à côté",
    "mac-roman": "Señor Núñez",
    "cp1250": "Žďár nad Sázavou;Dvořák",
    "iso8859-2": "Žďár nad Sázavou;Dvořák",
    "cp1251": "Долина моя;мельница",
    "cp932": "谷の水車;山田太郎",
}


@pytest.mark.parametrize("encoding", sorted(DOUBTFUL))
def test_letters_that_several_encodings_read_otherwise_are_asked_for(
    tmp_path: Path, encoding: str
) -> None:
    words = DOUBTFUL[encoding].split(";")
    lines = "".join(f"{n},{word}\n" for n, word in enumerate(words))
    path = _csv(tmp_path / "a.csv", f"a,b\n{lines}", encoding)
    with pytest.raises(InputError, match="are not in UTF-8") as raised:
        read_sheet(path)
    told = raised.value.problem
    assert "'a.csv'" in told
    assert f"{encoding} (" in told
    assert any(word in told for word in " ".join(words).split())
    assert "--encoding" in raised.value.remedy
    sheet = read_sheet(path, encoding=encoding)
    assert [row.values["b"] for row in sheet.rows] == words


def test_letters_late_in_a_large_file_are_asked_for_too(tmp_path: Path) -> None:
    """The first of them is past the first million bytes."""
    plain = f"x,{'plain' * 200}\n" * 1100
    path = _csv(tmp_path / "a.csv", f"a,b\n{plain}1,Señor\n", "cp1252")
    with pytest.raises(InputError, match="Señor"):
        read_sheet(path)


def test_western_letters_are_offered_first(tmp_path: Path) -> None:
    path = _csv(tmp_path / "a.csv", "a,b\n1,Señor Núñez\n", "cp1252")
    with pytest.raises(InputError, match="--encoding cp1252;"):
        read_sheet(path)
    # An encoding that makes control characters of letters is none of those offered.
    path = _csv(tmp_path / "b.csv", "a,b\n1,Lœwe på Røros\n", "cp1252")
    with pytest.raises(InputError, match="are not in UTF-8") as raised:
        read_sheet(path)
    assert raised.value.problem.isprintable()


@pytest.mark.parametrize("encoding", ["mac-roman", "cp850"])
def test_letters_that_one_encoding_alone_reads_are_read(
    tmp_path: Path, encoding: str
) -> None:
    path = _csv(tmp_path / "a.csv", "a,b\n1,Müllers Häuser\n", encoding)
    sheet = read_sheet(path)
    assert sheet.rows[0].values["b"] == "Müllers Häuser"
    assert f"read as {encoding}" in sheet.notes[0]
    assert "Müllers" in sheet.notes[0]


def test_two_encodings_in_one_file_are_refused_by_row_and_cell(tmp_path: Path) -> None:
    lines = [b"a,b", "1,Größe Müller".encode(), "2,Müller".encode("cp1252")]
    (tmp_path / "a.csv").write_bytes(b"\n".join(lines))
    with pytest.raises(InputError, match=r"row 2, cell 2 .* row 3, cell 2"):
        read_sheet(tmp_path / "a.csv")


def test_an_encoding_that_is_none_or_not_the_files_is_said(tmp_path: Path) -> None:
    path = _csv(tmp_path / "a.csv", "a,b\n1,Mühle\n", "cp1252")
    with pytest.raises(InputError, match="no encoding called 'ansi-west'"):
        read_sheet(path, encoding="ansi-west")
    with pytest.raises(InputError, match="line 2 holds a byte"):
        read_sheet(path, encoding="utf-8")


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("1,2,3", "has 3 cells where the first row names 2"),
        ("1", "has 1 cells where the first row names 2"),
        ('"a"b,2', "follows a closing quotation mark"),
        ("bell\x07,2", r"control character U\+0007"),
        ("nul\x00,2", r"control character U\+0000"),
        (f"1,{'x' * 200_000}", "too many to be one"),
    ],
)
def test_a_bad_row_is_refused_by_name_and_the_others_taken(
    tmp_path: Path, line: str, told: str
) -> None:
    sheet = read_sheet(_csv(tmp_path / "a.csv", f"a,b\n5,6\n{line}\n7,8\n"))
    assert [row.values["a"] for row in sheet.rows] == ["5", "7"]
    (refusal,) = sheet.refused
    assert refusal.where == "row 3"
    assert re.search(told, refusal.why)


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "is empty"),
        (b"a,a\n1,2\n", "two columns called 'a'"),
        (b'a,b\n1,"open\n2,3\n', r"row 2 \(line 2\) is never closed"),
        (b"\xff\xfea", "begins as utf-16"),
        (bytes(range(128, 256)) * 4, "encoding"),
    ],
)
def test_a_file_whose_rows_cannot_be_told_apart_is_refused(
    tmp_path: Path, content: bytes, told: str
) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(content)
    with pytest.raises(InputError, match=told):
        read_sheet(path)


def test_a_workbook_is_read_as_a_person_reads_it(tmp_path: Path) -> None:
    book = Workbook()
    table = book.active
    table.append(["number", "when", "kept"])
    table.append([12, datetime.datetime(1898, 5, 1), True])
    table.append([1987.5, datetime.datetime(1898, 5, 1, 12, 30), None])
    book.create_sheet("others")
    book.save(tmp_path / "a.xlsx")
    sheet = read_sheet(tmp_path / "a.xlsx")
    assert [tuple(row.values.values()) for row in sheet.rows] == [
        ("12", "1898-05-01", "yes"),
        ("1987.5", "1898-05-01 12:30:00", ""),
    ]
    assert sheet.notes[1] == "other sheets left alone: others"


@pytest.mark.parametrize(
    ("number", "form", "shown"),
    [
        (1987.1, "0.00", "1987.10"),
        (7, "0000", "0007"),
        (12, '"K-"00000', "K-00012"),
        (1987.5, "General", "1987.5"),
        (1987, "#,##0", "1987"),
        (0.1 + 0.2, "0.0", "0.3"),
        (0.5, "0%", "50%"),
        (-3, "0;(0)", "(3)"),
        (datetime.datetime(1898, 5, 1), "yyyy", "1898"),
        (datetime.datetime(1898, 5, 1), "mmm yyyy", "1898-05"),
        (datetime.datetime(1898, 5, 1), "dd.mm.yyyy", "1898-05-01"),
    ],
)
def test_a_number_is_read_as_its_cell_shows_it(
    tmp_path: Path, number: Any, form: str, shown: str
) -> None:
    """What a spreadsheet shows for each form (ECMA-376-1:2016, 18.8.31)."""
    book = Workbook()
    book.active.append(["number"])
    cell = book.active.cell(2, 1, number)
    cell.number_format = form
    book.save(tmp_path / "a.xlsx")
    (row,) = read_sheet(tmp_path / "a.xlsx").rows
    assert row.values["number"] == shown


@pytest.mark.parametrize(
    ("number", "form"), [(12.345, "0.0"), (12.5, "# ?/?"), (1500, "0.00E+00")]
)
def test_a_number_that_shows_less_than_it_is_is_refused_by_its_cell(
    tmp_path: Path, number: float, form: str
) -> None:
    book = Workbook()
    book.active.append(["number", "size"])
    book.active.append(["1987.12", number])
    book.active.cell(2, 2).number_format = form
    book.active.append(["1987.13", 3])
    book.save(tmp_path / "a.xlsx")
    sheet = read_sheet(tmp_path / "a.xlsx")
    (refused,) = sheet.refused
    assert (refused.where, refused.what) == ("row 2", "1987.12")
    assert f"cell B2 holds the number {number}" in refused.why
    assert [row.values["size"] for row in sheet.rows] == ["3"]


def test_a_formula_without_its_result_is_refused_by_its_cell(tmp_path: Path) -> None:
    book = Workbook()
    book.active.append(["number", "title"])
    book.active.append(["1987.13", '="a"&"b"'])
    book.active.append(["1987.14", "plain"])
    book.active.append(["1987.15", "=A1"])
    book.save(tmp_path / "written.xlsx")
    # As a spreadsheet saves it: one result of words, which is empty.
    with (
        zipfile.ZipFile(tmp_path / "written.xlsx") as old,
        zipfile.ZipFile(tmp_path / "a.xlsx", "w") as new,
    ):
        for member in old.namelist():
            content = old.read(member)
            if member.endswith("sheet1.xml"):
                content, count = re.subn(
                    rb'<c r="B4"([^>]*)>(<f>A1</f>)<v ?/?>(</v>)?',
                    rb'<c r="B4" t="str">\2<v></v>',
                    content,
                )
                assert count == 1
            new.writestr(member, content)
    sheet = read_sheet(tmp_path / "a.xlsx")
    assert [(one.where, one.what) for one in sheet.refused] == [("row 2", "1987.13")]
    assert "cell B2 holds a formula without its result" in sheet.refused[0].why
    assert [row.values["title"] for row in sheet.rows] == ["plain", ""]


def test_a_chart_before_the_cells_is_passed_over(tmp_path: Path) -> None:
    book = Workbook()
    book.active.append(["number"])
    book.active.append(["1987.12"])
    book.create_chartsheet("picture", 0).add_chart(BarChart())
    book.save(tmp_path / "a.xlsx")
    sheet = read_sheet(tmp_path / "a.xlsx")
    assert [row.values["number"] for row in sheet.rows] == ["1987.12"]
    assert sheet.notes == (
        "read from sheet 'Sheet'",
        "other sheets left alone: picture",
    )
    with pytest.raises(InputError, match="no sheet 'picture' with cells"):
        read_sheet(tmp_path / "a.xlsx", sheet="picture")


def test_a_workbook_with_a_damaged_part_is_refused_by_name(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    book = Workbook()
    for number in range(200):
        book.active.append([f"number {number}", number])
    book.save(path)
    content = bytearray(path.read_bytes())
    with zipfile.ZipFile(path) as packed:
        at = packed.getinfo("xl/worksheets/sheet1.xml").header_offset
    content[at + 80 : at + 200] = b"\xff" * 120
    path.write_bytes(content)
    with pytest.raises(InputError, match="is no XLSX workbook, or a damaged"):
        read_sheet(path)


def test_a_workbook_that_bursts_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", b"\x00" * 20_000_000)
    with pytest.raises(InputError, match="unpack to 20 MB"):
        read_sheet(path)


@pytest.mark.parametrize("name", ["a.xlsx", "a.ods", "missing.csv"])
def test_what_is_no_table_is_refused_by_name(tmp_path: Path, name: str) -> None:
    if not name.startswith("missing"):
        (tmp_path / name).write_bytes(b"nothing of the kind")
    with pytest.raises(InputError, match=name):
        read_sheet(tmp_path / name)


@pytest.mark.parametrize("suffix", [".csv", ".xlsx"])
def test_what_was_written_is_read_back_unchanged(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"out{suffix}"
    write_sheet(path, COLUMNS, HARD_ROWS)
    sheet = read_sheet(path)
    assert [tuple(row.values.values()) for row in sheet.rows] == list(HARD_ROWS)


def test_no_value_becomes_a_formula(tmp_path: Path) -> None:
    write_sheet(tmp_path / "out.xlsx", COLUMNS, HARD_ROWS)
    table = load_workbook(tmp_path / "out.xlsx").active
    kinds = {cell.data_type for row in table.iter_rows() for cell in row}
    assert kinds <= {"s", "inlineStr"}


def test_a_write_that_fails_leaves_the_older_file(tmp_path: Path) -> None:
    path = tmp_path / "out.xlsx"
    write_sheet(path, COLUMNS, HARD_ROWS)
    before = path.read_bytes()
    with pytest.raises(InputError, match="40000 characters"):
        write_sheet(path, COLUMNS, [("1", "x" * 40_000, "")])
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["out.xlsx"]


@pytest.mark.outside_program("soffice")
@pytest.mark.parametrize("suffix", [".csv", ".xlsx"])
def test_libreoffice_opens_it_and_changes_nothing(tmp_path: Path, suffix: str) -> None:
    """LibreOffice reads what was written, and what it writes of it is the same."""
    path = tmp_path / f"plates{suffix}"
    write_sheet(path, COLUMNS, HARD_ROWS)
    office = shutil.which("soffice")
    assert office is not None
    # Tokens of its filter: comma, quotation mark, UTF-8, from row 1, no column forms,
    # language as it is, quoted values are words, special numbers are not looked for.
    tokens = "44,34,76,1,,0,true,false"
    reading = [f"--infilter=CSV:{tokens}"] if suffix == ".csv" else []
    subprocess.run(
        [
            office,
            f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}",
            "--headless",
            *reading,
            "--convert-to",
            "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,true,true,false",
            "--outdir",
            str(tmp_path / "out"),
            str(path),
        ],
        check=True,
        capture_output=True,
        timeout=120,
    )
    with (tmp_path / "out" / "plates.csv").open(encoding="utf-8-sig", newline="") as f:
        assert [tuple(row) for row in csv.reader(f)] == [COLUMNS, *HARD_ROWS]
