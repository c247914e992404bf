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

import pytest
from openpyxl import Workbook, load_workbook

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
        ("3", "Größere Häuser am Fluß", "Zoë Fell"),
    ]
    stream = io.StringIO()
    csv.writer(stream, delimiter=delimiter).writerows([COLUMNS, *rows])
    sheet = read_sheet(_csv(tmp_path / "a.csv", stream.getvalue(), encoding))
    assert sheet.columns == COLUMNS
    assert [tuple(row.values.values()) for row in sheet.rows] == rows
    assert sheet.refused == ()


def test_rows_keep_their_numbers_past_values_of_several_lines(tmp_path: Path) -> None:
    text = 'a,b\n1,"x\ny"\n\n2,z\n'
    sheet = read_sheet(_csv(tmp_path / "a.csv", text))
    assert [row.number for row in sheet.rows] == [2, 5]


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("1,2,3", "has 3 cells where the first row names 2"),
        ("1", "has 1 cells where the first row names 2"),
        ('"a"b,2', "follows a closing quotation mark"),
        ("bell\x07,2", r"control character U\+0007"),
        ("nul\x00,2", r"control character U\+0000"),
        (f"1,{'x' * 200_000}", "too long"),
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
        (b'a,b\n1,"open\n2,3\n', "row 2 is never closed"),
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
