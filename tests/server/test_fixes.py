"""Answers are told whole, on the map, beside each other, and what changed since."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import httpx
import jsonschema
import pytest

from wherestood.daybook import Daybook
from wherestood.daybook.keep_answer import KeptAnswer, keep_answer
from wherestood.daybook.left_out import LeftOut, told_without
from wherestood.daybook.question import read_plate
from wherestood.notebook import LocatedPlate
from wherestood.progress import SILENT
from wherestood.record.fix_json import fix_schema
from wherestood.server.jobs import run_fix as running


@pytest.fixture
def folder(answered: tuple[Path, KeptAnswer], tmp_path: Path) -> Path:
    """Return a copy of that daybook, to be written in."""
    return Path(shutil.copytree(answered[0], tmp_path / "valley"))


@pytest.fixture
def kept(answered: tuple[Path, KeptAnswer]) -> KeptAnswer:
    """Return what was kept."""
    return answered[1]


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Draw no pictures."""

    def save(_plate: LocatedPlate, target: Path) -> tuple[Path, ...]:
        target.mkdir(parents=True)
        return ()

    monkeypatch.setattr(LocatedPlate, "save", save)


def test_fix_is_told_whole(client: httpx.Client, kept: KeptAnswer) -> None:
    told = client.get(f"/api/fixes/{kept.id}").json()
    assert told["fix"]["verdict"] == "located"
    jsonschema.validate(
        told["answer"], fix_schema(), cls=jsonschema.Draft202012Validator
    )
    assert {"comparison.png", "map.png"} <= set(told["pictures"])
    screen = told["screen"]
    assert screen["verdict"].startswith("Located to")
    assert "if the camera stood inside the ground searched" in screen["odds"]
    assert screen["sections"][0]["heading"] == "Where"
    assert all(len(run["x_px"]) == len(run["y_px"]) for run in screen["skyline"])
    assert told["changed"] == []


def test_no_word_of_the_trade_of_numbers_is_on_the_screens(
    client: httpx.Client, kept: KeptAnswer
) -> None:
    words = json.dumps(client.get(f"/api/fixes/{kept.id}").json()["screen"]).lower()
    banned = ("posterior", "likelihood", "residual", "covariance", "leave-one-out")
    assert [word for word in banned if word in words] == []


def test_picture_and_published_form_are_given(
    client: httpx.Client, kept: KeptAnswer
) -> None:
    picture = client.get(f"/api/fixes/{kept.id}/pictures/map.png")
    assert picture.headers["content-type"] == "image/png"
    assert picture.content.startswith(b"\x89PNG")
    form = client.get(f"/api/fixes/{kept.id}/fix.json")
    assert "attachment" in form.headers["content-disposition"]
    assert form.json()["wherestood"] == 1


def test_picture_of_a_covered_plate_comes_only_to_who_asks_to_see_it(
    client: httpx.Client, kept: KeptAnswer, plate_id: str
) -> None:
    cover = {
        "about_table": "plates", "about_id": plate_id, "plate_id": plate_id,
        "covered": True, "because": "a burial ground",
    }  # fmt: skip
    assert client.post("/api/items/restrictions", json=cover).status_code == 200
    pictures = f"/api/fixes/{kept.id}/pictures"
    assert client.get(f"{pictures}/comparison.png").status_code == 403
    shown = client.get(f"{pictures}/comparison.png", params={"uncover": True, "px": 64})
    assert shown.content.startswith(b"\x89PNG")
    assert shown.headers["cache-control"] == "no-store"
    # The map shows nothing of the plate.
    assert client.get(f"{pictures}/map.png").status_code == 200


def test_answer_lies_on_the_map_where_it_is(
    client: httpx.Client, kept: KeptAnswer, located: LocatedPlate
) -> None:
    told = client.get(f"/api/fixes/{kept.id}/map").json()
    station = located.station
    assert told["station"]["lon_deg"] == pytest.approx(station.lon_deg, abs=1e-6)
    assert [r["probability"] for r in told["regions"]] == sorted(located.answer.regions)
    assert told["regions"][0]["geometry"]["type"] == "MultiPolygon"
    assert told["regions"][0]["rings_m"] == []


def test_card_shows_the_newest_answer(client: httpx.Client, kept: KeptAnswer) -> None:
    card = client.get("/api/plates").json()["cards"][0]
    assert (card["fix_id"], card["verdict"]) == (kept.id, "located")
    assert 0.0 < card["field_deg"] < 90.0
    places = client.get("/api/plates/places").json()
    assert places["lon_deg"] == [card["lon_deg"]]
    assert client.get("/api/plates?verdict=none").json()["total"] == 0
    assert client.get("/api/plates?verdict=located").json()["total"] == 1


def test_what_changed_since_is_told(
    client: httpx.Client, kept: KeptAnswer, plate_id: str
) -> None:
    client.patch(f"/api/items/plates/{plate_id}", json={"size": "half plate"})
    changed = client.get(f"/api/fixes/{kept.id}").json()["changed"]
    assert len(changed) == 1
    assert "size" in changed[0]
    assert "Ada Moss" in changed[0]


