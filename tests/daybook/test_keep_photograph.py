"""Check that a photograph made on the spot is kept, told again and undone; invented."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from wherestood.daybook import Daybook, find
from wherestood.daybook.keep_photograph import (
    folder_of_photograph,
    keep_photograph,
    photographs,
)
from wherestood.daybook.replay import disagreements
from wherestood.daybook.tables import Plate
from wherestood.daybook.undo import undo
from wherestood.plate.photograph import read_photograph
from wherestood.plate.scan import Plate as OpenedPlate
from wherestood.visit.laid_on_plate import Laying
from wherestood.visit.photograph_compared import Compared
from wherestood.visit.seen_on_both import BothSeen
from wherestood.visit.then_and_now import ThenAndNow

SIZE = (120, 90)


@pytest.fixture
def found() -> Compared:
    """Both pictures lie on one another pixel by pixel; 1.8 m too far left."""
    y, x = np.mgrid[0:18, 0:24] * 5.0 + 2.5
    pairs = BothSeen(np.ones((50, 2)), np.ones((50, 2)))
    laying = Laying(np.stack((x, y), axis=-1), SIZE, 0.6, flat=True)
    told = ThenAndNow(
        np.array([-1.8, 0.1, -0.9]), np.diag([0.04, 0.09, 0.01]), 0.0, 0.0, 0.0, 0.0,
        100.0, pairs, 0, 3, 50, laying, mirrored=False,
    )  # fmt: skip
    return Compared(told, ("You stood there.", "50 things agree."), "2026-05-31 10:20")


def test_photograph_is_kept_in_one_act_told_again_and_undone(
    tmp_path: Path, found: Compared
) -> None:
    tones = np.random.default_rng(1).integers(0, 255, (90, 120, 3)).astype(np.uint8)
    for name in ("plate.png", "IMG_7.JPG"):
        Image.fromarray(tones).save(tmp_path / name)
    photo = read_photograph(tmp_path / "IMG_7.JPG")
    opened = OpenedPlate.open(tmp_path / "plate.png")
    with Daybook.create(tmp_path / "book") as book:
        with book.writing("Ada") as session:
            plate = Plate(key="VW 14", title="Invented")
            session.add(plate)
            session.flush()
            plate_id = plate.id
        given = (
            book, plate_id, "fix-1", tmp_path / "IMG_7.JPG", photo, opened, found,
            "Not settled.", "Ada",
        )  # fmt: skip
        source = keep_photograph(*given)
        folder = folder_of_photograph(book, "VW 14", source)
        names = {one.name for one in folder.iterdir()}
        assert names == {
            "then-and-now.html", "then.tif", "now.tif", "told.json", "photograph.jpg",
        }  # fmt: skip
        assert "Not settled." in (folder / "then-and-now.html").read_text("utf-8")
        with book.reading() as session:
            [kept] = photographs(book, session, plate_id)
        assert kept.source == source
        assert "IMG_7.JPG, 2026-05-31 10:20" in kept.citation
        assert kept.told is not None
        assert kept.told["offset"]["right_m"] == -1.8
        # Without its pictures the words are left.
        (folder / "now.tif").unlink()
        with book.reading() as session:
            [kept] = photographs(book, session, plate_id)
        assert kept.told is None
        assert kept.sentences == ("You stood there. 50 things agree.",)
        undo(book, "Ada")
        with book.reading() as session:
            assert photographs(book, session, plate_id) == []
            assert disagreements(session) == []


def test_photograph_whose_pictures_cannot_be_written_is_not_kept(
    tmp_path: Path, found: Compared, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object, **__: object) -> None:
        raise OSError("no space left")

    monkeypatch.setattr("wherestood.daybook.keep_photograph.write_then_and_now", fails)
    Image.new("RGB", SIZE).save(tmp_path / "a.png")
    photo = read_photograph(tmp_path / "a.png")
    opened = OpenedPlate.open(tmp_path / "a.png")
    with Daybook.create(tmp_path / "book") as book:
        with book.writing("Ada") as session:
            session.add(Plate(key="A"))
        with book.reading() as session:
            plate_id = find(session, Plate, "A").id
        with pytest.raises(OSError, match="no space"):
            keep_photograph(
                book, plate_id, "fix-1", tmp_path / "a.png", photo, opened, found, "",
                "Ada",
            )  # fmt: skip
        with book.reading() as session:
            assert photographs(book, session, plate_id) == []
