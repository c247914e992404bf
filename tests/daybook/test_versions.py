"""Check that older daybooks open with their content, and newer ones are refused."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest

from wherestood.daybook import Daybook, find
from wherestood.daybook.replay import disagreements
from wherestood.daybook.schema import newest_schema
from wherestood.daybook.tables import ITEMS, Fix, Mark, Plate
from wherestood.daybook.undo import undo
from wherestood.errors import DaybookError

SCHEMAS = Path(__file__).with_name("schemas")
EARLIER = sorted(SCHEMAS.glob("*.sql"), key=lambda path: int(path.stem))


def made_by(dump: Path, folder: Path) -> Path:
    """Make a daybook as an earlier version left it."""
    folder.mkdir()
    with sqlite3.connect(folder / "daybook.sqlite") as connection:
        connection.executescript(dump.read_text(encoding="utf-8"))
    connection.close()
    return folder


def rows(path: Path) -> dict[str, dict[str, dict[str, object]]]:
    """Return every row of every table, by id, as SQLite itself has them."""
    connection = sqlite3.connect(path / "daybook.sqlite")
    connection.row_factory = sqlite3.Row
    keys = dict.fromkeys(ITEMS, "id") | {"journal": "number", "words": "item_id"}
    found = {
        name: {
            str(row[key]): dict(row)
            for row in connection.execute(f"SELECT * FROM {name}")
        }
        for name, key in keys.items()
    }
    connection.close()
    return found


def test_there_is_a_daybook_of_every_earlier_schema() -> None:
    assert [path.stem for path in EARLIER] == [
        str(number) for number in range(1, newest_schema())
    ]


@pytest.mark.parametrize("dump", EARLIER, ids=lambda path: path.stem)
def test_an_earlier_daybook_opens_and_keeps_its_content(
    dump: Path, tmp_path: Path
) -> None:
    folder = made_by(dump, tmp_path / "old")
    before = rows(folder)
    assert all(before[name] for name in ITEMS), "the fixture has a row in each table"
    with Daybook.open(folder) as daybook:
        assert daybook.upgraded_from == int(dump.stem)
        with daybook.reading() as session:
            assert disagreements(session) == []
            plate = find(session, Plate, "1987.12")
            assert plate.catalogue == {"Nr": "12", "Ort": None, "Maß": [16.5, 21.6]}
            assert find(session, Fix, "fix-1").lon_deg == 8.5121
            assert not find(session, Mark, "1987.12/A").removed
        with daybook.writing("Cora") as session:
            find(session, Plate, "1987.12").note = "written by the newer version"
        undo(daybook, "Cora")
    after = rows(folder)
    for name, kept in before.items():
        for key, row in kept.items():
            now = {column: after[name][key][column] for column in row}
            if name == "plates":
                now["revision"] = row["revision"]  # it was written to above
            assert now == row, f"{name} {key}"


def test_a_daybook_that_is_up_to_date_is_not_said_to_be_upgraded(
    tmp_path: Path,
) -> None:
    Daybook.create(tmp_path / "new").close()
    with Daybook.open(tmp_path / "new") as daybook:
        assert daybook.upgraded_from is None


@pytest.mark.parametrize("number", [str(newest_schema() + 1), "99", "a1b2c3"])
def test_a_daybook_of_a_newer_version_is_refused_and_left_alone(
    tmp_path: Path, number: str
) -> None:
    folder = tmp_path / "newer"
    Daybook.create(folder).close()
    with sqlite3.connect(folder / "daybook.sqlite") as connection:
        connection.execute("UPDATE alembic_version SET version_num = ?", (number,))
    connection.close()
    before = (folder / "daybook.sqlite").read_bytes()
    with pytest.raises(DaybookError, match="newer version of wherestood"):
        Daybook.open(folder)
    assert (folder / "daybook.sqlite").read_bytes() == before


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"not a database at all" * 40, "no daybook"),
        (b"SQLite format 3\x00" + b"\xff" * 4000, "no daybook"),
    ],
)
def test_a_file_that_is_no_daybook_is_refused_and_left_alone(
    tmp_path: Path, content: bytes, told: str
) -> None:
    file = tmp_path / "daybook.sqlite"
    file.write_bytes(content)
    with pytest.raises(DaybookError, match=told):
        Daybook.open(tmp_path)
    assert file.read_bytes() == content


def test_another_program_s_database_is_refused(tmp_path: Path) -> None:
    with sqlite3.connect(tmp_path / "daybook.sqlite") as connection:
        connection.execute("CREATE TABLE recipes (name TEXT)")
    connection.close()
    with pytest.raises(DaybookError, match="'recipes'"):
        Daybook.open(tmp_path)


def test_a_migration_that_fails_leaves_the_daybook_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = made_by(EARLIER[0], tmp_path / "old")
    before = rows(folder)

    def fails(*_: object, **__: object) -> None:
        raise RuntimeError("the power went")

    monkeypatch.setattr("alembic.op.create_index", fails)
    with pytest.raises(RuntimeError, match="the power went"):
        Daybook.open(folder)
    monkeypatch.undo()
    assert rows(folder) == before
    with Daybook.open(folder) as daybook:
        assert daybook.upgraded_from == int(EARLIER[0].stem)


def test_the_fixtures_are_text_that_a_person_can_read() -> None:
    for dump in EARLIER:
        text = dump.read_text(encoding="utf-8")
        assert "invented" in text.splitlines()[0]
        assert json.dumps("alembic_version")[1:-1] in text
