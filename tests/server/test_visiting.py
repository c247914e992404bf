"""Check that a field sheet is shown and saved, and that a visit comes back."""

from __future__ import annotations

import io
import math
from pathlib import Path
from typing import Any

import httpx
import pytest
from PIL import Image
from sqlalchemy import select

from wherestood.daybook import Daybook
from wherestood.daybook.tables import Feature, FeatureName, Mark, Plate
from wherestood.errors import InputError
from wherestood.server.desk import Desk
from wherestood.server.forms.photographs import PhotographGiven
from wherestood.server.jobs.compare_photograph import marks_of

#: Near and far things before the invented camera, which looks north from 0, 0 [m].
THINGS = {
    "gate": (8.0, 90.0), "barn": (10.0, 600.0), "rock": (-16.0, 120.0),
    "mill": (-50.0, 800.0),
}  # fmt: skip
PAIRS = [("barn", "gate"), ("mill", "rock")]
TRIPOD_M = (2.0, 0.0)
PRINCIPAL_PX = 560.0


@pytest.fixture
def visited(planned: Path, desk: Desk, valley: Any) -> Desk:
    """Return the desk over a plate whose near things are known and marked."""
    with Daybook.open(planned) as book, book.writing("Ada") as session:
        plate_id = session.scalars(select(Plate.id)).one()
        for name, (east, north) in THINGS.items():
            place = {
                "type": "Point",
                "coordinates": list(valley.lonlat(east, north)),
            }
            feature = Feature(geometry=place, sd_m=0.3)
            session.add(feature)
            session.flush()
            session.add(FeatureName(feature_id=feature.id, name=name))
            x = valley.WIDTH_PX / 2 + PRINCIPAL_PX * east / north
            session.add(
                Mark(
                    plate_id=plate_id, shape="point", sd_px=0.5,
                    points_px=[[x, 300.0]],
                    features=[{"feature": feature.key, "weight": 1.0}],
                )
            )  # fmt: skip
    desk.open(planned)
    return desk


def gap_deg(far: str, near: str) -> float:
    def bearing(name: str) -> float:
        east, north = THINGS[name]
        return math.degrees(math.atan2(east - TRIPOD_M[0], north - TRIPOD_M[1]))

    return bearing(far) - bearing(near)


@pytest.mark.usefixtures("visited")
def test_sheet_is_told_and_saved_and_a_visit_moves_the_tripod(
    client: httpx.Client, valley: Any
) -> None:
    [plate] = client.get("/api/plates").json()["cards"]
    path = f"/api/plates/{plate['id']}"
    asked = {"day": "2026-05-31", "light": "1874-06-03T09:40"}
    sheet = client.get(f"{path}/field_sheet", params=asked).json()
    assert "gate" in {pair["near"] for pair in sheet["pairs"]}
    # Both are marked on the plate: its own gap is what to look for.
    near_of = {pair["near"]: pair for pair in sheet["pairs"]}
    gate = near_of["gate"]
    picture_deg = math.degrees(
        math.atan2(*THINGS[gate["far"]]) - math.atan2(*THINGS["gate"])
    )
    side = "right" if picture_deg > 0.0 else "left"
    told = f"{abs(picture_deg):.1f} degrees {side} of gate"
    assert gate["sentences"][0].startswith(f"On the picture {gate['far']} (")
    assert f" shows {told}" in gate["sentences"][0]
    assert gate["near_px"][1] == 300.0
    assert any(fact["name"] == "By compass" for fact in sheet["facts"])
    assert any("June 2026" in one for one in sheet["light"])
    assert sheet["visits"] == []
    assert sheet["clear_spots"] == []  # the view is open
    assert any("horizon stands" in one for one in sheet["light"])
    worth = client.get(f"{path}/mapping_worth").json()["sentences"]
    assert "of the frame is not sky" in worth[1]
    assert "scan" in worth[-1]
    saved = client.get(f"{path}/field_sheet/field-sheet.csv", params=asked)
    assert saved.headers["content-disposition"].startswith("attachment")
    assert ",gate,,,,,\n" in saved.text
    assert client.get(f"{path}/field_sheet/etc").status_code == 404
    bad = client.get(f"{path}/field_sheet", params={"light": "noon"})
    assert bad.status_code == 400
    assert "neither a time" in bad.json()["problem"]

    lon, lat = valley.lonlat(*TRIPOD_M)
    rows = "what,thing,other,value,sd,lon_deg,lat_deg,words\n"
    rows += f"day,,,,,,,2026-05-31\nstood,,,,2,{lon},{lat},\n"
    for far, near in PAIRS:
        rows += f"gap,{far},{near},{gap_deg(far, near):.3f},,,,\n"
    read = client.post(f"{path}/visits/read", content=rows.encode()).json()
    assert read["day"] == "2026-05-31"
    assert [one["what"] for one in read["readings"]] == ["stood", "gap", "gap"]
    given = {"day": read["day"], "who": "Ada", "readings": read["readings"]}
    kept = client.post(f"{path}/visits", json=given).json()
    assert kept["counts"], kept
    assert kept["sentences"][0].startswith("By its gaps the tripod stood")
    after = client.get(f"{path}/field_sheet", params=asked).json()
    assert "matched against the picture" in after["visits"][0]
    wrong = {"what": "tape", "thing": "steeple", "value": 3.0}
    refused = client.post(
        f"{path}/visits", json={"day": "2026-05-31", "readings": [wrong]}
    )
    assert refused.status_code == 400
    assert "no feature 'steeple'" in refused.json()["problem"]


