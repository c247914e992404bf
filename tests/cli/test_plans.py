"""A plan is taken in, pinned and traced by commands, and a deed is drawn."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from wherestood.cli.app import run
from wherestood.daybook import Daybook
from wherestood.earth.frame import Frame

pytestmark = pytest.mark.usefixtures("valley")

FRAME = Frame.local(8.5, 46.1)
SHEET_PX = np.array(
    [[100, 100], [1900, 100], [1900, 1400], [100, 1400], [1000, 500], [500, 900],
     [1500, 1000], [1200, 1300]],
    dtype=float,
)  # fmt: skip
NAMES = ["NW", "NE", "SE", "SW", "church", "mill", "bridge", "school"]


def write_pins(path: Path, wrong: int | None = None, shift_m: float = 0.0) -> None:
    """Write pins of a sheet of half a metre a pixel; one may be 60 m off."""
    ground = SHEET_PX * [0.5, -0.5] + [shift_m, 0.0]
    ground += np.random.default_rng(2).normal(0.0, 0.5, ground.shape)
    if wrong is not None:
        ground[wrong] += [60.0, 0.0]
    lon, lat = FRAME.to_lonlat(*ground.T)
    rows = ["name,x_px,y_px,lon_deg,lat_deg,sd_px,sd_m"]
    rows += [
        f"{name},{x},{y},{e:.8f},{n:.8f},1,0.5"
        for name, (x, y), e, n in zip(NAMES, SHEET_PX, lon, lat, strict=True)
    ]
    path.write_text("\n".join(rows), encoding="utf-8")


@pytest.fixture
def valley(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    Daybook.create(tmp_path / "valley").close()
    monkeypatch.setenv("WHERESTOOD_DAYBOOK", str(tmp_path / "valley"))
    monkeypatch.setenv("WHERESTOOD_PERSON", "Ada Moss")
    monkeypatch.chdir(tmp_path)
    Image.new("RGB", (2000, 1500), (235, 225, 200)).save("township.jpg")
    write_pins(Path("pins.csv"))
    Path("things.csv").write_text(
        "thing,what,shape,drawn,x_px,y_px\n"
        "red fence,fence,line,surveyed,400,300\n"
        "red fence,,,,900,800\n"
        "hut,hut,point,sketched,1000,700\n",
        encoding="utf-8",
    )
    return tmp_path / "valley"


def answered(capsys: pytest.CaptureFixture[str], *words: str, code: int = 0) -> Any:
    capsys.readouterr()
    assert run([*words, "--json"]) == code
    return json.loads(capsys.readouterr().out)


def told(capsys: pytest.CaptureFixture[str], *words: str, code: int = 0) -> str:
    capsys.readouterr()
    assert run(list(words)) == code
    both = capsys.readouterr()
    return " ".join((both.out + both.err).split())


def test_plan_is_taken_pinned_and_traced(capsys: pytest.CaptureFixture[str]) -> None:
    taken = answered(capsys, "plans", "take", "township.jpg", "--date", "1871")
    assert (taken["key"], taken["width_px"], taken["box_deg"]) == ("plan-1", 2000, None)
    drawn = answered(capsys, "plans", "picture", "plan-1")["file"]
    with Image.open(drawn) as image:
        assert image.size == (2000, 1500)
    pinned = answered(capsys, "plans", "pin", "plan-1", "--pins", "pins.csv")
    assert pinned["fit"] == "projective"
    assert pinned["metres_per_px"] == pytest.approx(0.5, rel=0.01)
    assert all(one["counts"] for one in pinned["pins"])
    assert pinned["left_out_tried"] == 8
    made = answered(
        capsys, "plans", "trace", "plan-1", "things.csv", "--existed-from", "1871"
    )
    assert [one["key"] for one in made] == ["red fence", "hut"]
    lon, lat = FRAME.to_lonlat(np.array([500.0]), np.array([-350.0]))
    assert made[1]["geometry"]["coordinates"] == pytest.approx(
        [float(lon[0]), float(lat[0])], abs=2e-5
    )
    write_pins(Path("moved.csv"), shift_m=25.0)
    words = told(
        capsys, "plans", "pin", "plan-1", "--pins", "moved.csv", "--why", "new corners"
    )
    assert "2 things traced from it moved, by 25.0 m at most" in words
    assert "new corners" in told(capsys, "history")


def test_wrong_pin_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    answered(capsys, "plans", "take", "township.jpg")
    write_pins(Path("wrong.csv"), wrong=4)
    words = told(capsys, "plans", "pin", "plan-1", "--pins", "wrong.csv", "--dry-run")
    assert "pin church is 60 m off what the others say, and is set aside" in words
    assert "would be pinned, projective:" in words
    assert "[m]" not in words


def test_pins_may_lie_on_features_grids_and_other_plans(
    capsys: pytest.CaptureFixture[str],
) -> None:
    for number, name in enumerate(("township.jpg", "other.jpg")):
        Image.new("L", (2000, 1500), 200 + number).save(name)
        answered(capsys, "plans", "take", name)
    answered(capsys, "plans", "pin", "plan-1", "--pins", "pins.csv")
    answered(capsys, "features", "add", "post", "--geometry", "8.5,46.1", "--sd-m", "3")
    Path("onto.csv").write_text(
        "name,x_px,y_px,feature,onto,onto_x_px,onto_y_px\n"
        "A,0,0,post,,,\nB,2000,0,,plan-1,2000,0\nC,2000,1500,,plan-1,2000,1500\n"
        "D,0,1500,,plan-1,0,1500\nE,1000,700,,plan-1,1000,700\n",
        encoding="utf-8",
    )
    pinned = answered(capsys, "plans", "pin", "plan-2", "--pins", "onto.csv")
    # It lies where the other does, a metre's tilt of its pins aside.
    assert pinned["metres_per_px"] == pytest.approx(0.5, rel=0.01)
    assert max(one["left_over_m"] for one in pinned["pins"]) < 3.0
    Path("grid.csv").write_text(
        "x_px,y_px,east,north\n0,0,2604000,1106000\n2000,0,2605000,1106000\n"
        "2000,1500,2605000,1105250\n",
        encoding="utf-8",
    )
    pinned = answered(
        capsys, "plans", "pin", "plan-2", "--pins", "grid.csv", "--crs", "EPSG:2056"
    )
    assert pinned["fit"] == "affine"
    assert pinned["metres_per_px"] == pytest.approx(0.5, rel=0.01)


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("x_px,y_px\n1,2\n", "placed nowhere on the ground"),
        ("x_px,y_px,east,north\n1,2,3,4\n", "a grid that is not named"),
        ("x_px,y_px,lon_deg,lat_deg,feature\n1,2,3,4,a\n", "more ways than one"),
        ("x_px,y_px,lon_deg,lat_deg\n1,two,3,4\n", "no number for y_px"),
        ("x_px,y_px,lon_deg,lat_deg\n1,2,3,4\n", "gives it no scale"),
        ("x_px,height\n1,2\n", "a column 'height'"),
    ],
)
def test_bad_pins_are_refused_with_a_remedy(
    capsys: pytest.CaptureFixture[str], rows: str, words: str
) -> None:
    answered(capsys, "plans", "take", "township.jpg")
    Path("bad.csv").write_text(rows, encoding="utf-8")
    assert words in told(capsys, "plans", "pin", "plan-1", "--pins", "bad.csv", code=2)
    assert "not pinned" in told(
        capsys, "plans", "trace", "plan-1", "things.csv", code=2
    )


def test_deed_is_drawn_with_its_misclosure(capsys: pytest.CaptureFixture[str]) -> None:
    Path("deed.txt").write_text(
        "214 30', 12 chains 50 links\nN 55 1/2 W, 8 chains\n34 30, 12 chains 52 links\n"
        "S 55 45 E for 7 chains 2 links\n",
        encoding="utf-8",
    )
    asked = ("deed", "deed.txt", "--start", "8.5,46.1", "--closes")
    drawn = answered(capsys, *asked, "--out", "deed.geojson")
    # The last call is a chain short, but for 2 links: 98 links are 19.7 m.
    assert drawn["misclosure_m"] == pytest.approx(19.7, abs=0.5)
    assert any(
        one["call"] == 4 and one["length_m"] == pytest.approx(160.9, abs=0.2)
        for one in drawn["suspects"]
    )
    shape = json.loads(Path("deed.geojson").read_text(encoding="utf-8"))
    assert shape["features"][0]["geometry"]["type"] == "Polygon"
    assert "if of call 4 alone its length were 160.9 m" in told(capsys, *asked)
    taken = answered(capsys, "gazetteer-in", "deed.geojson")
    assert taken["add"] == 5
    assert "stands on the plan" in told(capsys, *asked, "--year", "1871", code=2)
    turned = answered(capsys, *asked, "--declination", "12.5,0.5")
    assert (turned["north_deg"], turned["north_sd_deg"]) == (12.5, 0.5)
    assert turned["misclosure_m"] == pytest.approx(drawn["misclosure_m"], abs=0.01)
