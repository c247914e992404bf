"""Check that what is handed out tells no more than it may, and all that it may.

Places and people are invented.
"""

from __future__ import annotations

import base64
import importlib.util
import json
import shutil
import socket
import subprocess
import sys
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pyproj
import pytest
import rasterio
from PIL import Image
from sqlalchemy import select

from wherestood.cli.app import run
from wherestood.daybook import Daybook, find
from wherestood.daybook.change_items import add_item
from wherestood.daybook.handing_out import Wanted, gather
from wherestood.daybook.handing_out_files import hand_out
from wherestood.daybook.handing_out_ground import with_maps
from wherestood.daybook.originals import take_in
from wherestood.daybook.originals.names import safe_name
from wherestood.daybook.public import write_public_copy
from wherestood.daybook.public.coarse import coarse_place
from wherestood.daybook.tables import Decision, Fix, Plate, Scan
from wherestood.errors import InputError
from wherestood.progress import SILENT
from wherestood.record.fix_json import fix_to_json

ADA = "Ada Moss"
#: Longitude, latitude; bearing of the sight; lens to plate in pixels: all apart.
TRUTH = {
    "free": (8.512345, 46.103456, 211.2713, 2917.31),
    "Quexley 7": (143.694427, -37.283746, 97.1387, 3123.77),
    "near": (22.713059, 61.287154, 151.8391, 2741.13),
    "secret": (-71.287663, -33.771829, 303.4729, 2533.59),
    "beside": (-71.287663, -33.771829, 327.9173, 2533.59),
    "valley": (101.377219, 16.617283, 17.9371, 3371.97),
}
PRECISION = {
    "Quexley 7": "1 km", "near": "100 m", "secret": "withheld", "beside": "withheld",
    "valley": "region only",
}  # fmt: skip
M_A_DEGREE = 111_195.0
A_HUNDREDTH = 0.01  # of a degree, of bearing or lens