@pytest.mark.usefixtures("visited")
def test_what_is_drawn_on_the_plate_is_kept_on_the_map_and_comes_back_to_it(
    client: httpx.Client, valley: Any, invented_plan: Any
) -> None:
    """A fence across the plain: where its pixels say, and back on the same pixels."""
    [plate] = client.get("/api/plates").json()["cards"]
    path = f"/api/plates/{plate['id']}"
    lens_m = invented_plan.LENS_M - valley.PLAIN_M
    ends_m = [(-60.0, 200.0), (60.0, 240.0)]
    points = [
        [
            valley.WIDTH_PX / 2 + PRINCIPAL_PX * east / north,
            valley.HEIGHT_PX / 2 + PRINCIPAL_PX * lens_m / north,
        ]
        for east, north in ends_m
    ]
    drawn = {
        "shape": "line",
        "points_px": points,
        "name": "long fence",
        "what": "fence",
    }
    told = client.post(f"{path}/drawn", json=drawn).json()
    assert told["feature"] is None
    assert told["geometry"]["type"] == "LineString", told
    lon, lat = told["geometry"]["coordinates"][0]
    expected = valley.lonlat(*ends_m[0])
    # The fix's own doubt leaves some metres of 200.
    metres = 111_320.0 * math.hypot(
        (lon - expected[0]) * math.cos(math.radians(lat)), lat - expected[1]
    )
    assert metres < 3.0 * told["most_doubt_m"]
    assert told["most_doubt_m"] > 0.5
    kept = client.post(f"{path}/drawn", json={**drawn, "keep": True}).json()
    feature = kept["feature"]
    plain = client.get(f"{path}/traced_from_plans").json()["things"]
    assert feature not in [one["key"] for one in plain]
    on_plate = client.get(f"{path}/traced_from_plans", params={"lines": True}).json()
    [shown] = [one for one in on_plate["things"] if one["key"] == feature]
    first = shown["pieces"][0]["points_px"][0]
    assert math.dist(first, points[0]) < 3.0 * shown["pieces"][0]["sd_px"] + 3.0
    # A mast of 3 m at the fence's first post: its top lies so much higher.
    top = [points[0][0], points[0][1] - PRINCIPAL_PX * 3.0 / ends_m[0][1]]
    mast = {"shape": "height", "points_px": [points[0], top], "keep": True}
    tall = client.post(f"{path}/drawn", json={**mast, "name": "mast"}).json()
    assert abs(tall["tall_m"] - 3.0) < 3.0 * tall["tall_sd_m"] + 0.1
    assert tall["sentences"][0].startswith("Height: ")
    assert "One pixel there is" in tall["sentences"][-1]
    features = client.get("/api/items/features").json()["items"]
    [known] = [one for one in features if one["key"] == tall["feature"]]
    assert known["object_height_m"] == tall["tall_m"]
    sky = {"shape": "point", "points_px": [[320.0, 5.0]], "keep": True}
    nowhere = client.post(f"{path}/drawn", json=sky).json()
    assert nowhere["geometry"] is None
    assert nowhere["feature"] is None
    short = {"shape": "outline", "points_px": points}
    assert client.post(f"{path}/drawn", json=short).status_code == 400


@pytest.mark.usefixtures("visited")
def test_what_a_photograph_does_not_say_is_asked(
    client: httpx.Client, tmp_path: Path
) -> None:
    [plate] = client.get("/api/plates").json()["cards"]
    path = f"/api/plates/{plate['id']}/photographs"
    assert client.get(path).json() == []
    upload = client.post("/api/uploads").json()["upload_id"]
    tags = Image.Exif()
    tags[0x0112] = 2  # a mirror image
    Image.new("RGB", (64, 48)).save(tmp_path / "bare.jpg", exif=tags)
    client.post(
        f"/api/uploads/{upload}/files?name=bare.jpg",
        content=(tmp_path / "bare.jpg").read_bytes(),
    )
    given = {"upload_id": upload}
    read = client.post(f"{path}/ask", json=given).json()
    assert [one["what"] for one in read["asked"]] == [
        "position", "heading", "lens", "time", "mirrored",
    ]  # fmt: skip
    said = {**given, "not_known": ["position", "heading", "lens", "time"]}
    left = client.post(f"{path}/ask", json=said).json()["asked"]
    assert [one["what"] for one in left] == ["mirrored"]
    settled = client.post(f"{path}/ask", json={**said, "mirrored": False}).json()
    assert settled["asked"] == []
    looked = client.get(f"{path}/sent/{upload}")
    with Image.open(io.BytesIO(looked.content)) as shown:
        assert shown.size == (64, 48)
    both = {"plate_px": [1.0, 2.0], "photo_px": [3.0, 4.0], "distance_m": 20.0}
    given_marks = PhotographGiven(upload_id=upload, marks=[both], marks_sd_px=4.0)
    marks = marks_of(given_marks, (640, 480), (64, 48))
    assert marks is not None
    assert marks.photo_px.tolist() == [[3.0, 4.0]]
    assert (marks.distance_m[0], marks.distance_sd_m[0]) == (20.0, 1.0)
    with pytest.raises(InputError, match="Mark 1 lies off"):
        marks_of(given_marks, (640, 480), (2, 48))
    for name in ("both.csv", "more.csv"):
        client.post(f"/api/uploads/{upload}/files?name={name}", content=b"plate_x_px")
        answer = client.post(f"{path}/ask", json=said)
        assert answer.status_code == (200 if name == "both.csv" else 400)
    assert "One photograph" in answer.json()["problem"]
    assert client.get(f"{path}/source-1/now.tif").status_code == 404
    odd = client.post(f"{path}/ask", json={**given, "not_known": ["weather"]})
    assert odd.status_code in (400, 422)
