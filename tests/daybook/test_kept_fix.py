"""Check that a fix kept in a daybook can be made again, and says what changed since."""

from __future__ import annotations

import hashlib
import importlib.util
import shutil
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pyproj
import pytest
import rasterio
import shapely
from affine import Affine
from sqlalchemy import func, select

import wherestood
from wherestood.daybook import Daybook, find
from wherestood.daybook.asked import Asked
from wherestood.daybook.changed_since import changed_since
from wherestood.daybook.files_now import files_now
from wherestood.daybook.kept_fix import keep_fix, reopened
from wherestood.daybook.replay import disagreements
from wherestood.daybook.tables import Fix, JournalRow, Mark, Plate, Scan
from wherestood.daybook.take_evidence import take_evidence
from wherestood.daybook.tell_evidence import tell_evidence
from wherestood.daybook.withdraw import withdraw
from wherestood.errors import DaybookError, InputError
from wherestood.evidence.file import read_evidence
from wherestood.evidence.items import SkylinePiece
from wherestood.fix.area import read_area
from wherestood.fix.settings import LocateSettings
from wherestood.plate.scan import Plate as Scanned
from wherestood.record.inputs import FixInputs, Making
from wherestood.record.kept_evidence import apart_from_lines
from wherestood.terrain.read import open_terrain

ONE_CENTIMETRE = 0.01
REACH_M = 8_000.0
SCAN, HILLS = "originals/1987.12/invented-plate.png", "terrain/hills.tif"


