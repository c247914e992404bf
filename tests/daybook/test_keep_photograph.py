"""Check that a photograph made on the spot is kept, told again and undone; invented."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from wherestood.daybook import Daybook, find
from wherestood.daybook.change_items import add_item, change_item
from wherestood.daybook.handing_out import Wanted, gather
from wherestood.daybook.handing_out_files import hand_out
from wherestood.daybook.handing_out_then_and_now import kept_photographs
from wherestood.daybook.keep_photograph import (
    folder_of_photograph,
    keep_photograph,
    photographs,
)
from wherestood.daybook.originals import take_in
from wherestood.daybook.replay import disagreements
from wherestood.daybook.tables import Plate
from wherestood.daybook.undo import undo
from wherestood.errors import InputError
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


def test_what_was_kept_goes_along_on_the_page_where_it_may(
    tmp_path: Path, found: Compared
) -> None:
    tones = np.random.default_rng(1).integers(0, 255, (90, 120, 3)).astype(np.uint8)
    for name in ("plate.png", "IMG_7.jpg"):
        Image.fromarray(tones).save(tmp_path / name)
    with Daybook.create(tmp_path / "book") as book:
        take_in(book, "VW 14", tmp_path / "plate.png", "Ada", new_plate={})
        with book.reading() as session:
            plate_id = find(session, Plate, "VW 14").id
        source = keep_photograph(
            book, plate_id, "fix-1", tmp_path / "IMG_7.jpg",
            read_photograph(tmp_path / "IMG_7.jpg"),
            OpenedPlate.open(tmp_path / "plate.png"), found, "", "Ada",
        )  # fmt: skip
        with book.reading() as session:
            assert list(kept_photographs(book, session)) == [plate_id]
        asked = Wanted("public", photographs=True)
        (alone,) = gather(book, Wanted("public")).handed.plates
        assert alone.then_and_now is None  # only where it is asked for
        made = hand_out(book, tmp_path / "one", asked, ("page",))
        assert {"page/VW_14-then.jpg", "page/VW_14-now.jpg"} <= set(made.files)
        assert (
            "Now: UNKNOWN, licence UNKNOWN." in (made.path / "index.html").read_text()
        )
        with Image.open(made.path / "page" / "VW_14-now.jpg") as shown:
            assert dict(shown.getexif()) == {}
        # Somebody's terms: it is asked about, and stays out.
        fields = {
            "what": "modern photograph", "holder": "B. Hale", "terms": "not online",
            "may_be_published": False,
        }  # fmt: skip
        add_item(book, "rights", fields, "Ada", about=("sources", source))
        with pytest.raises(InputError, match="not online"):
            hand_out(book, tmp_path / "two", asked, ("page",))
        (told,) = gather(book, asked).handed.plates
        assert told.then_and_now is None
        (full,) = gather(book, Wanted("full", photographs=True)).handed.plates
        assert full.then_and_now is not None
        assert full.then_and_now.credit == "Now: B. Hale, licence UNKNOWN."
        # Of a place that is not told it stays out, and that is said.
        fields = {"precision": "1 km"}
        add_item(book, "restrictions", fields, "Ada", about=("plates", "VW 14"))
        change_item(book, "rights", "right-1", {"may_be_published": True}, "Ada")
        gathered = gather(book, asked)
        assert gathered.handed.plates[0].then_and_now is None
        (out,) = gathered.left_out[-1:]
        assert out.sentence() == (
            "VW 14: the photograph made on the spot left out (it shows the place)."
        )
