"""Two plates of one daybook are solved together by the command."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wherestood.cli.app import run
from wherestood.daybook import Daybook, find
from wherestood.daybook.tables import Detail, Mark, Plate
from wherestood.earth.frame import Frame

#: Where the second plate's camera stood, about the first's [m], and its bearing.
EAST_M, NORTH_M, BEARING_DEG = 160.0, 40.0, -35.0
#: Posts that both plates show and nobody has mapped [m].
POSTS_M = {
    "A": (10.0, 230.0),
    "B": (-30.0, 320.0),
    "C": (40.0, 400.0),
    "D": (-70.0, 260.0),
}
DISTANCE_PX = 560.0
#: Marks are exact; stations are drawn 3 m about the true ones.
SEVEN_METRES = 7.0


def second_plate(folder: Path, valley: Any) -> None:
    """Add a plate whose fix stands elsewhere, copied from the first one's."""
    with sqlite3.connect(folder / "daybook.sqlite") as book:
        book.row_factory = sqlite3.Row
        for table in ("plates", "fixes"):
            [row] = book.execute(f"select * from {table}").fetchall()
            values = dict(row)
            if table == "plates":
                values |= {"id": "b" * 32, "key": "1987.13", "title": "The gate"}
            else:
                answer = json.loads(values["answer"])
                lon, lat = valley.lonlat(EAST_M, NORTH_M)
                answer["station"] |= {"lon": lon, "lat": lat}
                answer["camera"]["bearing_deg"] = BEARING_DEG % 360.0
                values |= {
                    "id": "f" * 32, "key": "fix-9", "plate_id": "b" * 32,
                    "answer": json.dumps(answer),
                }  # fmt: skip
            names = ", ".join(values)
            marks = ", ".join("?" for _ in values)
            book.execute(
                f"insert into {table} ({names}) values ({marks})", list(values.values())
            )
    book.close()


def shown_at(valley: Any, lens_m: float, east: float, north: float, turn: float) -> Any:
    """Return where a level camera shows a place of the plain [px]."""
    away, ahead = np.hypot(east, north), np.arctan2(east, north) - turn
    across = DISTANCE_PX * np.tan(ahead)
    down = DISTANCE_PX * lens_m / (away * np.cos(ahead))
    return [valley.WIDTH_PX / 2 + across, valley.HEIGHT_PX / 2 + down]


def letter(folder: Path, valley: Any, lens_m: float) -> None:
    """Letter the posts on both plates, where the cameras show them."""
    grid = Frame.local(*valley.lonlat())
    there = grid.from_lonlat(*(np.array([v]) for v in valley.lonlat(EAST_M, NORTH_M)))
    stations = {"1987.12": (0.0, 0.0, 0.0)}
    stations["1987.13"] = (
        float(there[0][0]), float(there[1][0]), np.radians(BEARING_DEG),
    )  # fmt: skip
    with Daybook.open(folder) as book, book.writing(valley.PERSON) as session:
        for key, (east, north, turn) in stations.items():
            plate = find(session, Plate, key)
            for name, at in POSTS_M.items():
                place = grid.from_lonlat(*(np.array([v]) for v in valley.lonlat(*at)))
                point = shown_at(
                    valley, lens_m, float(place[0][0]) - east,
                    float(place[1][0]) - north, turn,
                )  # fmt: skip
                detail = Detail(plate_id=plate.id, key=name, what=f"post {name}")
                session.add(detail)
                session.flush()
                session.add(
                    Mark(
                        plate_id=plate.id, detail_id=detail.id, shape="point",
                        points_px=[point], sd_px=1.0, at="ground",
                    )
                )  # fmt: skip


def test_posts_that_nobody_mapped_get_their_places(
    planned: Path,
    valley: Any,
    invented_plan: Any,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    second_plate(planned, valley)
    letter(planned, valley, invented_plan.LENS_M - valley.PLAIN_M)
    command = ["together", "1987.12", "1987.13", "--daybook", str(planned)]
    assert run(command) != 0
    assert "No two of these plates show one thing" in capsys.readouterr().err
    same = [f"--same=1987.12/{name},1987.13/{name}" for name in POSTS_M]
    out = tmp_path / "together.geojson"
    assert run([*command, *same, "--person", "Ada Moss", "--out", str(out)]) == 0
    assert "9 in 10 within" in capsys.readouterr().out
    form = json.loads(out.read_text(encoding="utf-8"))
    assert form["settled"]
    grid = Frame.local(*valley.lonlat())
    found = {
        one["properties"]["what"]: one["geometry"]["coordinates"]
        for one in form["features"]
        if one["geometry"]["type"] == "Point" and "thing" in one["properties"]
    }
    for name, at in POSTS_M.items():
        lon, lat = found[f"post {name}"]
        place = np.array(grid.from_lonlat(np.array([lon]), np.array([lat]))).ravel()
        true = np.array(
            grid.from_lonlat(*(np.array([v]) for v in valley.lonlat(*at)))
        ).ravel()
        assert np.hypot(*(place - true)) < SEVEN_METRES
    plates = [
        one["properties"] for one in form["features"] if "plate" in one["properties"]
    ]
    assert all(one["region_m2"] < one["own_region_m2"] for one in plates)
    twice = "--same=1987.12/A,1987.12/B"
    assert run([*command, twice, "--person", "Ada Moss"]) != 0
    assert "of each plate" in capsys.readouterr().err


@pytest.mark.parametrize("keys", [["1987.12"], ["1987.12", "1987.12"]])
def test_one_plate_alone_is_refused(
    laid_out: Path, keys: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["together", *keys, "--daybook", str(laid_out)]) != 0
    assert "alone" in capsys.readouterr().err
