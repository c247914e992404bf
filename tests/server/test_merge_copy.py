"""Another copy of the daybook is merged from the page, and looked at before."""

from __future__ import annotations

import shutil
from pathlib import Path

import httpx
import pytest

from wherestood.daybook import Daybook
from wherestood.daybook.tables import Lead
from wherestood.errors import InputError
from wherestood.progress import SILENT
from wherestood.server.jobs.merge_copy import merge_copy


@pytest.fixture
def other(folder: Path, tmp_path: Path) -> Path:
    """Return a copy in which somebody else wrote a lead down."""
    copy = Path(shutil.copytree(folder, tmp_path / "theirs"))
    with Daybook.open(copy) as book, book.writing("Ben Fell") as session:
        session.add(Lead(what="ask at the mill", state="to do"))
    return copy


def test_copy_is_compared_before_it_is_merged(
    client: httpx.Client, folder: Path, other: Path
) -> None:
    asked = {"folder": str(other), "person": "Ada Moss", "dry_run": True}
    would = merge_copy(asked, str(folder), SILENT)
    assert "would be added 1" in would.notes[0]
    assert client.get("/api/items/leads").json()["total"] == 0
    done = merge_copy({**asked, "dry_run": False}, str(folder), SILENT)
    assert "added 1" in done.notes[0]
    leads = client.get("/api/items/leads").json()["items"]
    assert [lead["what"] for lead in leads] == ["ask at the mill"]


def test_daybook_is_not_merged_into_itself_or_with_nothing(
    client: httpx.Client, folder: Path, tmp_path: Path
) -> None:
    itself = client.post("/api/daybook/merge", json={"folder": str(folder)})
    assert itself.status_code == 400
    gone = {"folder": str(tmp_path / "gone"), "person": "Ada Moss"}
    with pytest.raises(InputError, match="nothing at"):
        merge_copy(gone, str(folder), SILENT)
