"""Check the commands for when a plate was exposed, and for shelves; all invented."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from wherestood.cli.app import run
from wherestood.dating.events import EVENTS
from wherestood.daybook.tables.said import DATED

Say = Callable[..., str]


@pytest.fixture
def say(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: Any) -> Say:
    """Return what runs a command in a daybook, and returns what it printed."""
    folder = tmp_path / "my valley"
    monkeypatch.setenv("WHERESTOOD_PERSON", "Ada Moss")
    monkeypatch.setenv("COLUMNS", "100")
    assert run(["daybook", "new", str(folder)]) == 0
    monkeypatch.chdir(folder)
    capsys.readouterr()

    def command(*words: str, code: int = 0) -> str:
        assert run(words) == code, capsys.readouterr()
        told = capsys.readouterr()
        return told.out if code == 0 else told.err

    return command


def test_dates_kept_may_be_of_every_event_and_of_what_was_in_use() -> None:
    assert set(DATED) == {*EVENTS, "in use"}


def test_the_worked_example_comes_out_of_a_daybook(say: Say) -> None:
    """The one of docs/dating.md, done by hand there."""
    say("plates", "add", "1987.12")
    for of, edtf, trust in (
        ("shown, built", "1873", "1"),
        ("published", "1877-06", "1"),
        ("exposed", "1875", "0.8"),
    ):
        say("dates", "add", "--plate", "1987.12", "--of", of, "--edtf", edtf,
            "--trust", trust)  # fmt: skip
    told = json.loads(say("when", "1987.12", "--between", "1870/1879", "--json"))
    assert told["nine_in_ten"]["edtf"] == "1875-01/1875-12"
    assert told["nine_in_ten"]["probability"] == round(432 / 468.5, 4)
    words = say("when", "1987.12", "--between", "1870/1879")
    assert "Nine in ten: January 1875 to December 1875 (12 months)." in words
    assert "November 1873 to June 1877" in words


def test_maker_features_statements_and_periods_count(say: Say) -> None:
    say("makers", "add", "--name", "Ben Fell", "--working-from", "1868",
        "--working-to", "1879")  # fmt: skip
    say("plates", "add", "1987.12", "--maker", "maker-1")
    say("features", "add", "--what", "mill", "--existed-from", "1871-05")
    say("features", "add", "--what", "school", "--existed-from", "1874")
    say("details", "add", "1987.12", "--what", "chimney", "--feature", "feature-1")
    say("statements", "add", "--plate", "1987.12", "--about", "date",
        "--words", "the dry summer", "--weight", "0.02",
        "--means", "1876")  # fmt: skip
    say("statements", "add", "--plate", "1987.12", "--about", "date",
        "--words", "before the war")  # fmt: skip
    told = json.loads(
        say("when", "1987.12", "--period", "wet collodion negative", "--json")
    )
    assert [each["name"] for each in told["contributions"]] == [
        "statement-1", "maker-1", "feature-1 since", "wet collodion negative",
    ]  # fmt: skip
    # The school is on no detail: whether it shows would tell before from after 1874.
    assert any("school" in each["what"] for each in told["advice"])
    assert told["left_out"] == [
        "statement-2 is left out: nobody said which date its words mean."
    ]


def test_a_region_is_kept_with_its_calendar_and_tables(
    say: Say, tmp_path: Path
) -> None:
    own = tmp_path / "mounts.toml"
    own.write_text(
        '[[period]]\nname = "blue mounts"\ndates = "exposure"\nfirst = 1870\n'
        "general_from = 1870\ngeneral_to = 1872\nlast = 1872\ntrust = 1.0\n"
    )
    assert "Gregorian" in say("daybook", "region")
    told = say("daybook", "region", "--calendar", "julian", "--periods", str(own))
    assert "asked about" in told
    assert "Its own periods: mounts.toml." in told
    say("plates", "add", "7")
    assert "blue mounts" in say("when", "7", "--period", "blue mounts", "--keep")
    dated = json.loads(say("when", "7", "--json"))
    assert dated["nine_in_ten"]["edtf"].startswith("1870-01/1872-")
    say("when", "7", "--period", "no such mount", "--keep", code=2)
    # Years that are seriously possible are kept, and hold for every plate.
    assert "1850/1871-03" in say("daybook", "region", "--between", "1850/1871-03")
    dated = json.loads(say("when", "7", "--json"))
    assert (dated["first_month"], len(dated["by_month"])) == ("1870-01", 15)
    assert "to March 1871, all alike" in dated["considered"]
    say("daybook", "region", "--between", "../1830", code=2)
    say("daybook", "region", "--between", "..")
    say("daybook", "region", "--no-periods", "--calendar", "gregorian")
    assert json.loads(say("daybook", "region", "--json"))["periods"] is None
    say("daybook", "region", "--calendar", "moon", code=2)


def test_a_date_as_written_tells_what_was_made_of_it(say: Say) -> None:
    say("plates", "add", "7")
    asked = say("dates", "add", "--plate", "7", "--edtf", "3.5.71")
    assert "counts nothing until it is told: 1871?" in asked
    carried = say("dates", "add", "--plate", "7", "--edtf", "1871-05-03 O.S.")
    assert "Carried from the Julian calendar" in carried
    never = say("dates", "add", "--plate", "7", "--edtf", "1871-02-30")
    assert "that month had 28" in " ".join(never.split())
    # Kept as written, and told until the day is.
    listed = say("dates", "list", "--plate", "7")
    assert "1871-02-30" in listed
    assert "1839/1955" not in listed
    told = " ".join(say("when", "7").split())
    assert "date-3 is left out: “1871-02-30” is kept as written. It has a day" in told
    say("dates", "change", "date-3", "--edtf", "1871-02")
    assert "date-3 is left out" not in say("when", "7")
    assert "1871-02-30" in say("dates", "show", "date-3")


def test_what_contradicts_is_named_and_no_date_told(say: Say) -> None:
    say("plates", "add", "1987.12")
    for of, edtf in (("shown, built", "1876-04"), ("published", "1874-09")):
        say("dates", "add", "--plate", "1987.12", "--of", of, "--edtf", edtf,
            "--trust", "1")  # fmt: skip
    words = say("when", "1987.12")
    assert "No month fits all that is held for certain" in words
    assert "shown, built 1876-04; published 1874-09" in " ".join(words.split())
    assert json.loads(say("when", "1987.12", "--json"))["possible"] is False


def test_a_plate_that_lacks_what_another_shows_dates_it(say: Say) -> None:
    """By hand: 12 months of 1875 ramp up to the 12 of 1876, each 1; 1874 is out."""
    for key, edtf in (("old", "1875"), ("new", "1874/1876")):
        say("plates", "add", key)
        say("dates", "add", "--plate", key, "--of", "exposed", "--edtf", edtf,
            "--trust", "1")  # fmt: skip
    kept = ("--between", "1874/1876", "--json")
    given = json.loads(say("when", "new", "--after-plate", "old,1", *kept))
    assert given["by_month"][-12:] == pytest.approx([1 / 18.5] * 12, abs=1e-6)
    ramp = [month / 12 / 18.5 for month in range(1, 13)]
    assert given["by_month"][:12] == pytest.approx(ramp, abs=1e-6)
    say("when", "old", "--before-plate", "new,0.75", "--keep", "--because",
        "no chimney yet")  # fmt: skip
    told = json.loads(say("when", "new", *kept))
    item = next(c for c in told["contributions"] if c["name"].startswith("new/"))
    assert item["what"] == ["old is older: no chimney yet"]
    # Of 36 months each ramp month weighs 0.75 a + 0.25 (1 - a), 1874's 0.25.
    weights = [0.25] * 12 + [0.25 + 0.5 * m / 12 for m in range(1, 13)] + [0.75] * 12
    wanted = [one / sum(weights) for one in weights]
    assert told["by_month"] == pytest.approx(wanted, abs=1e-6)
    # A new key leaves the order as it was, and a third plate is reached over the two.
    say("plates", "change", "old", "--key", "older")
    say("plates", "add", "last")
    far = json.loads(say("when", "last", "--after-plate", "new,1", *kept))
    assert far["nine_in_ten"]["edtf"].endswith("/1876-12")
    assert "older is older" in say("when", "new", "--between", "1874/1876")
    say("when", "older", "--after-plate", "older", code=2)


def test_shadows_and_signs_need_a_fix_and_say_so(say: Say) -> None:
    say("plates", "add", "1987.12")
    shadow = say("when", "1987.12", "--shadow", "1,2:3,4:1,1", code=2)
    assert "no fix yet" in shadow
    assert "no fix yet" in say("when", "1987.12", "--sign", "leaf", code=2)
    assert "no shadow" in say("when", "1987.12", "--hour", "10:30", code=2)


def test_a_shelf_is_weighed_against_its_limit(say: Say) -> None:
    told = say("shelf", "--plates", "6000", "--limit-kg", "500", "--thickness", "2")
    assert "too much" in told
    assert "conservator" in told
    numbers = json.loads(
        say("shelf", "--plates", "20", "--limit-kg", "50", "--size", "10x8in",
            "--thickness", "2.5", "--json")
    )  # fmt: skip
    assert 5.0 < numbers["glass_kg"] < 7.0
    assert "Choose one of" in say(
        "shelf", "--plates", "1", "--limit-kg", "1", "--kind", "tin", code=2
    )
    # Two sizes at once: 10 of 1 dm2 and 10 of 2 dm2, 2 mm thick, 50 and 100 g each.
    both = json.loads(
        say("shelf", "--lot", "10,100x100mm,2", "--lot", "10,200x100mm,2",
            "--limit-kg", "3", "--json")
    )  # fmt: skip
    assert both["plates_kg"] == [0.05, 0.1]
    assert (both["glass_kg"], both["share"]) == (1.5, round(1.5 * 1.15 / 3, 3))
    assert "cannot be read" in say("shelf", "--lot", "many", "--limit-kg", "3", code=2)
    assert "--limit-kg" in say("shelf", "--plates", "3", code=2)


def test_boxes_and_shelves_of_a_collection_are_kept_and_weighed(say: Say) -> None:
    """Plates count by their own sizes: 200 x 100 mm, dry, 1.3 mm: 65 g."""
    for key, size in (("1", "200x100mm"), ("2", "200x100mm"), ("3", "100x100mm")):
        say("plates", "add", key, "--size", size)
    say("plates", "add", "4")
    say("plates", "add", "5", "--size", "200x100mm", "--process", "print")
    say("shelf", "--box", "Box 1", "--on", "A", "--lot", "10,100x100mm,2",
        "--put", "1", "--put", "2", "--limit-kg", "1")  # fmt: skip
    # Moved to another box, a plate lies in one alone.
    say("shelf", "--box", "Box 2", "--on", "A", "--kind", "wet plate", "--put", "2")
    told = json.loads(say("shelf", "--json"))
    (shelf,) = told["shelves"]
    assert [(one["box"], one["plates"]) for one in shelf["boxes"]] == [
        ("Box 1", 11), ("Box 2", 1),
    ]  # fmt: skip
    # 10 of 50 g and one of 65 g; the wet one of 2.5 mm weighs 125 g.
    assert [one["glass_kg"] for one in shelf["boxes"]] == [0.56, 0.12]
    assert shelf["whole_kg"] == pytest.approx(0.69 * 1.15, abs=0.006)
    assert told["in_no_box"] == {"box": None, "plates": 1, "glass_kg": 0.03}
    assert told["not_weighed"] == ["4 is not weighed: its size is not known."]
    page = say("shelf")
    assert "Box 1: 11 plates, 0.6 kg of glass." in page
    assert "of 1 kg that the shelf may carry" in page
    say("shelf", "--box", "Box 2", "--away")
    again = json.loads(say("shelf", "--json"))
    assert [one["plates"] for one in again["shelves"][0]["boxes"]] == [11]
    assert again["in_no_box"]["plates"] == 2
    assert "Box 2" in say("shelf", "--box", "Box 2", "--away", code=2)
    assert "--on" in say("shelf", "--box", "Box 3", code=2)
