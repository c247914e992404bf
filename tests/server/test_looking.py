"""What is read off a plate is kept, mended, lettered and tied."""

from __future__ import annotations

from typing import Any

import httpx
import numpy as np
import pytest

from wherestood.daybook.skylines import keep_ridges
from wherestood.errors import InputError
from wherestood.plate.skyline import Skyline
from wherestood.progress import SILENT
from wherestood.server.desk import Desk
from wherestood.server.jobs.trace_plate import trace_plate

ONE_PIXEL = 1.0


def traced(desk: Desk, plate_id: str, **more: Any) -> Any:
    """Trace as a worker does."""
    assert desk.book is not None
    asked = {"plate_id": plate_id, "person": "Ada Moss", **more}
    return trace_plate(asked, str(desk.book.folder), SILENT)


def test_machine_traces_and_a_person_mends(
    client: httpx.Client, desk: Desk, plate_id: str, valley: Any
) -> None:
    result = traced(desk, plate_id)
    told = client.get(f"/api/plates/{plate_id}/skyline").json()
    assert told["evidence_id"] == result.evidence_id
    assert told["by_hand"] is False
    x_px = np.concatenate([run["x_px"] for run in told["runs"]])
    y_px = np.concatenate([run["y_px"] for run in told["runs"]])
    off = y_px - valley.skyline_px(x_px)
    assert np.sqrt(np.mean(off**2)) < ONE_PIXEL
    halves = [
        {"x_px": list(x_px[:200]), "y_px": list(y_px[:200])},
        {"x_px": list(x_px[260:]), "y_px": list(y_px[260:])},
    ]
    mended = client.put(f"/api/plates/{plate_id}/skyline", json={"runs": halves})
    assert mended.json()["by_hand"] is True
    assert mended.json()["evidence_id"] == result.evidence_id
    assert [len(run["x_px"]) for run in mended.json()["runs"]] == [
        200,
        len(x_px) - 260,
    ]
    client.post("/api/undo")
    again = client.get(f"/api/plates/{plate_id}/skyline").json()
    assert again["by_hand"] is False
    assert sum(len(run["x_px"]) for run in again["runs"]) == len(x_px)


def test_skyline_that_cannot_be_is_refused_and_the_old_one_stays(
    client: httpx.Client, plate_id: str
) -> None:
    path = f"/api/plates/{plate_id}/skyline"
    good = {"x_px": list(range(10, 110, 2)), "y_px": [200.0] * 50}
    client.put(path, json={"runs": [good]})
    for bad in (
        {"x_px": [5.0, 4.0] * 20, "y_px": [100.0] * 40},
        {"x_px": list(range(30)), "y_px": [9999.0] * 30},
        {"x_px": [1.0, 2.0], "y_px": [1.0, 2.0]},
        {"x_px": list(range(30)), "y_px": [1.0] * 29},
    ):
        answer = client.put(path, json={"runs": [bad]})
        assert answer.status_code == 400
        assert answer.json()["remedy"]
    assert len(client.get(path).json()["runs"][0]["x_px"]) == 50
    gone = client.put(path, json={"runs": []}).json()
    assert gone["evidence_id"] is None


def test_pen_snaps_to_the_edge_that_was_drawn_along(
    client: httpx.Client, plate_id: str, valley: Any
) -> None:
    x_px = np.arange(120.0, 521.0, 50.0)
    drawn = valley.skyline_px(x_px) + np.array([0, 4, -5, 3, -4, 5, -3, 4, 0])
    drawn[[0, -1]] = valley.skyline_px(x_px[[0, -1]])
    # A hand sets some points; the pen finds the way between the first and the last.
    points = [[float(x), float(y)] for x, y in zip(x_px, drawn, strict=True)]
    answer = client.post(
        f"/api/plates/{plate_id}/snap",
        json={"points": [points[0], points[-1]], "reach_px": 200.0},
    )
    line = answer.json()
    off = np.asarray(line["y_px"]) - valley.skyline_px(np.asarray(line["x_px"]))
    assert np.sqrt(np.mean(off**2)) < ONE_PIXEL
    assert line["x_px"] == sorted(line["x_px"])
    back = client.post(
        f"/api/plates/{plate_id}/snap", json={"points": [points[3], points[1]]}
    )
    assert back.status_code == 400


