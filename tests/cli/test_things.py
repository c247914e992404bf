"""Check the commands for what a daybook holds, by what they print and return."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
import pytest
import typer

from wherestood.cli.app import app, run
from wherestood.cli.things import COMMANDS
from wherestood.daybook.tables import ITEMS

Say = Callable[..., str]


@pytest.fixture
def say(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: Any) -> Say:
    """Return what runs a command in a daybook, and returns what it printed."""
    folder = tmp_path / "my valley"
    monkeypatch.setenv("WHERESTOOD_PERSON", "Ada Moss")
    monkeypatch.setenv("COLUMNS", "80")
    assert run(["daybook", "new", str(folder)]) == 0
    monkeypatch.chdir(folder)
    capsys.readouterr()

    def command(*words: str, code: int = 0) -> str:
        assert run(words) == code, capsys.readouterr()
        told = capsys.readouterr()
        return told.out if code == 0 else told.err

    return command


def records(text: str) -> Any:
    return json.loads(text)


def test_one_grammar_adds_lists_shows_changes_and_sets_aside(say: Say) -> None:
    say("plates", "add", "1987.12", "--title", "The mill", "--near-enough-m", "50")
    assert say("plates", "list") == "1987.12  The mill\n1 plate.\n"
    say("plates", "change", "1987.12", "--title", "The old mill", "--why", "misread")
    shown = records(say("plates", "show", "1987.12", "--json"))
    assert (shown["title"], shown["near_enough_m"]) == ("The old mill", 50.0)
    say("plates", "change", "1987.12", "--clear", "title")
    assert "title" not in records(say("plates", "show", "1987.12", "--json"))
    say("plates", "remove", "1987.12", "--why", "twice in the register")
    assert say("plates", "list") == "0 plates.\n"
    assert "1987.12" in say("plates", "list", "--removed")
    say("plates", "restore", "1987.12")
    assert "1 plate." in say("plates", "list")


def test_items_of_a_plate_are_addressed_by_plate_and_letter(say: Say) -> None:
    say("plates", "add", "1987/12")
    assert say("details", "add", "1987/12", "--what", "chimney") == (
        "Added detail 1987/12/A.\n"
    )
    say("details", "add", "1987/12/M", "--what", "mast")
    listed = records(say("details", "list", "--plate", "1987/12", "--json"))
    assert [one["address"] for one in listed] == ["1987/12/A", "1987/12/M"]
    assert "mast" in say("details", "show", "1987/12/M")


def test_items_refer_to_one_another_by_key(say: Say) -> None:
    say("plates", "add", "1987.12")
    say("sources", "add", "--citation", "Herald, 3 May 1871", "--kind", "newspaper")
    say(
        "statements", "add", "--plate", "1987.12", "--words", "from the weir",
        "--source", "source-1",
    )  # fmt: skip
    (said,) = records(say("statements", "list", "--json"))
    assert (said["source"], said["plate"]) == ("source-1", "1987.12")
    assert "no source 'source-9'" in say(
        "statements", "change", "statement-1", "--source", "source-9", code=2
    )


def test_lists_are_narrowed_by_words_and_fields(say: Say) -> None:
    say("plates", "add", "a", "--title", "Die Mühle", "--grade", "needs a plan")
    say("plates", "add", "b", "--title", "The weir", "--grade", "answerable now")
    say("details", "add", "b", "--what", "a gable")
    assert say("plates", "list", "--words", "muhle").startswith("a  Die Mühle")
    assert "1 plate." in say("plates", "list", "--words", "WEIR gab")
    assert "b  The weir" in say("plates", "list", "--where", "grade=answerable now")
    say("plates", "change", "b", "--held-by", "Museum Kern")
    for name in ("held-by", "held by", "held_by"):
        told = say("plates", "list", "--where", f"{name}=Museum Kern")
        assert "b  The weir" in told
    assert "1 of them shown" in say("plates", "list", "--limit", "1")
    assert "does not say" in say("plates", "list", "--where", "colour=red", code=2)
    assert "needs a plan" in say("plates", "list", "--where", "grade=hopeless", code=2)


def test_a_later_decision_supersedes_and_both_stay(say: Say) -> None:
    say("plates", "add", "1987.12")
    for conclusion in ("accepted", "rejected"):
        say(
            "decisions", "add", "--plate", "1987.12", "--conclusion", conclusion,
            "--words", f"it is {conclusion}",
        )  # fmt: skip
    first, second = records(say("decisions", "list", "--json"))
    assert "supersedes" not in first
    assert second["supersedes"] == "decision-1"
    assert second["decided_by"] == "Ada Moss"
    assert "Add a later one, which takes its place" in say(
        "decisions", "change", "decision-1", code=2
    )


def test_notes_and_restrictions_are_about_an_item_of_any_kind(say: Say) -> None:
    say("plates", "add", "1987.12")
    say("details", "add", "1987.12", "--what", "a grave")
    say(
        "restrictions", "add", "plates", "1987.12", "--precision", "1 km",
        "--because", "a garden",
    )  # fmt: skip
    say("restrictions", "add", "details", "1987.12/A", "--precision", "withheld")
    say("notes", "add", "details", "1987.12/A", "--words", "ask first")
    shown = records(say("details", "show", "1987.12/A", "--json"))
    assert shown["publish"] == {"precision": "withheld", "covered": False}
    assert "1 km" in say("plates", "show", "1987.12")
    (note,) = records(say("notes", "list", "--plate", "1987.12", "--json"))
    assert (note["about"], note["about_table"]) == ("1987.12/A", "details")


def test_history_reads_like_a_diary_and_counts_what_led_nowhere(say: Say) -> None:
    say("plates", "add", "1987.12", "--title", "The mill", "--why", "from the register")
    say("leads", "add", "--plate", "1987.12", "--what", "rate book of 1871")
    say(
        "leads", "change", "lead-1", "--state", "nothing found",
        "--outcome", "volumes 3 to 7 looked through",
    )  # fmt: skip
    say("plates", "add", "another")
    told = say("history", "1987.12")
    assert "Ada Moss: from the register" in told
    assert "Added plate 1987.12: The mill." in told
    assert (
        "Changed lead-1: state from “to do” to “nothing found”; outcome from nothing "
        "to “volumes 3 to 7 looked through”." in told
    )
    assert "another" not in told
    assert "0 runs, 0 set aside; 2 items" in told
    assert "1 lead without result" in told
    assert "another" in say("history")
    told = records(say("history", "--last", "1", "--json"))
    assert [one["sentences"] for one in told["entries"]] == [["Added plate another."]]


def test_history_tells_of_features_that_marks_call_by_key(say: Say) -> None:
    point = '{"type": "Point", "coordinates": [8.5, 46.1]}'
    for key in ("chapel", "elsewhere"):
        say("features", "add", key, "--geometry", point, "--what", f"{key} gable")
    say("names", "add", "--feature", "chapel", "--name", "St Anne")
    say("plates", "add", "1987.12")
    say(
        "marks", "add", "1987.12/A", "--points-px", "[[10.5, 20]]",
        "--features", '[{"feature": "chapel", "weight": 1}]',
    )  # fmt: skip
    say("features", "change", "chapel", "--sd-m", "5", "--why", "a better plan")
    told = say("history", "1987.12")
    assert "chapel gable" in told
    assert "a better plan" in told
    assert "St Anne" in told
    assert "elsewhere" not in told


def test_the_ground_searched_is_kept_as_it_stood_in_its_file(say: Say) -> None:
    ring = [[8.4, 46.0], [8.6, 46.0], [8.6, 46.2], [8.4, 46.0]]
    shape = {"type": "Polygon", "coordinates": [ring]}
    Path("area.geojson").write_text(json.dumps(shape, indent=1), encoding="utf-8")
    say("plates", "add", "1987.12", "--ground-searched", "area.geojson")
    Path("area.geojson").unlink()
    shown = records(say("plates", "show", "1987.12", "--json"))
    assert json.loads(shown["ground_searched"]) == shape
    assert "near 8.5" in say(
        "plates", "change", "1987.12", "--ground-searched", "near 8.5", code=2
    )


def test_undo_and_redo_say_what_they_took_back(say: Say) -> None:
    say("plates", "add", "1987.12", "--why", "by mistake")
    assert say("undo").startswith("Took back 1 change by Ada Moss of ")
    assert say("plates", "list") == "0 plates.\n"
    assert "Done again, of " in say("redo")
    assert "1 plate." in say("plates", "list")
    assert "nothing to do again" in say("redo", code=2)


def test_withdrawing_asks_first_and_leaves_a_stub(say: Say) -> None:
    say("informants", "add", "--name", "Philomena Quexworth")
    assert "--yes" in say("informants", "withdraw", "informant-1", code=2)
    told = say("informants", "withdraw", "informant-1", "--yes", "--why", "asked to")
    assert "A stub of each is left" in told
    assert "withdrawn on 2" in say("informants", "list")
    assert "withdrawn before" in say(
        "informants", "withdraw", "informant-1", "--yes", code=2
    )


def test_a_key_renamed_is_renamed_where_evidence_calls_it_so(say: Say) -> None:
    say("plates", "add", "1987.12")
    point = '{"type": "Point", "coordinates": [8.5, 46.1]}'
    say("features", "add", "chapel", "--geometry", point)
    say(
        "marks", "add", "1987.12/A", "--points-px", "[[10.5, 20]]",
        "--features", '[{"feature": "chapel", "weight": 1}]',
    )  # fmt: skip
    say(
        "evidence", "add", "1987.12/over", "--kind", "in_line",
        "--content", '{"a": "chapel", "b": "A"}',
    )  # fmt: skip
    say("features", "change", "chapel", "--key", "St Anne")
    say("marks", "change", "1987.12/A", "--key", "B")
    (over,) = records(say("evidence", "list", "--json"))
    assert over["content"] == {"a": "St Anne", "b": "B"}
    (mark,) = records(say("marks", "list", "--json"))
    assert mark["features"] == [{"feature": "St Anne", "weight": 1}]


def test_bad_values_are_refused_by_name_with_nothing_added(say: Say) -> None:
    for words, told in (
        (("leads", "add", "--what", "x", "--state", "lost"), "'lost'"),
        (("leads", "add"), "lacks its what"),
        (("plates", "add", "a", "--near-enough-m", "near"), "near-enough-m"),
        (("plates", "add", "a", "--trimmed", "perhaps"), "trimmed"),
        (("plates", "add", "a", "--near-enough-m", "0.1"), "at least 0.5"),
        (("features", "add", "f", "--geometry", "{"), "geometry"),
        (("features", "add", "f", "--geometry", '{"type": "Dot"}'), "'f'"),
        (("details", "add", "nowhere/A"), "no plate 'nowhere'"),
        (("notes", "add", "ghosts", "a", "--words", "x"), "no 'ghosts'"),
    ):
        assert told in say(*words, code=2), words
    assert say("plates", "list") == "0 plates.\n"
    assert records(say("history", "--json"))["entries"] == []


def test_no_daybook_is_said_with_what_to_do(
    tmp_path: Path, monkeypatch: Any, capsys: Any
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("WHERESTOOD_DAYBOOK", raising=False)
    assert run(["plates", "list"]) == 2
    assert "wherestood daybook new" in capsys.readouterr().err
    assert run(["plates", "list", "--daybook", "none"]) == 4


def test_every_table_that_people_handle_has_commands() -> None:
    assert set(ITEMS) - set(COMMANDS) == {"fix_inputs", "settings"}
    group: Any = typer.main.get_command(app)
    context = click.Context(group)
    assert set(COMMANDS.values()) <= set(group.list_commands(context))
    for name in COMMANDS.values():
        verbs = set(group.get_command(context, name).commands)
        assert {"list", "show", "remove", "restore", "withdraw"} <= verbs, name


def test_every_command_can_answer_in_json() -> None:
    group: Any = typer.main.get_command(app)
    context = click.Context(group)
    for name in COMMANDS.values():
        for verb, command in group.get_command(context, name).commands.items():
            if command.hidden:  # it says why there is no such verb
                continue
            options = {option for p in command.params for option in p.opts}
            assert "--json" in options, f"{name} {verb}"
