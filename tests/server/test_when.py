"""The date of a plate is told with all that dates it."""

from __future__ import annotations

import httpx
import pytest


def _date(client: httpx.Client, plate_id: str, of: str, edtf: str) -> None:
    values = {"plate_id": plate_id, "of": of, "edtf": edtf, "trust": 1.0}
    answer = client.post("/api/items/dates", json=values)
    assert answer.status_code == 200, answer.text


def test_a_date_comes_with_every_month_and_what_counts(
    client: httpx.Client, plate_id: str
) -> None:
    _date(client, plate_id, "shown, built", "1873-01")
    _date(client, plate_id, "published", "1874-12")
    answer = client.get(f"/api/plates/{plate_id}/when", params={"between": "1870/1879"})
    assert answer.status_code == 200, answer.text
    told = answer.json()
    # Two years alike: 24 months, of which 22 hold nine tenths.
    assert told["nine_in_ten"]["words"] == "January 1873 to October 1874"
    assert sum(told["by_month"]) == pytest.approx(1.0, abs=1e-3)
    assert (told["first_month"], len(told["by_month"])) == ("1873-01", 24)
    assert [len(each["what"]) for each in told["contributions"]] == [1, 1]
    assert told["sun"] is None


def test_a_contradiction_is_named(client: httpx.Client, plate_id: str) -> None:
    _date(client, plate_id, "shown, built", "1876")
    _date(client, plate_id, "published", "1874")
    told = client.get(f"/api/plates/{plate_id}/when").json()
    assert told["possible"] is False
    assert len(told["contradict"]) == 2
    assert told["nine_in_ten"] is None


def test_what_cannot_be_used_is_told_as_trouble(
    client: httpx.Client, plate_id: str
) -> None:
    path = f"/api/plates/{plate_id}/when"
    refused = client.get(path, params={"period": "wet colodion"})
    assert refused.status_code == 400
    assert "Near names" in refused.json()["remedy"]
    no_fix = client.get(path, params={"shadow": "1,2:3,4:1,1"})
    assert no_fix.status_code == 400
    assert "no fix yet" in no_fix.json()["problem"]


OWN = """
[[period]]
name = "Fell's blue mounts"
kind = "mount"
dates = "exposure"
first = 1870
general_from = 1870
general_to = 1872
last = 1872
trust = 1.0
"""


def test_a_region_s_own_table_is_kept_and_dates_a_plate(
    client: httpx.Client, plate_id: str
) -> None:
    table = {"name": "fell.toml", "text": OWN}
    told = client.patch("/api/region", json={"periods": table}).json()
    assert "Fell's blue mounts" in told["period_names"]
    assert "wet collodion negative" in told["period_names"]
    item = {
        "plate_id": plate_id,
        "kind": "period",
        "content": {"name": "Fell's blue mounts"},
    }
    assert client.post("/api/items/evidence", json=item).status_code == 200
    dated = client.get(f"/api/plates/{plate_id}/when").json()
    assert (dated["first_month"], len(dated["by_month"])) == ("1870-01", 36)
    # One that cannot be read changes nothing, and none takes it away.
    wrong = {"periods": {"name": "x", "text": "[[period]]\nname = 3"}}
    assert client.patch("/api/region", json=wrong).status_code == 400
    assert client.get("/api/region").json()["periods"] == table
    client.patch("/api/region", json={"periods": None})
    dated = client.get(f"/api/plates/{plate_id}/when").json()
    assert any("is left out" in one for one in dated["left_out"])


def test_a_calendar_not_said_is_asked_about_where_both_were_kept(
    client: httpx.Client, plate_id: str
) -> None:
    _date(client, plate_id, "exposed", "1871-05-03")
    for edtf in ("1871-05-03 N.S.", "1871-04-21 O.S.", "1871"):
        _date(client, plate_id, "exposed", edtf)
    assert client.get(f"/api/plates/{plate_id}/when").json()["left_out"] == []
    client.patch("/api/region", json={"julian": True})
    (asked,) = client.get(f"/api/plates/{plate_id}/when").json()["left_out"]
    assert asked.startswith(
        "date-1 may be of another calendar: Nothing says which calendar it is of"
    )


def test_boxes_are_kept_on_shelves_and_weighed(
    client: httpx.Client, plate_id: str
) -> None:
    box = {"shelf": "A", "lots": ["120,216x165mm,2"], "plate_ids": [plate_id]}
    kept = client.put("/api/plate_store/boxes/Box 3", json=box | {"limit_kg": 20})
    assert kept.status_code == 200, kept.text
    (shelf,) = kept.json()["shelves"]
    # 120 times 216 mm x 165 mm x 2 mm x 2.5 g/cm3, and one plate more.
    assert shelf["boxes"][0]["glass_kg"] == pytest.approx(120 * 0.1782 + 0.1, abs=0.1)
    assert shelf["boxes"][0]["holds"][0] == "120 of 216x165mm"
    assert shelf["share"] > 1.0
    assert "too much" in shelf["words"]
    assert kept.json()["cautions"][0].startswith("A conservator's word goes first")
    wrong = {"shelf": "A", "lots": ["some"]}
    assert client.put("/api/plate_store/boxes/Box 4", json=wrong).status_code == 400
    left = client.delete("/api/plate_store/boxes/Box 3").json()
    assert (left["shelves"], left["in_no_box"]["plates"]) == ([], 1)
    assert client.delete("/api/plate_store/boxes/Box 3").status_code == 400


def test_where_a_maker_was_is_told_with_its_source(client: httpx.Client) -> None:
    def add(table: str, **values: object) -> str:
        answer = client.post(f"/api/items/{table}", json=values)
        assert answer.status_code == 200, answer.text
        return str(answer.json()["id"])

    maker = add("makers", name="B. Hale")
    paper = add("sources", citation="Vellin Herald, 12 June 1877", kind="newspaper")
    where = {"maker_id": maker, "lon_deg": 170.5, "lat_deg": -45.9, "by": "coach"}
    add(
        "statements", about="maker", words="Mr Hale is at the Ferry Hotel",
        means_edtf="1877-06-12", source_id=paper, more=where,
    )  # fmt: skip
    (told,) = client.get(f"/api/makers/{maker}/journeys").json()["whereabouts"]
    assert told["first_day"] == told["last_day"] == "1877-06-12"
    assert (told["by"], told["source"]) == ("coach", "Vellin Herald, 12 June 1877")
