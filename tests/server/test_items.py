"""Items of every table are added, changed, set aside and taken back alike."""

from __future__ import annotations

from typing import Any

import httpx
import pytest

from wherestood.daybook.tables import ITEMS
from wherestood.server.forms.items import ITEM_FORMS, NOT_ADDED


def add(client: httpx.Client, table: str, **values: Any) -> dict[str, Any]:
    answer = client.post(f"/api/items/{table}", json=values)
    assert answer.status_code == 200, answer.text
    told: dict[str, Any] = answer.json()
    return told


def test_every_table_has_its_routes() -> None:
    assert set(ITEM_FORMS) == set(ITEMS) - {"fix_inputs"}
    without = {table for table, forms in ITEM_FORMS.items() if forms.new is None}
    assert without == set(NOT_ADDED) - {"fix_inputs"}


def test_every_table_can_be_listed(client: httpx.Client) -> None:
    for table in ITEM_FORMS:
        answer = client.get(f"/api/items/{table}")
        assert answer.status_code == 200, answer.text
        assert answer.json()["total"] == len(answer.json()["items"])


def test_item_is_added_changed_and_set_aside(
    client: httpx.Client, plate_id: str
) -> None:
    lead = add(client, "leads", plate_id=plate_id, what="rate book of 1871")
    assert lead["state"] == "to do"
    path = f"/api/items/leads/{lead['id']}"
    changed = client.patch(path, json={"state": "asked"}).json()
    assert (changed["state"], changed["what"]) == ("asked", "rate book of 1871")
    assert client.delete(path).json()["removed"] is True
    assert client.get("/api/items/leads").json()["total"] == 0
    assert client.patch(path, json={"removed": False}).json()["removed"] is False


def test_null_empties_a_field_and_absence_leaves_it(
    client: httpx.Client, plate_id: str
) -> None:
    path = f"/api/items/plates/{plate_id}"
    client.patch(path, json={"note": "a note", "place_words": "the mill"})
    told = client.patch(path, json={"note": None}).json()
    assert told["note"] is None
    assert told["place_words"] == "the mill"


def test_older_revision_is_refused(client: httpx.Client, plate_id: str) -> None:
    path = f"/api/items/plates/{plate_id}"
    read = client.get(path).json()["revision"]
    client.patch(path, json={"note": "first tab"})
    late = client.patch(path, json={"note": "second tab", "revision": read})
    assert late.status_code == 409
    assert "changed meanwhile" in late.json()["problem"]
    assert client.get(path).json()["note"] == "first tab"


def test_several_are_changed_in_one_act_and_taken_back_together(
    client: httpx.Client,
) -> None:
    ids = [add(client, "plates", key=key)["id"] for key in ("a", "b", "c")]
    answer = client.patch(
        "/api/items/plates", json={"ids": ids, "values": {"collection": "Box 3"}}
    )
    assert [one["collection"] for one in answer.json()["items"]] == ["Box 3"] * 3
    assert client.post("/api/undo").json()["changes"] == 3
    for one in ids:
        assert client.get(f"/api/items/plates/{one}").json()["collection"] is None
    client.post("/api/redo")
    assert client.get(f"/api/items/plates/{ids[0]}").json()["collection"] == "Box 3"


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"grade": "splendid"}, "grade"),
        ({"near_enough_m": -3.0}, "near enough [m]"),
        ({"title": "a\u0001b"}, "control character"),
        ({"titel": "x"}, "titel"),
        ({"maker_id": "nobody"}, ""),
    ],
)
def test_what_cannot_be_is_refused_and_named(
    client: httpx.Client, plate_id: str, values: dict[str, Any], said: str
) -> None:
    answer = client.patch(f"/api/items/plates/{plate_id}", json=values)
    assert 400 <= answer.status_code < 500, answer.text
    told = answer.json()
    assert set(told) == {"problem", "remedy", "field"}
    assert said in f"{told['problem']} {told['field']} {told['remedy']}"
    assert client.get(f"/api/items/plates/{plate_id}").json()["title"] == "The mill"