@pytest.mark.usefixtures("undrawn")
def test_two_runs_are_set_beside_each_other(
    client: httpx.Client, kept: KeptAnswer, folder: Path, located: LocatedPlate
) -> None:
    with Daybook.open(folder) as book:
        read = read_plate(book, "1987.12")
        other = keep_answer(book, read, located, "Ada Moss")
    told = client.get("/api/fixes/compare", params={"a": kept.id, "b": other.id})
    assert told.json()["apart_m"] == 0.0
    assert any("Both say located" in line for line in told.json()["sentences"])


def test_fix_made_elsewhere_has_no_screen_and_is_told_all_the_same(
    client: httpx.Client, kept: KeptAnswer, folder: Path
) -> None:
    shutil.rmtree(folder / "out" / "1987.12")
    told = client.get(f"/api/fixes/{kept.id}").json()
    assert told["screen"] is None
    assert told["pictures"] == []
    assert told["words"]


def test_run_that_lacks_something_says_what_and_what_to_do(
    client: httpx.Client, plate_id: str
) -> None:
    client.patch(f"/api/items/plates/{plate_id}", json={"ground_searched": None})
    answer = client.post(f"/api/plates/{plate_id}/fixes", json={})
    assert answer.status_code == 409
    assert "where to search" in answer.json()["problem"]
    assert answer.json()["remedy"]
    far = {"ground_searched": "100.0,10.0,2km"}
    client.patch(f"/api/items/plates/{plate_id}", json=far)
    missing = client.get(f"/api/plates/{plate_id}").json()["ready"]["missing"]
    assert [one["what"] for one in missing] == ["terrain"]
    assert client.get(f"/api/plates/{plate_id}/ground").status_code == 400


@pytest.mark.parametrize("typed", ["/etc/passwd", "../../../etc/passwd"])
def test_ground_searched_is_no_way_to_read_files(
    client: httpx.Client, plate_id: str, typed: str
) -> None:
    before = client.get(f"/api/items/plates/{plate_id}").json()["ground_searched"]
    answer = client.patch(
        f"/api/items/plates/{plate_id}", json={"ground_searched": typed}
    )
    assert answer.status_code == 400
    assert "root" not in answer.text
    after = client.get(f"/api/items/plates/{plate_id}").json()["ground_searched"]
    assert after == before


def test_item_taken_out_of_a_run_does_not_count_in_it(
    client: httpx.Client, folder: Path, plate_id: str
) -> None:
    summit = client.get("/api/items/features").json()["items"][0]
    marks = []
    for key, x in (("A", 320.0), ("B", 100.0)):
        letter = client.post(
            f"/api/plates/{plate_id}/letter",
            json={"what": "a top", "points_px": [[x, 160.0]], "key": key},
        ).json()
        marks.append(letter["mark"])
        client.post(f"/api/marks/{letter['mark']['id']}/tie", json={
            "feature_id": summit["id"]
        })  # fmt: skip
    with Daybook.open(folder) as book:
        read = read_plate(book, plate_id)
    counting = told_without(read.told, LeftOut((marks[0]["id"],)))
    assert [row["id"] for row in counting.document["mark"]] == ["B"]
    without = tuple(mark["id"] for mark in marks)
    assert "skyline" in told_without(read.told, LeftOut(without)).document
    assert told_without(read.told, LeftOut(without, no_skyline=True)).is_empty


@pytest.mark.usefixtures("undrawn")
def test_run_opens_searches_and_keeps(
    client: httpx.Client,
    folder: Path,
    plate_id: str,
    located: LocatedPlate,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """All but the search itself, which has tests of its own."""
    asked: dict[str, Any] = {}

    def search(plate: Any, land: Any, evidence: Any, **given: Any) -> LocatedPlate:
        asked.update(given, plate=plate, land=land, evidence=evidence)
        return located

    monkeypatch.setattr(running.notebook, "locate", search)
    client.put(f"/api/plates/{plate_id}/skyline", json={"runs": []})
    job = {"plate_id": plate_id, "person": "Ada Moss", "near_enough_m": 50.0}
    result = running.run_fix(job, str(folder), SILENT)
    assert asked["settings"].near_enough_m == 50.0
    assert asked["plate"].width_px == 640
    assert asked["land"].surface == "ground"
    # Nobody traced a skyline, so the machine did.
    assert len(asked["evidence"].evidence.skylines) == 1
    fix = client.get(f"/api/fixes/{result.fix_id}").json()
    assert fix["fix"]["plate_id"] == plate_id
    assert fix["screen"] is not None
    # What the machine read off the plate for it stands on the plate, to be mended.
    line = client.get(f"/api/plates/{plate_id}/skyline").json()
    assert line["evidence_id"] == result.evidence_id
    assert fix["changed"] == []
