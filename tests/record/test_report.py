"""Check reports: one content in four forms, read back by other readers."""

from __future__ import annotations

import io
import json
import re
import shutil
import subprocess
import zipfile
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from types import ModuleType
from xml.etree import ElementTree

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from wherestood.errors import InputError
from wherestood.fix.result import Alternative, Fix, Proposed, ProposedTold
from wherestood.record.against import can_set_against
from wherestood.record.fix_json import fix_to_json
from wherestood.record.page import Section, page_text
from wherestood.record.report import (
    Picture,
    PlateFacts,
    Report,
    ReportFacts,
    catalogue_paragraph,
    figures,
    tell_report,
    write_report,
)
from wherestood.record.report.beside import files_told
from wherestood.record.report.facts import ConclusionFacts, EvidenceFacts, SeenFacts
from wherestood.record.report.figures import (
    against_picture,
    comparison_picture,
    keyed_plate_picture,
    map_picture,
)
from wherestood.record.report.fix_again import fix_of_form
from wherestood.record.report.plain_answer import nine_in_ten_m
from wherestood.record.report.words_read import read_words
from wherestood.record.screen_form import screen_form
from wherestood.record.words import plain_words

ONE_HUNDREDTH_PX = 0.01
ONE_CENTIMETRE = 0.01
DOTS_AN_INCH = 300
#: Words that a reader of any form must meet.
SAID = (
    "nine chances in ten, if the camera stood inside the ground searched",
    "I would not put a peg there",
    "A person's decision:",
    "The program's result:",
    "chimney & “gable” <old>",
    "the wall leans in the scan",
    "stock book: given up",
    "Walker's notebook, leaves 3-4",
    "UNKNOWN",
    "5afaa90e",
    "issue 3",
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("report")


@pytest.fixture(scope="module")
def plate(scene: ModuleType, folder: Path) -> PlateFacts:
    fix, inputs = scene.scene(folder)
    form = json.loads(json.dumps(fix_to_json(fix, inputs, scene.MAKING)))
    seen = (
        SeenFacts("A", "chimney & “gable” <old>", points_px=((400.0, 900.0),)),
        SeenFacts("B", "a fence", points_px=((10.0, 200.0), (90.0, 210.0)),
                  shape="line"),
        SeenFacts("C", "not marked"),
    )  # fmt: skip
    return PlateFacts(
        "VW 14", "A paddock", form=form, fix_key="fix-1",
        sections=tuple(plain_words(fix, inputs)),
        conclusion=ConclusionFacts(
            "accepted with conditions", "I would not put a peg there", "Ada Moss",
            "2026-01-03T10:00:00+00:00", "that these are the hearths", "fix-1",
        ),
        seen=seen,
        evidence=(EvidenceFacts("A", "mark", "x", "Walker's notebook, leaves 3-4"),
                  EvidenceFacts("B", "order", "left of A", "")),
        set_aside=(EvidenceFacts("edge", "plumb edge", "x", "",
                                 "the wall leans in the scan"),),
        not_found=("The stock book: given up because it was pulped.",),
        files=(("scan", "plate.tif", "negative", "5afaa90e" * 8),),
        pictures=(keyed_plate_picture(inputs.plate, seen),),
    )  # fmt: skip


@pytest.fixture(scope="module")
def report(plate: PlateFacts) -> Report:
    return tell_report(
        ReportFacts((plate,), "2026-01-05T00:00:00+00:00", "0.0.0", issue=3)
    )


@pytest.fixture(scope="module")
def written(report: Report, folder: Path) -> dict[str, Path]:
    files = write_report(folder / "out", report)
    return {path.name: path for path in files}


class _Words(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.addresses: list[str] = []

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        del tag
        self.addresses += [v for k, v in attrs if k in ("src", "href") and v]


def _xml_words(path: Path, part: str) -> str:
    with zipfile.ZipFile(path) as packed:
        tree = ElementTree.fromstring(packed.read(part))
    return " ".join("".join(one.itertext()) for one in tree.iter())


def _plain(text: str) -> str:
    text = re.sub(r"[\ufffe\u00ad-]\s*\n", "", text)
    return re.sub(r"\s+", " ", text.replace("\u2019", "'"))


def _pdf_words(path: Path) -> str:
    pages = pypdfium2.PdfDocument(path)
    return "\n".join(page.get_textpage().get_text_range() for page in pages)


def test_every_form_holds_the_same_words(written: dict[str, Path]) -> None:
    page = _Words()
    page.feed(written["report.html"].read_text("utf-8"))
    told = {
        "pdf": _pdf_words(written["report.pdf"]),
        "html": "".join(page.words),
        "docx": _xml_words(written["report.docx"], "word/document.xml"),
        "odt": _xml_words(written["report.odt"], "content.xml"),
    }
    for form, words in told.items():
        squeezed = _plain(words).replace(" ", "").replace("\n", "")
        for said in SAID:
            assert said.replace(" ", "") in squeezed, (form, said)


def test_the_page_needs_no_network(written: dict[str, Path]) -> None:
    page = _Words()
    page.feed(written["report.html"].read_text("utf-8"))
    assert page.addresses
    assert all(one.startswith(("#", "data:image/png")) for one in page.addresses)


def test_the_pdf_says_that_it_is_for_archives(written: dict[str, Path]) -> None:
    # ISO 19005-2: the level is told in the file's own XMP.
    assert b"pdfaid:part>2<" in written["report.pdf"].read_bytes()


def test_figures_lie_apart_at_300_dpi_and_as_vectors(
    written: dict[str, Path], plate: PlateFacts
) -> None:
    for number, one in enumerate(plate.pictures, start=1):
        held = written[f"figure-{number}-{one.name}.png"].read_bytes()
        with Image.open(io.BytesIO(held)) as opened:
            assert opened.width == pytest.approx(
                one.width_mm / 25.4 * DOTS_AN_INCH, abs=1.0
            )
            assert opened.info["dpi"][0] == pytest.approx(DOTS_AN_INCH, abs=0.1)
        drawn = ElementTree.parse(written[f"figure-{number}-{one.name}.svg"]).getroot()
        assert drawn.tag == "{http://www.w3.org/2000/svg}svg"


@pytest.mark.outside_program("soffice")
def test_libreoffice_opens_both_documents(
    written: dict[str, Path], folder: Path
) -> None:
    office = shutil.which("soffice")
    assert office
    for name in ("docx", "odt"):
        shutil.copy(written[f"report.{name}"], folder / f"{name}.{name}")
    subprocess.run(
        [office, f"-env:UserInstallation={(folder / 'office').as_uri()}", "--headless",
         "--convert-to", "pdf", "--outdir", str(folder), str(folder / "docx.docx"),
         str(folder / "odt.odt")],
        check=True, capture_output=True, timeout=300,
    )  # fmt: skip
    for name in ("docx", "odt"):
        words = _plain(_pdf_words(folder / f"{name}.pdf"))
        assert "nine chances in ten" in words
        assert "I would not put a peg there" in words


@pytest.mark.parametrize("verdict", ["several places", "not determined"])
def test_what_is_not_located_says_so_on_its_face(
    plate: PlateFacts, verdict: str
) -> None:
    assert plate.form is not None
    form = {**plate.form, "verdict": verdict}
    told = tell_report(ReportFacts((replace(plate, form=form),), "2026-01-05", "0.0.0"))
    assert "does not say where the camera stood" in told.face[0].text
    assert "The camera stood within" not in catalogue_paragraph(
        replace(plate, form=form, sections=()), 600
    )


def test_nine_of_ten_cameras_lie_within_the_distance_told() -> None:
    metres_a_degree = 111_195.0  # of latitude, on a mean earth
    north_m = np.arange(1.0, 11.0) * 100.0
    draws = {
        "lon": [0.0] * 10,
        "lat": [float(one / metres_a_degree) for one in north_m],
    }
    form = {"station": {"lon": 0.0, "lat": 0.0}, "draws": draws}
    ELLIPSOID_SHARE = 0.01  # a degree at the equator is 0.6% shorter than on average
    assert nine_in_ten_m(form) == pytest.approx(900.0, rel=ELLIPSOID_SHARE)


@pytest.mark.parametrize("most", [300, 450, 700])
def test_a_catalogue_paragraph_keeps_its_length_and_whole_sentences(
    plate: PlateFacts, most: int
) -> None:
    told = catalogue_paragraph(plate, most)
    assert len(told) <= most
    assert told.endswith(".")
    assert "nine chances in ten, if the camera stood inside" in told


def test_a_paragraph_too_short_for_the_answer_is_refused(plate: PlateFacts) -> None:
    with pytest.raises(InputError, match="holds no whole answer"):
        catalogue_paragraph(plate, 130)


def test_a_page_of_words_is_read_back_as_it_was(plate: PlateFacts) -> None:
    for width in (None, 80):
        assert read_words(page_text(plate.sections, width)) == plate.sections


def test_the_head_of_a_file_of_words_is_no_section() -> None:
    page = "plate\nWritten 2026-01-05 by wherestood 0.0.0.\n\nWhere\n  There."
    assert read_words(page) == (Section("Where", ("There.",)),)


def _proposed(fix: Fix) -> tuple[ProposedTold, ...]:
    """Return a position whose horizon lies 20 px off ours, and one without ground."""
    place = Alternative(
        fix.station, fix.camera, 0.1, fix.computed_skyline_px + 20.0,
        fix.horizon_distance_m,
    )  # fmt: skip
    hale = Proposed("B. Hale", fix.station.lon_deg, fix.station.lat_deg)
    sea = Proposed("the sea", 0.0, 0.0)
    return (
        ProposedTold(
            hale, "fits poorly", -4.0, (("skyline", -4.0),), np.nan, answer=place
        ),
        ProposedTold(sea, "impossible", -np.inf, (("ground", -np.inf),), np.nan),
    )


def test_the_answer_against_a_proposed_position_has_its_picture_in_its_chapter(
    scene: ModuleType, folder: Path, plate: PlateFacts
) -> None:
    fix, inputs = scene.scene(folder)
    told = fix_to_json(replace(fix, proposed=_proposed(fix)), inputs, scene.MAKING)
    drawn = Picture("against-1", "Both.", "Both.", b"")
    shown = replace(plate, form=json.loads(json.dumps(told)), pictures=(drawn,))
    report = tell_report(ReportFacts((shown,), "2026-01-05", "0.0.0"))
    held = {c.heading: c.blocks for c in report.chapters}
    assert drawn in held["The answer against B. Hale, on the same evidence"]
    assert list(report.pictures()) == [drawn]
    # And where there is none, that is said: of one of the two alone.
    assert repr(report.chapters).count("No picture sets the two side by side") == 1


def test_a_fix_is_drawn_from_its_published_form(
    scene: ModuleType, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(figures, "DPI", 40)  # that they can be drawn is looked at
    fix, inputs = scene.scene(folder)
    fix = replace(fix, proposed=_proposed(fix))
    form = json.loads(json.dumps(fix_to_json(fix, inputs, scene.MAKING)))
    screen = json.loads(json.dumps(screen_form(fix, inputs)))
    again = fix_of_form(form, inputs.terrain, screen)
    assert again.station.east_m == pytest.approx(
        fix.station.east_m, abs=2 * ONE_CENTIMETRE
    )
    assert again.camera.grid_bearing_deg == pytest.approx(
        fix.camera.grid_bearing_deg % 360.0, abs=1e-4
    )
    known = np.isfinite(fix.computed_skyline_px).all(axis=1)
    drawn = np.isfinite(again.computed_skyline_px).all(axis=1)
    assert again.computed_skyline_px[drawn] == pytest.approx(
        fix.computed_skyline_px[known], abs=ONE_HUNDREDTH_PX
    )
    assert [can_set_against(one) for one in again.proposed] == [True, False]
    theirs = again.proposed[0].answer
    assert theirs is not None
    assert theirs.computed_skyline_px is not None
    shown = np.isfinite(theirs.computed_skyline_px).all(axis=1)
    assert theirs.computed_skyline_px[shown] == pytest.approx(
        fix.computed_skyline_px[known] + 20.0, abs=ONE_HUNDREDTH_PX
    )
    # What was kept before these horizons were: no picture, and no trouble.
    older = {**screen, "proposed": [{"name": "B. Hale", "verdict": "fits"}]}
    then = fix_of_form(form, inputs.terrain, older)
    assert not any(can_set_against(one) for one in then.proposed)
    for picture in (
        map_picture(again, inputs),
        comparison_picture(again, inputs),
        against_picture(again, inputs, 1),
    ):
        with Image.open(io.BytesIO(picture.png)) as opened:
            assert np.ptp(np.asarray(opened.convert("L"))) > 200


def test_a_report_of_two_plates_lists_both_first(plate: PlateFacts) -> None:
    other = PlateFacts("VW 15", "Another")
    told = tell_report(ReportFacts((plate, other), "2026-01-05", "0.0.0"))
    first = told.chapters[0].blocks[0]
    assert [row[0] for row in first.rows] == ["VW 14", "VW 15"]  # type: ignore[union-attr]
    assert "VW 15" in told.face[0].text


def test_every_plate_of_a_panorama_is_named_with_its_checksum() -> None:
    scan = {"width_px": 3, "height_px": 2}
    plates = [{"scan": {"file": f"{n}.tif", "sha256": n * 8, **scan}} for n in "ab"]
    form = {
        "panorama": {"plates": plates},
        "inputs": plates[0],
        "terrain": {"sources": []},
    }
    told = [(what, name, checksum) for what, name, _, checksum in files_told(form)]
    assert told == [("scan", "a.tif", "a" * 8), ("scan", "b.tif", "b" * 8)]