def test_what_is_not_there_is_told_so(client: httpx.Client) -> None:
    answer = client.get("/api/items/plates/nothing")
    assert answer.status_code == 404
    assert answer.json()["problem"]
    assert client.get("/api/nowhere").status_code == 404


def test_decision_is_completed_and_kept(client: httpx.Client, plate_id: str) -> None:
    wrong = {"conclusion": "rejected", "words": "the hill is wrong"}
    made = add(client, "decisions", plate_id=plate_id, **wrong)
    assert made["decided_by"] == "Ada Moss"
    assert made["decided"]
    again = client.patch(f"/api/items/decisions/{made['id']}", json={"words": "no"})
    assert again.status_code == 400
    right = {"conclusion": "accepted", "words": "it fits"}
    second = add(client, "decisions", plate_id=plate_id, **right)
    assert second["supersedes_id"] == made["id"]
    assert client.get("/api/plates").json()["cards"][0]["decision"] == "accepted"


def test_history_says_what_undo_would_take_back(
    client: httpx.Client, plate_id: str
) -> None:
    client.patch(f"/api/items/plates/{plate_id}?why=misread", json={"title": "Mill"})
    told = client.get("/api/history", params={"plate_id": plate_id}).json()
    assert told["entries"][-1]["why"] == "misread"
    assert "The mill" in told["can_undo"]
    assert told["can_redo"] is None
    client.post("/api/undo")
    assert client.get("/api/history").json()["can_redo"]
    assert client.post("/api/undo", json={"act": "ffffffff"}).status_code == 400


def test_cover_stands_on_card_and_picture(
    client: httpx.Client, plate_id: str, scan_id: str
) -> None:
    path = f"/api/scans/{scan_id}/thumbnail"
    assert client.get(path).headers["content-type"] == "image/webp"
    about = {"about_table": "plates", "about_id": plate_id}
    add(client, "restrictions", **about, covered=True, because="a burial ground")
    card = client.get("/api/plates").json()["cards"][0]
    assert (card["covered"], card["cover_because"]) == (True, "a burial ground")
    assert client.get(path).status_code == 403
    assert client.get(path, params={"uncover": True}).status_code == 200


@pytest.mark.parametrize("text", ["by the bridge", "48°52'S 122°48'W, 4 km", "/etc"])
def test_ground_searched_that_cannot_be_read_is_refused_and_not_kept(
    client: httpx.Client, plate_id: str, text: str
) -> None:
    path = f"/api/items/plates/{plate_id}"
    before = client.get(path).json()["ground_searched"]
    answer = client.patch(path, json={"ground_searched": text})
    assert answer.status_code == 400
    assert "3km" in answer.json()["remedy"]
    assert "file" not in answer.json()["problem"]
    assert client.get(path).json()["ground_searched"] == before


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        ("scans", "file", "/etc/passwd"),
        ("scans", "kept", "left in place"),
        ("scans", "sha256", "0" * 64),
        ("plans", "file", "/etc/passwd"),
        ("terrain_layers", "files", []),
    ],
)
def test_where_files_lie_is_not_written_from_the_page(
    client: httpx.Client, table: str, column: str, value: Any
) -> None:
    assert column not in ITEM_FORMS[table].change.model_fields
    answer = client.patch(
        f"/api/items/{table}", json={"ids": [], "values": {column: value}}
    )
    assert answer.status_code == 400


def test_undo_takes_the_act_that_its_button_names(
    client: httpx.Client, plate_id: str
) -> None:
    path = f"/api/items/plates/{plate_id}"
    client.patch(path, json={"note": "seen by the person"})
    seen = client.get("/api/history", params={"last": 1}).json()
    assert "seen by the person" in seen["can_undo"]
    client.patch(path, json={"place_words": "written by another window"})
    client.post("/api/undo", json={"act": seen["undo_act"]})
    told = client.get(path).json()
    assert told["note"] is None
    assert told["place_words"] == "written by another window"
