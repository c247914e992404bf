"""Check the task that compares a photograph: what it keeps, and when nothing."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from PIL import Image

from wherestood.daybook import Daybook
from wherestood.daybook.keep_photograph import photographs
from wherestood.daybook.tables import Fix, Plate
from wherestood.errors import InputError
from wherestood.plate.scan import Plate as OpenedPlate
from wherestood.progress import SILENT
from wherestood.server.jobs import compare_photograph as job
from wherestood.visit.laid_on_plate import Laying
from wherestood.visit.photograph_compared import Compared
from wherestood.visit.seen_on_both import BothSeen
from wherestood.visit.then_and_now import ThenAndNow

SIZE = (120, 90)
NOT_KNOWN = ["position", "heading", "lens", "time"]


def found() -> Compared:
    y, x = np.mgrid[0:18, 0:24] * 5.0 + 2.5
    laying = Laying(np.stack((x, y), axis=-1), SIZE, 0.6, flat=True)
    told = ThenAndNow(
        np.array([-1.8, 0.1, -0.9]), np.eye(3), 0.0, 0.0, 0.0, 0.0, 100.0,
        BothSeen(np.ones((50, 2)), np.ones((50, 2))), 0, 3, 50, laying, mirrored=False,
    )  # fmt: skip
    return Compared(told, ("You stood there.", "50 things agree."), "day not known")


@pytest.fixture
def asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """A daybook with a fix that need not be opened again, and a photograph sent in."""
    upload = tmp_path / "upload"
    upload.mkdir()
    Image.new("RGB", SIZE, (90, 110, 140)).save(upload / "again.jpg")
    Image.new("L", SIZE, 128).save(tmp_path / "plate.png")
    with Daybook.create(tmp_path / "book") as book, book.writing("Ada") as session:
        plate = Plate(key="VW 14")
        session.add(plate)
        session.flush()
        fix = Fix(
            plate_id=plate.id, made=datetime.now(UTC).isoformat(), version="0",
            verdict="located", lon_deg=8.5, lat_deg=46.1, answer={"station": {}},
        )  # fmt: skip
        session.add(fix)
        session.flush()
        told = {"plate_id": plate.id, "fix_id": fix.id}
    opened = OpenedPlate.open(tmp_path / "plate.png")
    mapping = SimpleNamespace(scan_px=SIZE, caution=lambda: "Not settled.")
    mapping.at_place = lambda _: mapping
    monkeypatch.setattr(
        job, "reopened", lambda *_, **__: SimpleNamespace(plate=opened, land=None)
    )
    monkeypatch.setattr(job, "mapping_of_fix", lambda *_: mapping)
    given = {"upload_id": "a", "not_known": NOT_KNOWN}
    return {"upload": str(upload), "person": "Ada", "given": given, **told}


def kept(asked: dict[str, Any], folder: Path) -> list[Any]:
    with Daybook.open(folder) as book, book.reading() as session:
        return photographs(book, session, asked["plate_id"])


def test_what_was_compared_is_kept_and_what_was_sent_is_let_go(
    asked, tmp_path, monkeypatch
) -> None:
    monkeypatch.setattr(job, "compare_photograph", lambda *_, **__: found())
    result = job.compare_and_keep(asked, str(tmp_path / "book"), SILENT)
    assert result.plate_ids == [asked["plate_id"]]
    assert result.notes[0] == "You stood there."
    [one] = kept(asked, tmp_path / "book")
    assert one.told is not None
    assert one.told["caution"] == "Not settled."
    assert not Path(asked["upload"]).exists()


def test_a_photograph_that_is_refused_leaves_nothing_and_can_be_tried_again(
    asked, tmp_path, monkeypatch
) -> None:
    def refuses(*_: object, **__: object) -> Compared:
        raise InputError("Too little is seen on both.", "Mark things by hand.")

    monkeypatch.setattr(job, "compare_photograph", refuses)
    with pytest.raises(InputError, match="Too little"):
        job.compare_and_keep(asked, str(tmp_path / "book"), SILENT)
    assert kept(asked, tmp_path / "book") == []
    assert (Path(asked["upload"]) / "again.jpg").is_file()
    asked["given"]["not_known"] = []
    with pytest.raises(InputError, match="does not say where"):
        job.compare_and_keep(asked, str(tmp_path / "book"), SILENT)