def load(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"of_{path.stem}", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


attack = load(Path(__file__).with_name("attack.py"))


@pytest.fixture(scope="module")
def form(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Return a fix in its published form; nothing is searched."""
    scene = load(Path(__file__).parents[1] / "record" / "scene.py")
    fix, inputs = scene.scene(tmp_path_factory.mktemp("scene"))
    told: dict[str, Any] = json.loads(
        json.dumps(fix_to_json(replace(fix), inputs, scene.MAKING))
    )
    return told


def moved(form: dict[str, Any], key: str) -> dict[str, Any]:
    """Return the fix as one from another place, through another camera."""
    lon, lat, bearing_deg, distance_px = TRUTH[key]
    own = json.loads(json.dumps(form))
    east, north = lon - own["station"]["lon"], lat - own["station"]["lat"]
    own["station"] |= {"lon": lon, "lat": lat}
    own["camera"] |= {
        "bearing_deg": bearing_deg, "principal_distance_px": distance_px,
        "sight": {"bearing_deg": bearing_deg, "elevation_deg": 3.6},
    }  # fmt: skip

    def shifted(at: Any) -> Any:
        if isinstance(at[0], float):
            return [at[0] + east, at[1] + north]
        return [shifted(part) for part in at]

    for region in own["regions"]["features"]:
        region["geometry"]["coordinates"] = shifted(region["geometry"]["coordinates"])
    return own  # type: ignore[no-any-return]


@pytest.fixture(scope="module")
def filled(
    tmp_path_factory: pytest.TempPathFactory,
    empty_daybook: Path,
    form: dict[str, Any],
) -> Iterator[Daybook]:
    """Return six plates with answers, each as closely restricted as its name says."""
    place = tmp_path_factory.mktemp("book")
    shutil.copytree(empty_daybook, place / "Quexley graves")
    with Daybook.open(place / "Quexley graves") as book:
        for number, key in enumerate(TRUTH):
            tones = np.random.default_rng(number).integers(0, 255, (24, 32))
            source = place / f"Quexley {key}.png"
            Image.fromarray(tones.astype(np.uint8)).resize((160, 120)).save(source)
            words = {
                "title": "Garden at Quexley", "place_words": "Rose Cottage, Quexley",
                "description": f"Looking up {key}", "date_words": "3 May 1871, noon",
                "note": f"noted of {key}",
            }  # fmt: skip
            if key in ("secret", "beside"):
                words["panorama"] = "the graves"
            take_in(book, key, source, ADA, new_plate=words)
            lon, lat, *_ = TRUTH[key]
            at = {"type": "Point", "coordinates": [lon + 0.01, lat + 0.02]}
            feature = f"thing-{number}"
            add_item(book, "features", {"geometry": at, "what": "gable"}, ADA,
                     address=feature)  # fmt: skip
            add_item(
                book, "marks",
                {"points_px": [[11.5 + number, 27.25]], "shape": "point",
                 "features": [{"feature": feature, "weight": 1.0}]},
                ADA, address=f"{key}/A",
            )  # fmt: skip
            _answered(book, key, moved(form, key))
            # A panorama's other plate is restricted by its neighbour alone.
            if key in PRECISION and key != "beside":
                fields = {"precision": PRECISION[key], "because": "a burial ground"}
                add_item(book, "restrictions", fields, ADA, about=("plates", key))
        image = {"what": "image", "holder": "Quexley Museum", "licence": "CC BY 4.0"}
        add_item(book, "rights", image, ADA, about=("plates", "free"))
        yield book


def _answered(book: Daybook, key: str, form: dict[str, Any]) -> None:
    with book.writing(ADA) as session:
        plate = find(session, Plate, key)
        station = form["station"]
        fix = Fix(
            plate_id=plate.id, made="2026-01-02T03:04:05+00:00", verdict="located",
            lon_deg=station["lon"], lat_deg=station["lat"], near_enough_m=50.0,
            answer=form,
        )  # fmt: skip
        session.add(fix)
        session.flush()
        session.add(
            Decision(
                plate_id=plate.id, fix_id=fix.id, conclusion="accepted",
                words="the gable is Mrs Quill's", decided_by=ADA,
                decided="2026-01-03T00:00:00+00:00",
            )
        )  # fmt: skip


@pytest.fixture(scope="module")
def public(filled: Daybook, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of a public copy in every form."""
    made = hand_out(filled, tmp_path_factory.mktemp("out") / "public", Wanted("public"))
    assert (made.plates, made.pictures, made.withheld) == (6, 6, 5)
    assert made.places == 3  # exact, and two squares
    return made.path


def searched(path: Path) -> dict[str, Any]:
    return {name: attack.numbers_in(data) for name, data in attack.files_in(path)}


@pytest.fixture(scope="module")
def published(public: Path) -> dict[str, Any]:
    """Return every number in every file of it."""
    return searched(public)


@pytest.mark.parametrize("key", PRECISION)
def test_no_byte_of_a_public_copy_gives_a_withheld_place_away(
    published: dict[str, Any], key: str
) -> None:
    lon, lat, bearing_deg, distance_px = TRUTH[key]
    square = coarse_place(lon, lat, PRECISION[key])
    tolerance_m = 500.0  # nothing at all may tell of it
    if square is not None:
        assert square.side_m is not None
        # A square tells its middle; the truths stand off that, both ways.
        tolerance_m = 0.1 * square.side_m
        assert abs(square.lat_deg - lat) * M_A_DEGREE > tolerance_m
        along_m = M_A_DEGREE * np.cos(np.radians(lat))
        assert abs(square.lon_deg - lon) * along_m > tolerance_m
    lat_deg = tolerance_m / M_A_DEGREE
    lon_deg = lat_deg / np.cos(np.radians(lat))
    zone = int((lon + 180.0) // 6) + (32601 if lat > 0 else 32701)
    utm = pyproj.Transformer.from_crs(4326, zone, always_xy=True).transform(lon, lat)
    web = pyproj.Transformer.from_crs(4326, 3857, always_xy=True).transform(lon, lat)
    for name, numbers in published.items():
        told = (name, key)
        assert attack.nearest(numbers, lat) > lat_deg, told
        assert attack.nearest(numbers, lon) > lon_deg, told
        for metres in (*utm, *web):
            assert attack.nearest(numbers, metres) > tolerance_m, told
        for value in (lat, lon):
            # To a metre: among so many small numbers others come near by chance.
            metre_rad = np.radians(1.0 / M_A_DEGREE)
            assert attack.nearest(numbers, np.radians(value)) > metre_rad, told
        assert attack.nearest(numbers, bearing_deg) > A_HUNDREDTH, told
        assert attack.nearest(numbers, distance_px) > A_HUNDREDTH, told


def test_the_attack_finds_what_is_not_withheld(
    published: dict[str, Any], filled: Daybook, tmp_path: Path
) -> None:
    """So that a search which finds nothing means something."""
    lon, lat, bearing_deg, _ = TRUTH["free"]
    telling = {
        name for name, numbers in published.items()
        if attack.nearest(numbers, lat) < 1e-6 and attack.nearest(numbers, lon) < 1e-6
    }  # fmt: skip
    assert {
        "places.geojson", "places.gpkg", "places.kml", "places.gpx", "stations.csv",
        "geopose/free.geopose-ypr.json", "embedded/free.jpg", "plates.jsonld",
        "plates.dublin-core.xml", "iiif/free.json",
        "plates.xlsx/xl/worksheets/sheet2.xml",
    } <= telling  # fmt: skip
    assert attack.nearest(published["places.gpkg"], bearing_deg) < 1e-6
    # The page tells no more digits than the doubt earns.
    assert attack.nearest(published["index.html"], lat) < 1e-4
    made = hand_out(filled, tmp_path / "full", Wanted("full", pictures=False))
    full = searched(made.path)
    for key in PRECISION:
        lat = TRUTH[key][1]
        assert attack.nearest(full["places.gpkg"], lat) < 1e-6


def test_the_attack_looks_into_what_is_packed_and_carried(tmp_path: Path) -> None:
    hidden = zlib.compress(b"(lat 46.103456)")
    (tmp_path / "a.pdf").write_bytes(b"%PDF-1.7 <<>> stream\n" + hidden + b"endstream")
    carried = base64.b64encode(b"8.512345")
    (tmp_path / "a.html").write_bytes(b'<img src="data:x;base64,' + carried + b'">')
    with zipfile.ZipFile(tmp_path / "a.docx", "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("docProps/core.xml", "<a>211.2713</a>")
    (tmp_path / "a.txt").write_text("37.283746° S; 143,694427 W", encoding="utf-8")
    found = np.concatenate(list(searched(tmp_path).values()))
    for value in (46.103456, 8.512345, 211.2713, -37.283746, -143.694427):
        assert attack.nearest(found, value) == 0.0


def test_nothing_is_left_to_run_a_fix_again_by_but_the_picture(
    public: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """All that was published is taken in, with the right ground, by who knows how."""
    monkeypatch.setenv("WHERESTOOD_DAYBOOK", str(tmp_path / "book"))
    monkeypatch.setenv("WHERESTOOD_PERSON", "somebody")
    lon, lat, *_ = TRUTH["near"]
    with rasterio.open(
        tmp_path / "ground.tif", "w", driver="GTiff", dtype="float32", count=1,
        width=40, height=40, crs="EPSG:4326",
        transform=rasterio.Affine(0.001, 0, lon - 0.02, 0, -0.0005, lat + 0.01),
    ) as file:  # fmt: skip
        file.write(np.full((40, 40), 100.0, dtype=np.float32), 1)
    for words in (
        ["daybook", "new", str(tmp_path / "book")],
        ["catalogue-in", str(public / "plates.csv")],
        ["gazetteer-in", str(public / "places.geojson")],
        ["take-in", str(public / "embedded" / "near.jpg"), "--plate", "near"],
        ["terrain-in", str(tmp_path / "ground.tif"), "--surface", "ground"],
    ):
        assert run(words) == 0, capsys.readouterr().err
    # The skyline could be traced on the picture: that is what the face says.
    again = ["fix", "near", "--within", f"{lon},{lat},300m", "--no-skyline"]
    assert run(again) == 2
    assert "There is no evidence to go by" in capsys.readouterr().err


def test_no_word_or_name_of_a_file_gives_a_withheld_place_away(public: Path) -> None:
    everything = b"\n".join(data for _, data in attack.files_in(public))
    for word in (
        b"burial", b"graves", b"noted of secret", b"Looking up secret", b"Quill",
        b"Ada Moss", b"Quexley 7", b"sqlite/", b"originals",
    ):  # fmt: skip
        assert word not in everything, word
    assert b"noted of free" in everything
    names = [path.name for path in public.rglob("*")]
    assert not [name for name in names if "uexley" in name or "grave" in name]
    assert "free.jpg" in names


def test_a_public_copy_says_on_its_face_what_is_withheld(public: Path) -> None:
    face = " ".join((public / "README.txt").read_text("utf-8").split())
    assert "This is a public copy" in face
    assert "secret (place published: withheld): where the camera stood" in face
    assert "near (place published: 100 m): where in a square of 100 m it stood" in face
    assert "THE PICTURE ITSELF MAY STILL GIVE THE PLACE AWAY" in face
    assert "Image: Quexley Museum, licence CC BY 4.0." in face
    assert "Image: UNKNOWN, licence UNKNOWN." in face


def test_squares_views_and_regions_obey_the_precision(public: Path) -> None:
    form = json.loads((public / "places.geojson").read_text("utf-8"))
    by_layer: dict[str, list[dict[str, Any]]] = {}
    for one in form["features"]:
        by_layer.setdefault(one["properties"]["layer"], []).append(one)
    stations = {one["properties"]["plate"]: one for one in by_layer["stations"]}
    assert stations["secret"]["geometry"] is None
    assert stations["beside"]["geometry"] is None  # by its panorama's other plate
    assert stations["valley"]["geometry"] is None
    assert stations["near"]["properties"]["square_side_m"] == 100.0
    assert stations["free"]["properties"]["looks_towards_deg"] == 211.2713
    assert stations["secret"]["properties"]["date"] == "1871"
    assert {one["properties"]["plate"] for one in by_layer["views"]} == {"free"}
    regions = {one["properties"]["plate"] for one in by_layer["regions"]
               if one["properties"]["kind"] == "region"}  # fmt: skip
    assert regions == {"free"}
    assert [one["properties"]["feature"] for one in by_layer["features"]] == ["thing-0"]
    # Of every other plate its square and its years, and no height, angle or mark.
    may_be = {
        "layer", "plate", "rank", "decision", "decided", "date", "precision", "place",
        "withheld", "vertical_datum", "credit", "caution", "square_side_m",
    }  # fmt: skip
    for one in by_layer["stations"]:
        told = {name for name, value in one["properties"].items() if value}
        assert one["properties"]["plate"] == "free" or told <= may_be
    marked = {
        path.stem for path in (public / "iiif").glob("*.json")
        if b"SpecificResource" in path.read_bytes()
    }  # fmt: skip
    assert marked == {"free"}


def test_the_other_public_copy_obeys_the_same(filled: Daybook, tmp_path: Path) -> None:
    """The bag of `wherestood bag --public`: names of files and panoramas too."""
    write_public_copy(filled, tmp_path / "public", pictures=True)
    names = [path.name for path in (tmp_path / "public").rglob("*")]
    assert not [name for name in names if "Quexley" in name]
    numbers = np.concatenate(list(searched(tmp_path / "public").values()))
    assert attack.nearest(numbers, TRUTH["beside"][1]) > A_HUNDREDTH


def test_pictures_of_a_public_bag_lie_right_and_none_takes_another_s_place(
    empty_daybook: Path, tmp_path: Path
) -> None:
    shutil.copytree(empty_daybook, tmp_path / "book")
    tones = np.full((24, 32), 230, dtype=np.uint8)
    tones[:, :16] = 40  # dark on the left, as its file lies
    with Daybook.open(tmp_path / "book") as book:
        for number, key in enumerate(("a/1", "a_1")):
            Image.fromarray(tones + np.uint8(number)).save(tmp_path / f"{number}.png")
            take_in(book, key, tmp_path / f"{number}.png", ADA, new_plate={})
            with book.writing(ADA) as session:
                (scan,) = session.scalars(select(Scan).where(Scan.plate_id == find(
                    session, Plate, key).id))  # fmt: skip
                scan.reversed = key == "a/1"
                scan.negative = False
        write_public_copy(book, tmp_path / "public")
    dark_left = {}
    for path in (tmp_path / "public" / "data" / "pictures").iterdir():
        with Image.open(path) as picture:
            seen = np.asarray(picture.convert("L"), dtype=float)
        dark_left[path.name] = seen[:, :8].mean() < seen[:, -8:].mean()
    assert dark_left == {"a_1.jpg": False, "a_1-2.jpg": True}


def test_a_full_hand_over_tells_everything_and_says_that_it_is_restricted(
    filled: Daybook, tmp_path: Path
) -> None:
    gathered = gather(filled, Wanted("full", ("Quexley 7",)))
    (plate,) = gathered.handed.plates
    assert plate.place is not None
    assert (plate.place.lon_deg, plate.place.lat_deg) == TRUTH["Quexley 7"][:2]
    assert plate.answer is not None
    assert plate.answer.decided is not None
    assert plate.answer.decided.decided_by == ADA
    assert [mark.points_px for mark in plate.marks] == [((12.5, 27.25),)]
    assert [one.key for one in gathered.handed.features] == ["thing-1"]
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    left = tmp_path / f".handing-out-{ended.pid}@{safe_name(socket.gethostname())}@x"
    (left / "half").mkdir(parents=True)
    made = hand_out(filled, tmp_path / "full.zip", Wanted("full", ("Quexley 7",)))
    assert made.path.is_file()
    assert "README.txt" in made.files
    # Nothing lies beside it, of this one or of one that was killed.
    assert [path.name for path in tmp_path.iterdir()] == ["full.zip"]


def test_what_nobody_accepted_is_not_published(
    empty_daybook: Path, form: dict[str, Any], tmp_path: Path
) -> None:
    shutil.copytree(empty_daybook, tmp_path / "book")
    with Daybook.open(tmp_path / "book") as book:
        add_item(book, "plates", {}, ADA, address="a")
        with book.writing(ADA) as session:
            plate = find(session, Plate, "a")
            session.add(
                Fix(plate_id=plate.id, made="2026-01-02T03:04:05+00:00",
                    verdict="located", answer=form, lon_deg=1.0, lat_deg=2.0)
            )  # fmt: skip
        assert gather(book, Wanted("public")).handed.plates[0].answer is None
        full = gather(book, Wanted("full")).handed.plates[0]
        assert full.answer is not None
        assert full.answer.verdict == "located"


def test_a_place_told_by_one_that_is_hidden_is_warned_of(
    empty_daybook: Path, form: dict[str, Any], tmp_path: Path
) -> None:
    """Two plates from one spot are one place; an arc of 0.001 deg is 111 m."""
    shutil.copytree(empty_daybook, tmp_path / "book")
    with Daybook.open(tmp_path / "book") as book:
        for key, north_deg in (("told", 0.0), ("hidden", 0.001), ("far", 0.02)):
            add_item(book, "plates", {}, ADA, address=key)
            own = json.loads(json.dumps(form))
            own["station"]["lat"] += north_deg
            _answered(book, key, own)
        fields = {"precision": "1 km"}
        add_item(book, "restrictions", fields, ADA, about=("plates", "hidden"))
        (caution,) = gather(book, Wanted("public")).cautions
        assert caution.startswith(
            "told is told as it is known, and its camera stood 11"
        )
        assert " m from that of hidden" in caution
        assert gather(book, Wanted("public", ("far",))).cautions == ()
        assert gather(book, Wanted("full")).cautions == ()
        _squares_are_warned_of(book, form)
        # The ground under a map lies about the square's middle, and not the place.
        fields = {"title": "Hidden Valley", "credit": "Invented survey"}
        add_item(book, "terrain_layers", fields, ADA, address="model")
        hidden = gather(book, Wanted("public", ("hidden",))).handed
        assert hidden.credits == ("Elevation: Invented survey, licence UNKNOWN.",)
        fields = {"title": "Kernhowe graves, 1 m", "credit": "Survey of Kernhowe"}
        add_item(book, "terrain_layers", fields, ADA, address="other")
        with book.writing(ADA) as session:
            find(session, Plate, "hidden").place_words = "Kernhowe"
        # All models are told of where one place is, also those about a hidden one.
        assert gather(book, Wanted("public", ("told",))).handed.credits == (
            "Elevation: Invented survey, licence UNKNOWN.",
            "Elevation: withheld, as it names the place.",
        )
        (ground,) = with_maps(hidden, (), SILENT).maps
        place = hidden.plates[0].places[0]
        assert place.side_m == 1000.0
        assert ground.box.centre_deg == pytest.approx((place.lon_deg, place.lat_deg))


def _squares_are_warned_of(book: Daybook, form: dict[str, Any]) -> None:
    """Two squares side by side tell the border between; 0.0001 deg is 11 m."""
    side_deg = 1000.0 / M_A_DEGREE  # squares begin at whole sides from the equator
    border_deg = 5200 * side_deg
    for key, north_deg in (("south", -0.0002), ("north", 0.0002), ("apart", 0.006)):
        add_item(book, "plates", {}, ADA, address=key)
        _answered(book, key, _at_lat(form, border_deg + north_deg))
        add_item(book, "restrictions", {"precision": "1 km"}, ADA,
                 about=("plates", key))  # fmt: skip
    told = ("south", "north", "apart")
    (caution,) = gather(book, Wanted("public", told)).cautions
    assert "stood 44 m apart and are told by two squares side by side" in caution
    # One square tells both, and nothing of either more.
    assert gather(book, Wanted("public", ("north", "apart"))).cautions == (caution,)
    assert gather(book, Wanted("public", ("apart",))).cautions == ()
    _answered(book, "apart", _at_lat(form, border_deg + 0.0095))
    (caution,) = gather(book, Wanted("public", ("apart",))).cautions
    assert caution.startswith("apart was accepted before with an answer in another")
    # A square tells what is withheld beside it.
    fields = {"precision": "withheld"}
    add_item(book, "restrictions", fields, ADA, about=("plates", "south"))
    (caution,) = gather(book, Wanted("public", ("north",))).cautions
    assert caution.startswith("north is told by a square of 1 km, and its camera stood")
    assert "of south, which may not be told so closely" in caution


def _at_lat(form: dict[str, Any], lat_deg: float) -> dict[str, Any]:
    return form | {"station": form["station"] | {"lat": lat_deg}}


def test_a_plate_with_bounds_alone_is_dated_by_them(
    empty_daybook: Path, tmp_path: Path
) -> None:
    shutil.copytree(empty_daybook, tmp_path / "book")
    with Daybook.open(tmp_path / "book") as book:
        add_item(book, "plates", {}, ADA, address="a")

        def dated(of: str, edtf: str) -> tuple[str, str]:
            fields = {"plate": "a", "of": of, "edtf": edtf}
            add_item(book, "dates", fields, ADA)
            (plate,) = gather(book, Wanted("full")).handed.plates
            return plate.date_edtf, plate.date_basis

        assert dated("not before", "1871-05") == (
            "1871/..", "bounds: not before 1871-05"
        )  # fmt: skip
        add_item(book, "restrictions", {"precision": "1 km"}, ADA,
                 about=("plates", "a"))  # fmt: skip
        (hidden,) = gather(book, Wanted("public")).handed.plates
        assert hidden.date_edtf == "1871/.."
        assert dated("not after", "1884")[0] == "1871/1884"
        assert dated("exposed", "1875~")[0] == "1875~"


def test_an_export_that_breaks_a_recorded_term_stops_and_asks(
    empty_daybook: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    shutil.copytree(empty_daybook, tmp_path / "book")
    Image.new("L", (64, 48), 90).save(tmp_path / "a.png")
    with Daybook.open(tmp_path / "book") as book:
        take_in(book, "a", tmp_path / "a.png", ADA,
                new_plate={"description": "a long poem"})  # fmt: skip
        for what in ("scan", "words"):
            fields = {"what": what, "may_be_published": False, "terms": "study only"}
            add_item(book, "rights", fields, ADA, about=("plates", "a"))
        with pytest.raises(InputError, match="study only"):
            hand_out(book, tmp_path / "one", Wanted("public"))
    assert not (tmp_path / "one").exists()
    monkeypatch.setenv("WHERESTOOD_DAYBOOK", str(tmp_path / "book"))
    assert run(["export", str(tmp_path / "one"), "--public"]) == 2
    assert "Add --leave-out" in capsys.readouterr().err
    assert run(["export", str(tmp_path / "one")]) == 2  # for whom is not said
    words = ["export", str(tmp_path / "one"), "--public", "--leave-out", "--json"]
    assert run(words) == 0
    made = json.loads(capsys.readouterr().out)
    assert made["pictures"] == 0
    assert any("picture left out" in one for one in made["left_out"])
    everything = b"".join(data for _, data in attack.files_in(tmp_path / "one"))
    assert b"poem" not in everything
    # Full is no publishing, and holds both.
    assert run(["export", str(tmp_path / "two"), "--full", "--form", "csv"]) == 0
    assert b"poem" in (tmp_path / "two" / "plates.csv").read_bytes()
    assert (tmp_path / "two" / "pictures" / "a.jpg").is_file()
