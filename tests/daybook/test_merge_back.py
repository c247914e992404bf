"""Check that copies which merge back, crosswise or in rounds, come to one content."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Sequence
from itertools import permutations
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from sqlalchemy import select

from wherestood.daybook import Daybook, find
from wherestood.daybook.handover import merge, merge_in_words
from wherestood.daybook.handover.diverged import MERGES
from wherestood.daybook.history import history
from wherestood.daybook.originals import take_in, verify
from wherestood.daybook.replay import disagreements, rebuild_into, table_rows
from wherestood.daybook.tables import (
    ITEMS,
    Detail,
    Evidence,
    Feature,
    JournalRow,
    Lead,
    Mark,
    Plate,
    Scan,
    Source,
)
from wherestood.daybook.undo import undo
from wherestood.daybook.withdraw import withdraw
from wherestood.errors import InputError

NewDaybook = Callable[[], Daybook]
_OF_ONE_COPY = ("revision", "file")
PEOPLE = ("Ada", "Ben", "Cora")


def parted(new_daybook: NewDaybook, count: int) -> list[Daybook]:
    """Return copies of a daybook with one plate."""
    first = new_daybook()
    with first.writing("Ada") as session:
        session.add(Plate(key="P1", title="The mill"))
    copies = [first]
    for _ in range(count - 1):
        copies.append(new_daybook())
        rebuild_into(first, copies[-1])
    return copies


def copy_of(daybook: Daybook, new_daybook: NewDaybook) -> Daybook:
    """Return a copy of a daybook as it is now."""
    other = new_daybook()
    rebuild_into(daybook, other)
    return other


def work(daybook: Daybook, person: str) -> None:
    """Add one thing of each kind whose key all copies give to a thing of their own."""
    with daybook.writing(person) as session:
        plate = find(session, Plate, "P1")
        by = f"by {person}"
        session.add_all([
            Lead(what=by, state="to do"),
            Source(citation=by),
            Plate(key="P9", title=by),
            Feature(key="Dam", what=by),
            Detail(plate_id=plate.id, what=by),
        ])  # fmt: skip
        session.flush()
        session.add(
            Mark(
                plate_id=plate.id,
                key="m1",
                shape="point",
                points_px=[[1.0, 2.0]],
                features=[{"feature": "Dam", "weight": 1.0}],
                note=by,
            )
        )
        session.add(
            Evidence(
                plate_id=plate.id, key="e1", kind="in_line",
                content={"a": "m1", "b": "Dam"}, derived_from=["m1"], note=by,
            )
        )  # fmt: skip


def content(daybook: Daybook) -> dict[str, Any]:
    """Return every table, but for what each copy has for itself.

    That is how often rows were written and copies merged, and under which name a file
    lies where both had taken in one of that name.
    """
    with daybook.reading() as session:
        connection = session.connection()
        return {
            name: {
                item_id: {k: v for k, v in row.items() if k not in _OF_ONE_COPY}
                for item_id, row in table_rows(connection, name)
                if not (name == "settings" and row["key"] == MERGES)
            }
            for name in ITEMS
        }


def keys_by_who(daybook: Daybook) -> dict[tuple[str, str], str]:
    """Return by table and person the key of what the person added."""
    return {
        (name, told.removeprefix("by ")): row["key"]
        for name, rows in content(daybook).items()
        for row in rows.values()
        for column in ("what", "title", "note", "citation")
        if (told := str(row.get(column))).startswith("by ")
    }


def moves(daybook: Daybook) -> dict[str, list[str]]:
    """Return by item the keys that it was moved to, each once."""
    found: dict[str, list[str]] = {}
    with daybook.reading() as session:
        for row in session.scalars(select(JournalRow).order_by(JournalRow.number)):
            if row.before is not None and "key" in (row.after or {}):
                keys = found.setdefault(row.item_id, [])
                if row.after["key"] not in keys:
                    keys.append(row.after["key"])
    return found


def is_one(copies: Sequence[Daybook]) -> None:
    """Fail unless the copies are alike, sound, and each names its own things."""
    first, *others = (content(copy) for copy in copies)
    for other in others:
        for name in ITEMS:
            assert other[name] == first[name]
    features = {row["key"]: row["what"] for row in first["features"].values()}
    marks = {row["key"]: row["note"] for row in first["marks"].values()}
    for row in first["marks"].values():
        assert features[row["features"][0]["feature"]] == row["note"]
    for row in first["evidence"].values():
        assert features[row["content"]["b"]] == row["note"]
        assert marks[row["content"]["a"]] == row["note"]
        assert marks[row["derived_from"][0]] == row["note"]
    for copy in copies:
        assert verify(copy) == []
        with copy.reading() as session:
            assert disagreements(session) == []


@pytest.mark.parametrize("order", list(permutations((0, 1))))
def test_a_copy_merges_back_after_a_key_was_moved(
    new_daybook: NewDaybook, order: tuple[int, int]
) -> None:
    copies = parted(new_daybook, 2)
    for copy, person in zip(copies, PEOPLE, strict=False):
        work(copy, person)
    one, other = (copies[i] for i in order)
    merge(one, other, "Ada")
    before = content(one)
    merged = merge(other, one, "Ben")
    assert content(one) == before
    is_one(copies)
    keys = keys_by_who(one)
    assert (keys["leads", "Ada"], keys["leads", "Ben"]) == ("lead-1", "lead-2")
    assert (keys["plates", "Ada"], keys["plates", "Ben"]) == ("P9", "P9 (2)")
    assert all(len(keys) == 1 for keys in moves(other).values())
    told = merge_in_words(merged).said
    assert ("  our lead-1 is lead-2 now." in told) == (order == (0, 1))
    assert merge_in_words(merge(one, other, "Ada")).said[0].startswith("There is not")


def test_copies_that_merge_crosswise_keep_the_same_keys(
    new_daybook: NewDaybook,
) -> None:
    """Each took in the other as it was before, and then as it is."""
    copies = parted(new_daybook, 2)
    for copy, person in zip(copies, PEOPLE, strict=False):
        work(copy, person)
    before = [copy_of(copy, new_daybook) for copy in copies]
    merge(copies[0], before[1], "Ada")
    merge(copies[1], before[0], "Ben")
    keys = keys_by_who(copies[0])
    assert keys == keys_by_who(copies[1])
    assert merge(copies[1], copies[0], "Ben").renamed == ()
    assert merge(copies[0], copies[1], "Ada").renamed == ()
    is_one(copies)
    assert keys_by_who(copies[0]) == keys
    assert all(len(keys) == 1 for keys in moves(copies[0]).values())


def test_what_both_changed_comes_to_one_though_they_merge_crosswise(
    new_daybook: NewDaybook, tmp_path: Path
) -> None:
    """A title that both changed, and a main scan that both chose."""
    copies = parted(new_daybook, 2)
    for number, copy in enumerate(copies):
        with copy.writing(PEOPLE[number]) as session:
            find(session, Plate, "P1").title = f"by {PEOPLE[number]}"
        tones = np.full((32, 48), 60 * (number + 1), dtype=np.uint8)
        (tmp_path / f"{number}").mkdir()
        Image.fromarray(tones).save(tmp_path / f"{number}" / "s.tif")
        take_in(copy, "P1", tmp_path / f"{number}" / "s.tif", PEOPLE[number])
    before = []
    for number, copy in enumerate(copies):
        before.append(copy_of(copy, new_daybook))
        shutil.copytree(
            copy.folder / "originals", before[number].folder / "originals",
            dirs_exist_ok=True,
        )  # fmt: skip
    merge(copies[0], before[1], "Ada")
    merge(copies[1], before[0], "Ben")
    merge(copies[0], copies[1], "Ada")
    merge(copies[1], copies[0], "Ben")
    is_one(copies)
    for copy in copies:
        assert len(list((copy.folder / "originals").rglob("*.tif"))) == 2
    with copies[0].reading() as session:
        assert find(session, Plate, "P1").title == "by Ada"
        assert [scan.key for scan in session.scalars(select(Scan)) if scan.main] == [
            "1"
        ]


def test_a_key_that_a_merge_kept_is_kept_though_another_had_it_before(
    new_daybook: NewDaybook,
) -> None:
    """The first to call a plate P9 comes last, when the others are agreed."""
    copies = parted(new_daybook, 3)
    for copy, person in zip(copies, PEOPLE, strict=True):
        work(copy, person)
    merge(copies[1], copies[2], "Ben")
    merge(copies[1], copies[0], "Ben")
    merge(copies[0], copies[1], "Ada")
    merge(copies[2], copies[0], "Cora")
    is_one(copies)
    keys = keys_by_who(copies[0])
    assert [keys["plates", who] for who in PEOPLE] == ["P9 (3)", "P9", "P9 (2)"]
    assert [keys["leads", who] for who in PEOPLE] == ["lead-3", "lead-1", "lead-2"]
    assert all(len(keys) == 1 for keys in moves(copies[0]).values())


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
@pytest.mark.parametrize("seed", range(4))
def test_rounds_of_merges_of_three_copies_end_in_one_content(
    new_daybook: NewDaybook, seed: int
) -> None:
    """Six merges in any order among work, and then round and round."""
    rng = np.random.default_rng(seed)
    copies = parted(new_daybook, 3)
    people = dict(zip(range(3), PEOPLE, strict=True))
    for i in rng.permutation(3):
        work(copies[i], people[i])
    for step in range(6):
        i, j = rng.permutation(3)[:2]
        merge(copies[i], copies[j], people[i])
        with copies[i].writing(people[i]) as session:
            find(session, Plate, "P1").title = f"{people[i]} {step}"
            session.add(Lead(what=f"{people[i]} {step}", state="to do"))
    ring = rng.permutation(3)
    for _ in range(4):
        for i, j in zip(ring, np.roll(ring, -1), strict=True):
            merge(copies[i], copies[j], people[i])
    is_one(copies)


def test_a_merge_after_a_withdrawal_is_the_last_act(new_daybook: NewDaybook) -> None:
    """Nothing of the merge itself was written but that it was one."""
    ours, theirs = parted(new_daybook, 2)
    with ours.writing("Ada") as session:
        session.add(Lead(what="ask the miller", state="to do"))
        session.flush()
        lead = find(session, Lead, "lead-1").id
    withdraw(ours, Lead, lead, person="Ada")
    with theirs.writing("Ben") as session:
        find(session, Plate, "P1").note = "flooded"
    merge(ours, theirs, "Ada")
    with pytest.raises(InputError, match="last act merged"):
        undo(ours, "Ada")
    with ours.reading() as session:
        told = [one for entry in history(session) for one in entry.sentences]
    assert "Added lead-1: [withdrawn]." in told


def test_the_diary_says_why_a_merge_moved_a_key(new_daybook: NewDaybook) -> None:
    copies = parted(new_daybook, 2)
    for copy, person in zip(copies, PEOPLE, strict=False):
        with copy.writing(person) as session:
            session.add(Lead(what=f"by {person}", state="to do"))
    merge(*copies, "Ada")
    with copies[0].reading() as session:
        told = [one for entry in history(session) for one in entry.sentences]
    assert (
        "Changed lead-2: key from “lead-1” to “lead-2”, as the other copy had given "
        "the key to something else."
    ) in told