@pytest.fixture(scope="module")
def scene() -> ModuleType:
    path = Path(__file__).parents[1] / "record" / "scene.py"
    spec = importlib.util.spec_from_file_location("invented_scene_kept", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@dataclass
class Kept:
    """Hold a daybook with one plate, and what its fix was made from."""

    daybook: Daybook
    inputs: FixInputs
    asked: Asked

    def fix(self, session: Any) -> Fix:
        return find(session, Fix, "fix-1")

    def changes(self) -> list[str]:
        with self.daybook.reading() as session:
            fix = self.fix(session)
            found = changed_since(session, self.daybook.folder, fix)
        return [one.sentence() for one in found]


def write_terrain(path: Path, land: Any) -> None:
    rows, columns = land.elevation_m.shape
    top_m = land.south_m + (rows - 0.5) * land.cell_m
    west_m = land.west_m - land.cell_m / 2
    with rasterio.open(
        path, "w", driver="GTiff", height=rows, width=columns, count=1,
        dtype="float32", crs=land.frame.crs,
        transform=Affine(land.cell_m, 0.0, west_m, 0.0, -land.cell_m, top_m),
    ) as file:  # fmt: skip
        file.write(land.elevation_m[::-1], 1)


@pytest.fixture(scope="module")
def first(
    scene: ModuleType, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Kept]:
    """Return a daybook with an invented fix, made from files and items in it."""
    place = tmp_path_factory.mktemp("kept")
    daybook = Daybook.create(place / "first")
    fix, inputs = scene.with_ridges(*scene.with_evidence(*scene.scene(place)))
    scan, hills = daybook.path(SCAN), daybook.path(HILLS)
    scan.parent.mkdir(parents=True)
    shutil.copy(inputs.plate.path, scan)
    write_terrain(hills, inputs.terrain)
    around, settings = inputs.area.centre, LocateSettings(surface="ground", seed=7)
    land = open_terrain(hills, around=around, radius_m=REACH_M, surface="ground")
    inputs = FixInputs(
        Scanned.open(scan, size="whole plate"), land, inputs.skyline, inputs.area,
        settings, ridges=inputs.ridges, evidence=inputs.evidence,
    )  # fmt: skip
    asked = Asked(SCAN, (HILLS,), around, REACH_M)
    with daybook.writing("Ada", "from the register") as session:
        plate = Plate(key="1987.12", size="whole plate")
        session.add(plate)
        session.flush()
        sha256 = hashlib.sha256(scan.read_bytes()).hexdigest()
        session.add(Scan(plate_id=plate.id, file=SCAN, sha256=sha256, main=True))
        take_evidence(session, plate, apart_from_lines(inputs.evidence))
    with daybook.reading() as session:
        told = tell_evidence(session, find(session, Plate, "1987.12"))
        last = session.scalar(select(func.max(JournalRow.number))) or 0
    with daybook.writing("Ada", "first try") as session:
        keep_fix(
            session, daybook.folder, find(session, Plate, "1987.12"), fix, inputs,
            Making("2026-01-02T03:04:05+00:00", "0.0.0"), asked,
            items=told.items, words="The page of words.", after_journal=last,
        )  # fmt: skip
    daybook.close()
    yield Kept(daybook, inputs, asked)
    daybook.close()


@pytest.fixture
def kept(first: Kept, tmp_path: Path) -> Iterator[Kept]:
    """Return a copy of the daybook, to be worked in."""
    shutil.copytree(first.daybook.folder, tmp_path / "copy")
    with Daybook.open(tmp_path / "copy") as daybook:
        yield Kept(daybook, first.inputs, first.asked)


def test_a_fix_finds_its_files_again_where_they_are_now(kept: Kept) -> None:
    """As after a merge, or a bag that took in what had been left outside."""
    moved = "originals/elsewhere (2).png"
    kept.daybook.path(SCAN).rename(kept.daybook.path(moved))
    with kept.daybook.writing("Ada") as session:
        session.scalars(select(Scan)).one().file = moved
    with kept.daybook.reading() as session:
        fix = kept.fix(session)
        now = files_now(session, fix)
        assert now == {SCAN: moved}
        again = reopened(kept.daybook.folder, fix, moved=now)
        assert again.plate.sha256 == kept.inputs.plate.sha256
        assert changed_since(session, kept.daybook.folder, fix) == []


def test_elevation_that_came_to_a_folder_since_is_not_opened(kept: Kept) -> None:
    folder = kept.daybook.path("terrain")
    shutil.copyfile(folder / "hills.tif", folder / "hills of others.tif")
    try:
        with kept.daybook.reading() as session:
            again = reopened(
                kept.daybook.folder, kept.fix(session), moved={HILLS: "terrain"}
            )
    finally:
        (folder / "hills of others.tif").unlink()
    assert [Path(one.path).name for one in again.land.sources] == ["hills.tif"]


def test_everything_a_fix_was_made_from_is_opened_as_it_was(kept: Kept) -> None:
    with kept.daybook.reading() as session:
        again = reopened(kept.daybook.folder, kept.fix(session))
        assert disagreements(session) == []
    then = kept.inputs
    assert again.plate.sha256 == then.plate.sha256
    assert again.plate.px_per_mm == then.plate.px_per_mm
    np.testing.assert_array_equal(again.land.elevation_m, then.terrain.elevation_m)
    assert (again.land.west_m, again.land.south_m) == (
        then.terrain.west_m, then.terrain.south_m,
    )  # fmt: skip
    np.testing.assert_array_equal(
        shapely.get_coordinates(again.area.polygon),
        shapely.get_coordinates(then.area.polygon),
    )
    assert again.settings == then.settings
    (line,) = again.evidence.skylines
    np.testing.assert_allclose(line.line.x_px, then.skyline.x_px, atol=0.0005)
    assert [one.id for one in again.evidence.ridge_lines] == [
        one.id for one in then.ridges
    ]
    told = apart_from_lines(then.evidence)
    assert again.evidence.marks == told.marks
    assert again.evidence.in_lines == told.in_lines
    assert again.evidence.statements == told.statements


def test_a_fix_of_which_nothing_changed_says_so(kept: Kept) -> None:
    assert kept.changes() == []
    with kept.daybook.writing("Ben") as session:
        find(session, Plate, "1987.12").title = "a title bears on no fix"
        find(session, Mark, "1987.12/A").note = "nor does a note"
    assert kept.changes() == []


def test_a_fix_says_what_changed_by_whom_and_why(kept: Kept) -> None:
    with kept.daybook.writing("Ben", "it is the other chimney") as session:
        find(session, Mark, "1987.12/A").points_px = [[1.5, 2.5]]
    with kept.daybook.writing("Cora", "a copy") as session:
        find(session, Mark, "1987.12/B").removed = True
    with kept.daybook.writing("Cora", "seen at last") as session:
        plate = find(session, Plate, "1987.12")
        session.add(Mark(plate_id=plate.id, key="Z", points_px=[[7.5, 8.5]]))
    told = kept.changes()
    assert len(told) == 3
    assert "mark 1987.12/A was changed (points_px) by Ben" in told[0]
    assert told[0].endswith(": it is the other chimney.")
    assert "mark 1987.12/B was set aside by Cora" in told[1]
    assert "mark 1987.12/Z was added by Cora" in told[2]
    with kept.daybook.writing("Ben", "no, it was right") as session:
        find(session, Mark, "1987.12/A").points_px = [[700.0, 800.0]]
    assert len(kept.changes()) == 2


def test_a_file_that_changed_or_is_gone_is_said_and_not_used(kept: Kept) -> None:
    scan, hills = kept.daybook.path(SCAN), kept.daybook.path(HILLS)
    before = scan.read_bytes()
    scan.write_bytes(before + b"\0")
    assert kept.changes() == ["The file invented-plate.png was changed."]
    with (
        kept.daybook.reading() as session,
        pytest.raises(DaybookError, match="not the one the fix was made from"),
    ):
        reopened(kept.daybook.folder, kept.fix(session))
    scan.write_bytes(before)
    hills.unlink()
    assert kept.changes() == ["The file hills.tif is not there any more."]
    with (
        kept.daybook.reading() as session,
        pytest.raises(DaybookError, match="is not there"),
    ):
        reopened(kept.daybook.folder, kept.fix(session))


def test_a_fix_is_kept_as_it_was_made(kept: Kept) -> None:
    with pytest.raises(InputError, match="kept as it was added"):
        _overwrite(kept)
    with kept.daybook.writing("Ben", "a better one follows") as session:
        kept.fix(session).removed = True


def _overwrite(kept: Kept) -> None:
    with kept.daybook.writing("Ben") as session:
        kept.fix(session).lon_deg = 0.0


def test_a_fix_of_a_withdrawn_plate_cannot_be_made_again(kept: Kept) -> None:
    with kept.daybook.reading() as session:
        plate = find(session, Plate, "1987.12").id
    withdraw(kept.daybook, Plate, plate, person="Ada")
    with (
        kept.daybook.reading() as session,
        pytest.raises(DaybookError, match="withdrawn"),
    ):
        reopened(kept.daybook.folder, kept.fix(session))


def test_a_fix_made_again_gives_the_same_station(
    tmp_path: Path,
    scene: ModuleType,
    fewer_trials: Callable[..., AbstractContextManager[None]],
) -> None:
    """Search for real, keep the fix, close the daybook, and search again from it."""
    _, inputs = scene.scene(tmp_path)
    with fewer_trials(coarse=True), Daybook.create(tmp_path / "daybook") as daybook:
        shutil.copy(inputs.plate.path, daybook.path("originals/plate.png"))
        write_terrain(daybook.path(HILLS), inputs.terrain)
        area = read_area(f"{scene.LON_DEG},{scene.LAT_DEG},120m")
        settings = LocateSettings(
            surface="ground", horizon_radius_m=4_000.0, near_enough_m=500.0, seed=3
        )
        reach_m = area.radius_m + settings.horizon_radius_m
        plate = Scanned.open(daybook.path("originals/plate.png"))
        land = open_terrain(
            daybook.path(HILLS), around=area.centre, radius_m=reach_m, surface="ground"
        )
        line = SkylinePiece(inputs.skyline)
        first = wherestood.locate(plate, land, [line], within=area, settings=settings)
        asked = Asked("originals/plate.png", (HILLS,), area.centre, reach_m)
        with daybook.writing("Ada") as session:
            row = Plate(key="1987.12")
            session.add(row)
            session.flush()
            keep_fix(
                session, daybook.folder, row, first.answer, first.inputs,
                Making("2026-01-02T03:04:05+00:00", "0.0.0"), asked,
            )  # fmt: skip
    with (
        fewer_trials(coarse=True),
        Daybook.open(tmp_path / "daybook") as daybook,
        daybook.reading() as session,
    ):
        fix = find(session, Fix, "fix-1")
        told = reopened(daybook.folder, fix)
        again = wherestood.locate(
            told.plate, told.land, told.evidence, within=told.area,
            settings=told.settings,
        )  # fmt: skip
        station = again.published()["station"]
        _, _, apart_m = pyproj.Geod(ellps="WGS84").inv(
            fix.lon_deg, fix.lat_deg, station["lon"], station["lat"]
        )
        assert apart_m < ONE_CENTIMETRE
        assert again.verdict == fix.verdict
        assert station["height_m"] == fix.height_m


def test_the_evidence_of_a_kept_fix_is_a_file_that_anybody_can_read(
    kept: Kept, tmp_path: Path
) -> None:
    with kept.daybook.reading() as session:
        fix = kept.fix(session)
        path = tmp_path / "kept.toml"
        path.write_text(fix.evidence_toml or "", encoding="utf-8")
    assert read_evidence(path).evidence.marks
