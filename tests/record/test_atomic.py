"""Check that files appear whole or not at all."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from wherestood.errors import InputError
from wherestood.record.atomic import folder_at_the_end, write_text_atomically


def test_files_move_into_the_folder_at_the_end(tmp_path: Path) -> None:
    out = tmp_path / "a" / "b"
    with folder_at_the_end(out) as passing:
        (passing / "one.txt").write_text("1")
        assert not (out / "one.txt").exists()
    assert [p.name for p in out.iterdir()] == ["one.txt"]


@pytest.mark.parametrize("stop", [KeyboardInterrupt, ValueError])
def test_an_interruption_leaves_no_trace(
    tmp_path: Path, stop: type[BaseException]
) -> None:
    out = tmp_path / "a" / "b"

    def work() -> None:
        with folder_at_the_end(out) as passing:
            (passing / "one.txt").write_text("1")
            raise stop

    with pytest.raises(stop):
        work()
    assert list(tmp_path.iterdir()) == []


def test_an_interruption_leaves_older_files_alone(tmp_path: Path) -> None:
    (tmp_path / "one.txt").write_text("old")

    def work() -> None:
        with folder_at_the_end(tmp_path) as passing:
            (passing / "one.txt").write_text("new")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        work()
    assert (tmp_path / "one.txt").read_text() == "old"
    assert len(list(tmp_path.iterdir())) == 1


def test_a_file_in_the_way_of_the_folder_is_told(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")

    def work() -> None:
        with folder_at_the_end(tmp_path / "out"):
            pytest.fail("work began")

    with pytest.raises(InputError, match="cannot be written"):
        work()


def test_text_has_the_rights_of_any_new_file(tmp_path: Path) -> None:
    (tmp_path / "plain").write_text("")
    write_text_atomically(tmp_path / "text", "words")
    rights = [stat.S_IMODE((tmp_path / n).stat().st_mode) for n in ("plain", "text")]
    assert rights[0] == rights[1]
    assert (tmp_path / "text").read_text() == "words"


def test_a_missing_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be written"):
        write_text_atomically(tmp_path / "none" / "text", "words")
