"""Plates are handed out from the page: looked at, made as a task, had as a file."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from typing import Any

import httpx
import pytest
from PIL import Image

from wherestood.daybook import Daybook, report_pictures
from wherestood.daybook.change_items import add_item
from wherestood.progress import SILENT
from wherestood.record.export import FORMATS
from wherestood.record.report import Picture
from wherestood.server.desk import Desk
from wherestood.server.forms.jobs import Job, JobKind
from wherestood.server.jobs.hand_out_plates import hand_out_plates

ADA = "Ada Moss"


def test_every_form_is_offered(client: httpx.Client) -> None:
    offered = client.get("/api/handing-out").json()
    told = {one["name"]: one["what"] for one in offered}
    assert told.pop("report").startswith("A report: PDF")
    assert told == FORMATS


def test_a_report_goes_along_of_chosen_plates_alone(
    client: httpx.Client, folder: Path, plate_id: str, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """The plate is drawn as one grey point: its drawing is tried elsewhere."""
    held = io.BytesIO()
    Image.new("L", (1, 1), 128).save(held, "png")
    drawn = Picture("plate", "The plate.", "The plate.", held.getvalue(), 10.0)
    monkeypatch.setattr(report_pictures, "keyed_plate_picture", lambda *_: drawn)
    asked = {"audience": "full", "plate_ids": [plate_id], "forms": ["report"]}
    would = client.post("/api/handing-out/would", json=asked).json()
    assert would["left_out"] == []
    every = client.post("/api/handing-out/would", json=asked | {"plate_ids": []})
    assert "The report is left out" in every.json()["left_out"][0]
    told = {
        "target": str(tmp_path / "out.zip"), "audience": "full", "leave_out": False,
        "plates": ["1987.12"], "forms": ["report"], "title": "", "address": "",
        "pictures": True, "author": ADA,
    }  # fmt: skip
    hand_out_plates(told, str(folder), SILENT)
    with zipfile.ZipFile(tmp_path / "out.zip") as packed:
        names = {name.split("/", 1)[1] for name in packed.namelist()}
        page = packed.read("out/report/report.html").decode()
        face = packed.read("out/README.txt").decode()
    assert {"report/report.pdf", "report/report.docx", "report/report.odt"} <= names
    assert "plates.csv" not in names
    assert ADA in page
    assert "report/: the report" in face


def test_a_zip_is_made_and_had(
    client: httpx.Client, desk: Desk, plate_id: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The task's work is done here: to start a worker is slow, and tried elsewhere."""
    asked = {
        "audience": "public", "plate_ids": [plate_id], "forms": ["csv", "geojson"],
        "title": "The mill", "photographs": True,
    }  # fmt: skip
    # None was kept yet; of a plate where one is it would be offered.
    assert client.get("/api/handing-out/photographs").json() == {"plate_ids": []}
    would = client.post("/api/handing-out/would", json=asked).json()
    assert (would["plates"], would["places"], would["broken"]) == (1, 0, [])
    begun: dict[str, Job] = {}

    def start(kind: JobKind, title: str, told: dict[str, Any], *, person: str) -> Job:
        begun["one"] = Job(id="one", kind=kind, title=title, asked=told)
        assert person
        return begun["one"]

    monkeypatch.setattr(desk.jobs, "start", start)
    monkeypatch.setattr(desk.jobs, "get", begun.get)
    job = client.post("/api/handing-out", json=asked).json()
    assert client.get(f"/api/handing-out/{job['id']}").status_code == 404  # not yet
    assert desk.book is not None
    hand_out_plates(begun["one"].asked, str(desk.book.folder), SILENT)
    begun["one"] = begun["one"].model_copy(update={"state": "done"})
    given = client.get(f"/api/handing-out/{job['id']}")
    assert given.headers["content-type"] == "application/zip"
    assert 'filename="public.zip"' in given.headers["content-disposition"]
    with zipfile.ZipFile(io.BytesIO(given.content)) as packed:
        names = {name.split("/", 1)[1] for name in packed.namelist()}
        (face,) = (n for n in packed.namelist() if n.endswith("README.txt"))
        words = packed.read(face).decode()
    assert {"places.geojson", "plates.csv", "pictures/1987.12.jpg"} <= names
    assert words.startswith("The mill\n")
    assert "Image: UNKNOWN" in " ".join(words.split())


def test_a_term_that_would_be_broken_is_asked_about(
    client: httpx.Client, folder: Path, plate_id: str, tmp_path: Path
) -> None:
    with Daybook.open(folder) as book:
        fields = {"what": "image", "may_be_published": False, "terms": "study only"}
        add_item(book, "rights", fields, ADA, about=("plates", "1987.12"))
    asked = {"audience": "public", "plate_ids": [plate_id], "forms": ["csv"]}
    would = client.post("/api/handing-out/would", json=asked).json()
    assert "study only" in would["broken"][0]
    refused = client.post("/api/handing-out", json=asked)
    assert refused.status_code == 400
    assert "study only" in refused.json()["problem"]
    full = client.post("/api/handing-out/would", json=asked | {"audience": "full"})
    assert full.json()["broken"] == []
    told = {
        "target": str(tmp_path / "out.zip"), "audience": "public", "leave_out": True,
        "plates": ["1987.12"], "forms": ["csv"], "title": "", "address": "",
        "pictures": True,
    }  # fmt: skip
    for _ in range(2):  # done again, it takes the place of the first
        made = hand_out_plates(told, str(folder), SILENT)
        assert any("picture left out" in note for note in made.notes)
    with zipfile.ZipFile(tmp_path / "out.zip") as packed:
        assert not [name for name in packed.namelist() if name.endswith(".jpg")]


@pytest.mark.parametrize(
    "wrong",
    [{"audience": "friends"}, {"audience": "full", "forms": ["poem"]},
     {"audience": "full", "address": "ftp://a"}, {"audience": "full", "more": 1}],
)  # fmt: skip
def test_what_cannot_be_asked_is_refused(
    client: httpx.Client, wrong: dict[str, object]
) -> None:
    answer = client.post("/api/handing-out", json=wrong)
    assert answer.status_code in (400, 422)
    assert answer.json()["problem"]


def test_only_what_was_handed_out_can_be_had(client: httpx.Client, desk: Desk) -> None:
    assert client.get("/api/handing-out/none").status_code == 404
    job = desk.jobs.start("trace", "a task", {"target": "/etc/passwd"}, person=ADA)
    assert client.get(f"/api/handing-out/{job.id}").status_code == 404
    desk.jobs.cancel(job.id)