def test_skyline_is_unrolled_over_true_bearing(
    client: httpx.Client, plate_id: str, valley: Any
) -> None:
    x_px = np.linspace(20.0, 620.0, 61)
    run = {"x_px": list(x_px), "y_px": [240.0] * 61}
    client.put(f"/api/plates/{plate_id}/skyline", json={"runs": [run]})
    camera = {"bearing_deg": 359.0, "principal_distance_px": 640.0}
    told = client.post(f"/api/plates/{plate_id}/unrolled", json=camera).json()
    bearing = np.asarray(told["runs"][0]["bearing_deg"])
    wanted = 359.0 + np.degrees(np.arctan((x_px - valley.WIDTH_PX / 2) / 640.0))
    assert bearing == pytest.approx(wanted, abs=1e-3)
    assert np.asarray(told["runs"][0]["elevation_deg"]) == pytest.approx(0.0, abs=1e-3)
    half = np.degrees(np.arctan(0.5))
    assert told["edges_deg"] == pytest.approx([359.0 - half, 359.0 + half])


def test_letter_and_mark_are_one_act(client: httpx.Client, plate_id: str) -> None:
    told = client.post(
        f"/api/plates/{plate_id}/letter",
        json={"what": "a chimney", "points_px": [[100.25, 200.5]], "sd_px": 1.5},
    ).json()
    assert told["detail"]["key"] == "A"
    assert told["mark"]["points_px"] == [[100.25, 200.5]]
    assert told["mark"]["detail_id"] == told["detail"]["id"]
    second = client.post(f"/api/plates/{plate_id}/letter", json={"what": "b"}).json()
    assert second["detail"]["key"] == "B"
    assert second["mark"] is None
    client.post("/api/undo")
    client.post("/api/undo")
    whole = client.get(f"/api/plates/{plate_id}").json()
    assert (whole["details"], whole["marks"]) == ([], [])


def test_mark_is_tied_to_a_place_on_the_map_and_counts(
    client: httpx.Client, plate_id: str, valley: Any
) -> None:
    told = client.post(
        f"/api/plates/{plate_id}/letter",
        json={"what": "a top", "points_px": [[320.0, 160.0]]},
    ).json()
    lon, lat = valley.lonlat(100.0, 200.0)
    tied = client.post(
        f"/api/marks/{told['mark']['id']}/tie",
        json={"lon_deg": lon, "lat_deg": lat, "what": "chimney", "sd_m": 4.0},
    ).json()
    assert len(tied["features"]) == 1
    [entry] = client.get("/api/history", params={"last": 1}).json()["entries"]
    [said] = [one for one in entry["sentences"] if "mark" in one]
    assert said.endswith(f"features from nothing to {tied['features'][0]['feature']}.")
    counts = client.get(f"/api/plates/{plate_id}/evidence").json()
    assert counts["document"]["mark"][0]["feature"] == tied["features"][0]["feature"]
    assert counts["item_ids"]["A"] == tied["id"]
    whole = client.get(f"/api/plates/{plate_id}").json()
    assert [f["what"] for f in whole["features"]] == ["chimney"]
    client.post(f"/api/marks/{told['mark']['id']}/tie", json={"untie": True})
    again = client.get(f"/api/plates/{plate_id}").json()
    assert again["marks"][0]["features"] is None
    assert again["details"][0]["feature_id"] is None
    nowhere = client.post(f"/api/marks/{told['mark']['id']}/tie", json={})
    assert nowhere.status_code == 400


def test_what_would_not_count_is_told_with_its_item(
    client: httpx.Client, plate_id: str
) -> None:
    mast = {"key": "mast", "what": "mast"}  # which nobody says where it stands
    feature = client.post("/api/items/features", json=mast).json()
    given: dict[str, object] = {
        "plate_id": plate_id,
        "key": "A",
        "shape": "point",
        "points_px": [[9000.0, 5.0]],
        "features": [{"feature": "mast"}],
    }
    off = client.post("/api/items/marks", json=given)
    assert off.status_code == 400
    assert "9000, 5 px, off its scan" in off.text
    given["points_px"] = [[90.0, 5.0]]
    assert client.post("/api/items/marks", json=given).status_code == 200
    ready = client.get(f"/api/plates/{plate_id}").json()["ready"]
    assert ready["can_run"]
    complaint = ready["complaints"][0]
    assert complaint["item_id"] == feature["id"]
    assert "mast" in complaint["sentence"]


def test_only_what_may_have_stood_is_offered(
    client: httpx.Client, plate_id: str
) -> None:
    client.post(
        "/api/items/dates", json={"plate_id": plate_id, "edtf": "1871", "of": "exposed"}
    )
    later = {"key": "dam", "what": "dam", "existed_from_edtf": "1950"}
    client.post("/api/items/features", json=later)
    path = f"/api/plates/{plate_id}/offered"
    assert [one["key"] for one in client.get(path).json()] == ["summit"]
    every = client.get(path, params={"all_of_them": True}).json()
    assert {one["key"]: one["standing"] for one in every} == {
        "summit": "not known",
        "dam": "did not stand",
    }


