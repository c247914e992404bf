"""Check what is asked and kept of several plates from one station."""

from __future__ import annotations

import importlib.util
import shutil
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import jsonschema
import numpy as np
import pytest
import rasterio

from wherestood.camera.model import project
from wherestood.dating.sun import seconds_of_day, sun_at
from wherestood.daybook import Daybook, find
from wherestood.daybook.ask_fix import PreparedFix, Wish
from wherestood.daybook.ask_panorama import (
    PreparedPanorama,
    named_apart,
    prepare_panorama,
    with_matches,
)
from wherestood.daybook.camera_of_fix import fixed_camera
from wherestood.daybook.changed_since import changed_since
from wherestood.daybook.keep_panorama import fixes_together, keep_panorama, ties_of
from wherestood.daybook.left_out import LeftOut
from wherestood.daybook.minutes_apart import minutes_apart
from wherestood.daybook.originals import take_in
from wherestood.daybook.question import read_plate
from wherestood.daybook.replay import disagreements
from wherestood.daybook.skylines import keep_skyline
from wherestood.daybook.tables import Dating, Evidence, Fix, Mark, Plate
from wherestood.daybook.tell_evidence import tell_evidence
from wherestood.daybook.ties_kept import (
    BY_MATCHING,
    keep_matches,
    plates_of_panorama,
    tell_ties,
    ties_kept,
)
from wherestood.daybook.undo import undo
from wherestood.errors import InputError
from wherestood.evidence.items import Checked
from wherestood.evidence.items import Evidence as Told
from wherestood.evidence.items.tie import TieMark
from wherestood.fix.panorama_result import OneStation, Panorama, TieTold
from wherestood.panorama import LocatedPanorama
from wherestood.record.fix_json import fix_schema

NAMES = ("VW 14", "VW 15")
GROUND = Path("hills.tif")  # named alone: nothing is searched
TIE = TieMark(id="found", plates=NAMES, first_px=(5.0, 6.0), second_px=(9.0, 8.0))


