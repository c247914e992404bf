"""Check that what commands say can be understood, and acted upon."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image

from wherestood.cli.app import run
from wherestood.daybook import Daybook

Say = Callable[..., str]


@pytest.fixture
def say(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> Say:
    """Return what runs a command in a daybook: all that it said."""
    Daybook.create(tmp_path / "valley").close()
    monkeypatch.setenv("WHERESTOOD_PERSON", "Ada Moss")
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.chdir(tmp_path / "valley")

    def command(*words: str, code: int = 0) -> str:
        capsys.readouterr()
        assert run(words) == code, capsys.readouterr()
        told = capsys.readouterr()
        return told.out + told.err

    command("plates", "add", "1987.12", "--title", "The mill")
    return command


def test_features_are_listed_and_shown_by_their_names(say: Say) -> None:
    point = '{"type": "Point", "coordinates": [8.5, 46.1]}'
    say("features", "add", "hill", "--what", "summit", "--geometry", point)
    say("sources", "add", "--citation", "County survey, 1898")
    for name in ("Round Top", "Rundkogel"):
        say("names", "add", "--feature", "hill", "--name", name, "--source", "source-1")
    assert "hill  Round Top / Rundkogel, summit" in say("features", "list")
    assert "Called Round Top / Rundkogel." in say("features", "show", "hill")
    shown = say("names", "show", "name-1")
    assert "hill (Round Top / Rundkogel, summit)" in shown
    assert "source-1 (County survey, 1898)" in shown


def test_what_is_on_plates_is_listed_plate_by_plate(say: Say) -> None:
    say("plates", "add", "1986.1")
    say("plates", "add", "1988.1")
    for plate in ("1988.1", "1986.1", "1987.12", "1986.1"):
        say("details", "add", plate, "--what", "gable")
    listed = [line.split()[0] for line in say("details", "list").splitlines()[:4]]
    assert listed == ["1986.1/A", "1986.1/B", "1987.12/A", "1988.1/A"]


def test_undo_never_reaches_behind_a_withdrawal_by_itself(say: Say) -> None:
    say("informants", "add", "--name", "Bertha Quill")
    say("notes", "add", "plates", "1987.12", "--words", "seen in June")
    say("informants", "withdraw", "informant-1", "--yes")
    assert "what is withdrawn does not come back" in say("undo", code=2)
    assert "note-1  seen in June" in say("notes", "list")
    again = say("informants", "withdraw", "informant-1", "--yes", code=2)
    assert "informant 'informant-1' was withdrawn before" in again


def test_a_merge_says_what_was_set_aside_and_stays(say: Say) -> None:
    say("details", "add", "1987.12", "--what", "gable")
    shutil.copytree(Path.cwd(), "../theirs")
    say("details", "remove", "1987.12/A")
    say("plates", "change", "1987.12", "--title", "Our mill")
    theirs = ("--daybook", "../theirs")
    say("details", "change", "1987.12/A", "--what", "gable of the mill", *theirs)
    say("plates", "change", "1987.12", "--title", "Their mill", *theirs)
    told = say("merge", "../theirs", "--dry-run")
    assert "they would not be set aside:\n  1987.12/A, set aside here" in told
    told = say("merge", "../theirs")
    assert "ours was kept, theirs is in a note:\n  1987.12, title: 'Our mill'" in told
    assert "they are not set aside:\n  1987.12/A, set aside here" in told
    assert "Brought back detail 1987.12/A." in say("history", "1987.12")
    assert "nothing new" in say("merge", "../theirs")


def test_files_that_are_no_scans_are_named_and_not_passed_over_in_silence(
    say: Say, tmp_path: Path
) -> None:
    (tmp_path / "scans").mkdir()
    Image.effect_noise((64, 48), 40.0).save(tmp_path / "scans" / "1990.1.png")
    (tmp_path / "scans" / "letter.doc").write_bytes(b"words")
    told = say("take-in", str(tmp_path / "scans"), "--dry-run")
    assert "1990.1.png would go to plate 1990.1" in told
    assert "passed over, as no scans: letter.doc" in told


def test_what_cannot_be_changed_says_what_to_do(say: Say) -> None:
    told = say("decisions", "change", "decision-1", "--words", "other", code=2)
    assert "Add a later one, which takes its place" in told
    assert "wherestood fix PLATE" in say("fixes", "add", code=2)
    assert "Make another one" in say("fixes", "change", "fix-1", code=2)