def test_machine_offers_ridge_lines_and_a_person_mends_one(
    client: httpx.Client, desk: Desk, plate_id: str
) -> None:
    assert desk.book is not None
    scan = client.get("/api/plates").json()["cards"][0]["scan_id"]
    x_px = np.arange(100.5, 400.0)
    flat = np.full(x_px.size, 380.0)
    line = Skyline(x_px, flat, flat * 0 + 1.5, 640, 480, np.zeros(x_px.size, bool))
    with desk.book.writing("Ada Moss", "traced by machine") as session:
        keep_ridges(session, plate_id, scan, [line, line])
    path = f"/api/plates/{plate_id}"
    first, second = client.get(f"{path}/skyline").json()["ridges"]
    assert first["by_machine"] is True
    assert first["trust"] < 0.5
    assert first["runs"][0]["x_px"] == pytest.approx(x_px)
    half = {"x_px": list(x_px[:100]), "y_px": list(flat[:100] - 2.0)}
    mended = client.put(
        f"{path}/ridges/{first['evidence_id']}", json={"runs": [half]}
    ).json()["ridges"]
    assert [one["by_machine"] for one in mended] == [False, True]
    assert mended[0]["trust"] is None
    assert mended[0]["runs"][0]["y_px"] == pytest.approx(flat[:100] - 2.0)
    # Traced again, what a person mended stays; the machine's own gives way.
    result = traced(desk, plate_id, what="ridge lines")
    assert result.notes
    kept = client.get(f"{path}/skyline").json()["ridges"]
    assert first["evidence_id"] in {one["evidence_id"] for one in kept}
    assert second["evidence_id"] not in {one["evidence_id"] for one in kept}
    counts = client.get(f"{path}/evidence").json()["document"]["ridge_line"]
    assert len(counts) == len(kept)


def test_statement_drawn_on_the_map_is_one_act_and_counts(
    client: httpx.Client, plate_id: str, valley: Any
) -> None:
    ring = [list(valley.lonlat(e, n)) for e, n in ((0, 0), (900, 0), (0, 900), (0, 0))]
    given = {
        "words": "taken from the common",
        "geometry": {"type": "Polygon", "coordinates": [ring]},
        "weight": 0.8,
    }
    path = f"/api/plates/{plate_id}"
    said = client.post(f"{path}/said_of_place", json=given).json()
    assert said["place"] == "inside"
    counts = client.get(f"{path}/evidence").json()["document"]
    assert [one["words"] for one in counts["statement"]] == [given["words"]]
    client.post("/api/undo")
    whole = client.get(path).json()
    assert (whole["statements"], whole["features"]) == ([], [])
    refused = client.post(f"{path}/said_of_place", json={**given, "words": ""})
    assert refused.status_code == 400


def test_line_that_was_not_seen_is_not_drawn_over(
    client: httpx.Client, plate_id: str
) -> None:
    path = f"/api/plates/{plate_id}/skyline"
    first = {"x_px": list(range(10, 110, 2)), "y_px": [200.0] * 50}
    other = {"x_px": list(range(10, 110, 2)), "y_px": [150.0] * 50}
    nothing = {"evidence_id": None, "revision": None}
    drawn = client.put(path, json={"runs": [first], "read": nothing}).json()
    # The second window still shows a plate without a line.
    late = client.put(path, json={"runs": [other], "read": nothing})
    assert late.status_code == 409
    assert late.json()["field"] == "revision"
    assert client.get(path).json()["runs"] == drawn["runs"]
    read = {key: drawn[key] for key in ("evidence_id", "revision")}
    mended = client.put(path, json={"runs": [other], "read": read})
    assert mended.json()["runs"][0]["y_px"][0] == 150.0


def test_machine_lays_no_line_over_what_a_person_drew_meanwhile(
    client: httpx.Client, desk: Desk, plate_id: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = f"/api/plates/{plate_id}/skyline"
    drawn = {"x_px": list(range(10, 110, 2)), "y_px": [200.0] * 50}

    def slow(*_args: Any, **_more: Any) -> None:
        client.put(path, json={"runs": [drawn]})

    monkeypatch.setattr("wherestood.server.jobs.trace_plate.trace_skyline", slow)
    with pytest.raises(InputError, match="drew on the skyline"):
        traced(desk, plate_id)
    assert client.get(path).json()["runs"][0]["y_px"][0] == 200.0


def test_mark_that_was_tied_meanwhile_is_not_tied_anew(
    client: httpx.Client, plate_id: str
) -> None:
    lettered = client.post(
        f"/api/plates/{plate_id}/letter", json={"points_px": [[10.0, 20.0]]}
    ).json()
    mark = lettered["mark"]
    place = {"lon_deg": 7.1, "lat_deg": 46.1, "revision": mark["revision"]}
    path = f"/api/marks/{mark['id']}/tie"
    assert client.post(path, json=place).status_code == 200
    assert client.post(path, json=place).status_code == 409