@pytest.fixture(scope="module")
def scene() -> ModuleType:
    path = Path(__file__).parents[1] / "record" / "scene.py"
    spec = importlib.util.spec_from_file_location("invented_scene_together", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def located(scene: ModuleType, tmp_path_factory: pytest.TempPathFactory):
    """Return an answer of two plates, the second left of the first."""
    fix, inputs = scene.scene(tmp_path_factory.mktemp("scene"))
    other = replace(fix, camera=scene.camera(scene.BEARING_DEG - 30.0))
    tests = tuple(OneStation(k, 0.97, 12.0, 6.0, 48.0, 0.1, 1) for k in range(2))
    answer = Panorama(
        (fix, other), (1, 0), 0.83, (30.0,), (0.12,), tests,
        (TieTold("VW 14/tie 1", (0, 1), -9.0, 1.25),), True,
    )  # fmt: skip
    both = tuple(replace(inputs, called=name) for name in NAMES)
    return LocatedPanorama(answer, both, (TIE,))


@pytest.fixture
def hung(daybook: Daybook, located: LocatedPanorama) -> Daybook:
    """Return a daybook of two plates of one panorama, each with its scan."""
    for name in NAMES:
        scan = daybook.folder.parent / f"{name}.png"
        shutil.copy(located.inputs[0].plate.path, scan)
        with scan.open("ab") as stream:
            stream.write(name.encode())  # another file, the same picture
        take_in(daybook, name, scan, "Ada", new_plate={"panorama": "from the mill"})
    return daybook


@pytest.fixture
def asked(hung: Daybook, located: LocatedPanorama) -> PreparedPanorama:
    reads = [read_plate(hung, name, [GROUND]) for name in NAMES]
    inputs = located.inputs[0]
    plates = tuple(
        PreparedFix(
            read, LeftOut(), inputs.plate, inputs.terrain, Checked(Told(), ()),
            inputs.area, inputs.settings, (),
        )
        for read in reads
    )  # fmt: skip
    return PreparedPanorama(plates, 1, (), (), False, False, ())


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Draw nothing: pictures are looked at elsewhere."""

    class Drawn:
        def save(self, path: Path) -> None:
            path.write_bytes(b"picture")

    def save(_located: object, folder: Path) -> tuple[Path, ...]:
        folder.mkdir(parents=True)
        return ()

    monkeypatch.setattr("wherestood.notebook.LocatedPlate.save", save)
    for name in ("joined", "map"):
        monkeypatch.setattr(LocatedPanorama, name, lambda _self: Drawn())


@pytest.mark.usefixtures("undrawn")
def test_every_plate_gets_the_answer_with_its_own_camera(
    hung: Daybook, asked: PreparedPanorama, located: LocatedPanorama
) -> None:
    asked = with_matches(hung, asked, [TIE], "Ada")
    kept = keep_panorama(hung, asked, located, "Ada", "both at once")
    with hung.reading() as session:
        first, second = (find(session, Fix, one.id) for one in kept)
        assert [one.plate_id for one in (first, second)] == [
            one.read.plate.id for one in asked.plates
        ]
        turn_deg = first.answer["camera"]["bearing_deg"]
        turn_deg -= second.answer["camera"]["bearing_deg"]
        assert turn_deg == pytest.approx(30.0)
        for fix in (first, second):
            jsonschema.validate(
                fix.answer, fix_schema(), cls=jsonschema.Draft202012Validator
            )
            assert fix.answer["panorama"]["order"] == ["VW 15", "VW 14"]
            assert fixes_together(session, fix) == [first, second]
            assert changed_since(session, hung.folder, fix, files=False) == []
            (tie,) = ties_of(fix)
            assert (tie.plates, tie.first_px, tie.second_px) == (
                NAMES, TIE.first_px, TIE.second_px,
            )  # fmt: skip
        assert disagreements(session) == []
    undo(hung, "Ada")
    with hung.reading() as session:
        assert all(find(session, Fix, one.id).removed for one in kept)


@pytest.mark.usefixtures("undrawn")
def test_minutes_between_its_plates_come_by_the_fixes_of_the_panorama(
    hung: Daybook, asked: PreparedPanorama, located: LocatedPanorama
) -> None:
    """Shadows of posts are put where the fixes' own cameras draw them."""
    keep_panorama(hung, asked, located, "Ada")
    began_s = seconds_of_day(1874, 6, 3)
    with hung.writing("Ada") as session:
        for name, minutes in zip(NAMES, (600.0, 625.0), strict=True):
            plate = find(session, Plate, name)
            fixed = fixed_camera(session, plate)
            when = began_s + 60.0 * minutes - 240.0 * fixed.lon_deg
            sun = sun_at(np.array([when]), fixed.lon_deg, fixed.lat_deg, fixed.lens_m)
            way = np.array([np.sin(sun.bearing_rad[0]), np.cos(sun.bearing_rad[0])])
            ahead = fixed.camera.bearing_rad
            foot = 60.0 * np.array([np.sin(ahead), np.cos(ahead)])
            tip = foot - 3.0 / np.tan(sun.elevation_rad[0]) * way
            places = [[*foot, -9.0], [*tip, -9.0], [*foot, -6.0]]
            points = np.column_stack(project(fixed.camera, np.array(places)))
            content = {"points_px": points.tolist(), "sd_px": 0.3,
                       "lean_sd_deg": 0.2, "slope_sd_deg": 0.2}  # fmt: skip
            session.add(Evidence(plate_id=plate.id, kind="shadow", content=content))
        session.add(
            Dating(plate_id=plate.id, of="exposed", edtf="1874-06-03", trust=1.0)
        )
    apart = minutes_apart(hung, *NAMES)
    mean, sd = apart.found.mean_sd
    assert sd < 15.0
    assert abs(mean - 25.0) < 2.0 * sd
    assert any("located as one panorama" in note for note in apart.notes)


@pytest.mark.usefixtures("undrawn")
def test_a_change_on_one_plate_is_told_with_the_answers_of_both(
    hung: Daybook, asked: PreparedPanorama, located: LocatedPanorama
) -> None:
    asked = with_matches(hung, asked, [TIE], "Ada")
    kept = keep_panorama(hung, asked, located, "Ada")
    with hung.writing("Ben") as session:
        find(session, Evidence, f"{NAMES[0]}/tie 1").removed = True
    with hung.reading() as session:
        for one in kept:
            fix = find(session, Fix, one.id)
            (changed,) = changed_since(session, hung.folder, fix, files=False)
            assert (changed.how, changed.by) == ("set aside", "Ben")


def test_what_the_machine_finds_again_leaves_alone_what_a_person_set(
    hung: Daybook,
) -> None:
    with hung.reading() as session:
        rows = plates_of_panorama(session, find(session, Plate, "VW 14"))
        scans = [one.scan.id for one in (read_plate(hung, n, [GROUND]) for n in NAMES)]
    with hung.writing("Ada") as session:
        keep_matches(session, rows, scans, [TIE])
        content = {"beside": rows[0].id, "first_px": [1, 2], "second_px": [3, 4]}
        session.add(Evidence(plate_id=rows[1].id, kind="tie", content=content))
    with hung.writing("Ada") as session:
        keep_matches(session, rows, scans, [replace(TIE, first_px=(7.0, 7.0))])
    with hung.reading() as session:
        told = tell_ties(session, rows, scans)
        assert [one.first_px for one in told.ties] == [(7.0, 7.0), (1.0, 2.0)]
        assert [one.source for one in told.ties] == [BY_MATCHING, ""]
        assert told.ties[1].plates == ("VW 15", "VW 14")
        assert len(ties_kept(session, rows, set_aside=True)) == 3
        assert "tie" not in tell_evidence(session, rows[0], scans[0]).document
        elsewhere = tell_ties(session, rows, [scans[0], "another scan"])
        assert [one.id for one in elsewhere.ties] == ["VW 15/tie 1"]
        assert "another copy" in elsewhere.left_out[0]


@pytest.mark.parametrize(
    ("content", "missing"),
    [
        ({"first_px": [1, 2], "second_px": [3, 4]}, "other plate"),
        ({"beside": "x", "first_px": [1, 2]}, "second_px"),
        ({"beside": "x", "first_px": [1], "second_px": [3, 4]}, "first_px"),
        ({"beside": "x", "first_px": [1, 2], "second_px": [3, 4], "sd_px": 0}, "sd_px"),
    ],
)
def test_a_tie_without_both_places_is_refused(
    hung: Daybook, content: dict[str, object], missing: str
) -> None:
    with hung.reading() as session:
        plate = find(session, Plate, "VW 14")
    with pytest.raises(InputError, match=missing), hung.writing("Ada") as session:
        session.add(Evidence(plate_id=plate.id, kind="tie", content=content))


def test_things_lettered_alike_on_two_plates_stay_two(hung: Daybook) -> None:
    with hung.writing("Ada") as session:
        plate = find(session, Plate, "VW 14")
        for key in ("A", "B"):
            session.add(Mark(plate_id=plate.id, key=key, points_px=[[4.0, 5.0]]))
        order = {"a": "A", "relation": "left", "b": "B"}
        session.add(Evidence(plate_id=plate.id, kind="order", content=order))
        session.flush()
        told = named_apart(tell_evidence(session, plate), plate.key)
    assert [one["id"] for one in told.document["mark"]] == ["VW 14/A", "VW 14/B"]
    (order,) = told.document["order"]
    assert (order["id"], order["a"], order["b"]) == (
        "VW 14/order 1", "VW 14/A", "VW 14/B",
    )  # fmt: skip


def test_plates_of_a_panorama_are_asked_for_as_one(
    hung: Daybook, located: LocatedPanorama
) -> None:
    inputs = located.inputs[0]
    line = inputs.skyline
    with hung.writing("Ada") as session:
        plates = [find(session, Plate, name) for name in NAMES]
        lon, lat = inputs.area.centre
        plates[1].ground_searched = f"{lon:.5f},{lat:.5f},300m"
        plates[1].principal_distance_mm = 210.0
        for plate in plates:
            scan = read_plate(hung, plate.key, [GROUND]).scan
            keep_skyline(session, plate.id, scan.id, line, by_hand=True)
    # Neither the ground searched nor the lens is told of the plate that is asked for.
    wish = Wish(terrain=(hills(hung.folder.parent, lon, lat),), horizon_radius_m=2000.0)
    asked = prepare_panorama(hung, "VW 14", replace(wish, ridge_lines=False))
    assert (asked.names, asked.number, asked.matched) == (NAMES, 0, False)
    given = asked.given()
    assert given["settings"].principal_distance_mm == 210.0
    assert given["within"].source == plates[1].ground_searched
    assert [len(one.evidence.skylines) for one in given["evidence"]] == [1, 1]
    own = prepare_panorama(
        hung, "VW 14", replace(wish, ridge_lines=False), each_own_lens=True
    )
    assert own.given()["settings"].principal_distance_mm is None


def test_plate_alone_in_its_panorama_is_refused(daybook: Daybook) -> None:
    with daybook.writing("Ada") as session:
        session.add(Plate(key="alone", panorama="from the mill"))
    with pytest.raises(InputError, match="no panorama of two"):
        prepare_panorama(daybook, "alone")


def hills(folder: Path, lon: float, lat: float) -> Path:
    """Write a plain of 3 km about a place as a GeoTIFF."""
    path = folder / "plain.tif"
    half, cells = 0.03, 60
    with rasterio.open(
        path, "w", driver="GTiff", width=cells, height=cells, count=1,
        dtype="float32", crs="EPSG:4326",
        transform=rasterio.Affine(
            2 * half / cells, 0.0, lon - half, 0.0, -2 * half / cells, lat + half
        ),
    ) as target:  # fmt: skip
        target.write(np.full((cells, cells), 100.0, np.float32), 1)
    return path
