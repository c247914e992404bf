"""Check what a daybook tells a report, what a public copy withholds, and issues."""

from __future__ import annotations

import importlib.util
import io
import json
import re
import shutil
import socket
import subprocess
import sys
import zipfile
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pypdfium2
import pytest
from PIL import Image

from wherestood.cli.app import run
from wherestood.daybook import Daybook, find, report_pictures
from wherestood.daybook.change_items import add_item, set_aside
from wherestood.daybook.handing_out import Wanted, gather
from wherestood.daybook.handover import write_bag
from wherestood.daybook.originals import take_in
from wherestood.daybook.originals.fixity import verify
from wherestood.daybook.originals.names import safe_name
from wherestood.daybook.report_facts import plate_facts
from wherestood.daybook.report_issues import issues, keep_issue
from wherestood.daybook.report_made import report_of_plates
from wherestood.daybook.report_public import published_facts
from wherestood.daybook.tables import Fix, FixInput, Plate, TerrainLayer
from wherestood.daybook.withdraw import withdraw
from wherestood.record.fix_json import fix_to_json, write_fix
from wherestood.record.page import page_text
from wherestood.record.report import Picture, tell_report, write_report
from wherestood.record.report.facts import SeenFacts
from wherestood.record.words import plain_words

SECRET = "Kernhowe graves"
A_THOUSANDTH = 0.001  # of a degree: 110 m, where a square of 1 km or nothing is told


def _load(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"of_{path.stem}_for_reports", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


attack = _load(Path(__file__).with_name("attack.py"))


@pytest.fixture(scope="module")
def scene() -> ModuleType:
    return _load(Path(__file__).parents[1] / "record" / "scene.py")


@pytest.fixture(scope="module")
def kept(
    scene: ModuleType, tmp_path_factory: pytest.TempPathFactory, empty_daybook: Path
) -> Path:
    """Return the folder of a daybook with a plate, a fix and what was judged."""
    made = tmp_path_factory.mktemp("kept")
    fix, inputs = scene.scene(made)
    shutil.copytree(empty_daybook, made / "book")
    scan = made / "Kernhowe 1871.png"
    shutil.copy(inputs.plate.path, scan)
    with Daybook.open(made / "book") as book:
        plate = {"title": f"View of {SECRET}", "place_words": SECRET}
        take_in(book, "VW 14", scan, "Ada", new_plate=plate)
        form = json.loads(json.dumps(fix_to_json(fix, inputs, scene.MAKING)))
        # Numbers that turn up nowhere by chance.
        station = form["station"] | {"lon": -27.516837, "lat": 41.208941}
        form["station"] = station
        form["camera"]["sight"]["bearing_deg"] = 38.4127
        with book.writing("Ada") as session:
            on = find(session, Plate, "VW 14")
            session.add(
                Fix(
                    plate_id=on.id, made=scene.MAKING.made, version="0.0.0",
                    verdict="located", near_enough_m=form["near_enough_m"],
                    lon_deg=station["lon"], lat_deg=station["lat"], answer=form,
                    words=page_text(plain_words(fix, inputs)),
                )
            )  # fmt: skip
        for table, fields, address in (
            ("sources", {"citation": "Rate book, leaf 3", "held": "MS 12"}, ""),
            ("details", {"what": "a gable", "crop_px": [10, 20, 60, 40]}, "VW 14/A"),
            ("evidence", {"kind": "plumb_edge", "content": {
                "from_px": [705.0, 1192.5], "to_px": [706.0, 1260.0]}}, "VW 14/edge"),
            ("marks", {"points_px": [[30.0, 40.0]], "shape": "point",
                       "note": "a hook of the crest"}, "VW 14/hook"),
            ("leads", {"plate": "VW 14", "what": "stock book", "state": "given up",
                       "because": "it was pulped"}, ""),
            ("leads", {"plate": "VW 14", "what": "the weekly", "outcome": "all read",
                       "state": "nothing found"}, ""),
            ("statements", {"plate": "VW 14", "words": f"near {SECRET}",
                            "source": "source-1"}, ""),
            ("decisions", {"plate": "VW 14", "fix": "fix-1", "conclusion": "accepted",
                           "words": f"It is {SECRET}."}, ""),
        ):  # fmt: skip
            add_item(book, table, fields, "Ada", address=address)
        set_aside(book, "evidence", "VW 14/edge", "Ada", "the wall leans")
    write_fix(made / "fix.json", fix, inputs, scene.MAKING)
    return made


@pytest.fixture
def book(kept: Path, tmp_path: Path):  # type: ignore[no-untyped-def]
    shutil.copytree(kept / "book", tmp_path / "book")
    with Daybook.open(tmp_path / "book") as opened:
        yield opened


@pytest.fixture
def quick_pictures(monkeypatch: pytest.MonkeyPatch) -> None:
    """Draw the plate as one grey point, where no picture is looked at."""
    held = io.BytesIO()
    Image.new("L", (1, 1), 128).save(held, "png")
    made = Picture("plate", "The plate.", "The plate.", held.getvalue(), 10.0)
    monkeypatch.setattr(report_pictures, "keyed_plate_picture", lambda *_: made)


def _said(book: Daybook, *, public: bool = False) -> str:
    report = tell_report(report_of_plates(book, ["VW 14"], public=public))
    return repr(report.face) + repr(
        [(c.heading, [b for b in c.blocks if not hasattr(b, "png")])
         for c in report.chapters]
    )  # fmt: skip


@pytest.mark.usefixtures("quick_pictures")
def test_a_full_report_tells_what_was_judged_set_aside_and_not_found(
    book: Daybook,
) -> None:
    said = _said(book)
    for words in (
        "Rate book, leaf 3. Held: MS 12",
        "edge (plumb edge): from 705, 1192.5 px; to 706, 1260 px.",
        "'hook', 'a hook of the crest'",
        "Because: the wall leans.",
        "stock book: given up because it was pulped",
        "the weekly: nothing found: all read",
        f"“It is {SECRET}.”",
        "The camera stood within",
        "The map and the comparison are not drawn anew",
    ):
        assert words in said


def _every_byte(folder: Path) -> bytes:
    """Return all that the files hold, unpacked; of a PDF also its words."""
    found = b""
    for path in sorted(folder.iterdir()):
        found += path.name.encode() + path.read_bytes()
        if path.suffix in (".docx", ".odt"):
            with zipfile.ZipFile(path) as packed:
                found += b"".join(packed.read(name) for name in packed.namelist())
        if path.suffix == ".pdf":
            pages = pypdfium2.PdfDocument(path)
            words = [page.get_textpage().get_text_range() for page in pages]
            found += " ".join(words).encode()
            found += str(pages.get_metadata_dict()).encode()
    return found


@pytest.mark.usefixtures("quick_pictures")
@pytest.mark.parametrize("precision", ["1 km", "withheld"])
def test_no_byte_of_a_public_report_tells_a_place_that_may_not_be_told(
    book: Daybook, tmp_path: Path, precision: str
) -> None:
    add_item(
        book, "restrictions", {"precision": precision, "published_words": "the county"},
        "Ada", about=("plates", "VW 14"),
    )  # fmt: skip
    facts = report_of_plates(book, ["VW 14"], public=True, author="Ada")
    write_report(tmp_path / "out", tell_report(facts))
    held = _every_byte(tmp_path / "out")
    with book.reading() as session:
        fix = find(session, Fix, "fix-1")
        assert fix.answer is not None
        station, camera = fix.answer["station"], fix.answer["camera"]
    for value in (station["lon"], station["lat"]):
        assert f"{abs(value):.3f}".encode() not in held
    # And by every number in what is packed, carried or written beside.
    for name, data in attack.files_in(tmp_path / "out"):
        numbers = attack.numbers_in(data)
        for value in (station["lon"], station["lat"], camera["sight"]["bearing_deg"]):
            assert attack.nearest(numbers, value) > A_THOUSANDTH, (name, value)
    sight = camera["sight"]["bearing_deg"]
    told = (f"{sight:.1f}°", f"{camera['principal_distance_px']:.0f} px", "Kernhowe")
    for words in told:
        assert words.encode() not in held
    text = _said(book, public=True)
    assert "VW 14" in text
    with book.writing("Ada") as session:
        find(session, Plate, "VW 14").key = "Kernhowe-3"
    (renamed,) = report_of_plates(book, ["Kernhowe-3"], public=True).plates
    assert "Kernhowe" not in repr(renamed)
    assert ("place", "the county") in renamed.catalogue
    assert "Withheld from this public copy" in text
    assert "may still give its place away" in text
    assert ("square of 1 km" in text) == (precision == "1 km")


@pytest.mark.usefixtures("quick_pictures")
def test_nobody_who_may_not_be_named_stands_in_a_public_report(book: Daybook) -> None:
    who = {"name": "Philomena Quexworth", "may_be_named": "no"}
    add_item(book, "informants", who, "Ada")
    seen = {"what": "Quexworths' shed", "identified_by": "PHILOMENA QUEXWORTH"}
    add_item(book, "details", seen, "Ada", address="VW 14/B")
    told = {"plate": "VW 14", "words": "set aside", "informant": "informant-1"}
    add_item(book, "statements", told | {"about": "other"}, "Ada")
    set_aside(book, "statements", "statement-2", "Ada")
    decision = {"plate": "VW 14", "fix": "fix-1", "conclusion": "accepted"}
    assert not re.search(r"\bAda\b", _said(book, public=True))
    words = "Mrs QUEXWORTH knew, philomena.quexworth@post.example"
    add_item(book, "decisions", decision | {"words": words}, "Ada")
    assert "quexworth" in _said(book).lower()
    public = _said(book, public=True)
    assert "quexworth" not in public.lower()
    assert "philomena" not in public.lower()
    assert "somebody who is not named" in public
    assert "statement-2" not in public


@pytest.mark.usefixtures("quick_pictures")
def test_what_was_told_in_confidence_stands_in_no_public_copy(book: Daybook) -> None:
    for allowed in ("nothing", "all"):
        who = {"name": f"Orla {allowed}", "may_be_named": "yes"}
        add_item(book, "informants", who | {"may_be_published": allowed}, "Ada")
    for number, words in ((1, "flood year"), (2, "fire year")):
        told = {"plate": "VW 14", "informant": f"informant-{number}"}
        said = told | {"about": "date", "words": words, "means_edtf": "1871"}
        add_item(book, "statements", said, "Ada")
        read = {"plate": "VW 14", "of": "exposed", "edtf": "1871",
                "statement": f"statement-{number + 1}"}  # fmt: skip
        add_item(book, "dates", read | {"words": f"the {words} she told of"}, "Ada")
        asked = told | {"what": f"what Orla {number} keeps", "state": "nothing found"}
        add_item(book, "leads", asked, "Ada")
    oral = {"citation": "Told on the bridge, 3 May", "kind": "oral"}
    add_item(book, "sources", oral, "Ada")
    bound = {"plate": "VW 14", "of": "not after", "edtf": "1884", "source": "source-2"}
    add_item(book, "dates", bound, "Ada")
    silent = ("flood year", "what Orla 1 keeps", "Told on the bridge")
    full, public = _said(book), _said(book, public=True)
    for words in silent:
        assert words in full
        assert words not in public
    assert "words that may not be told" in public
    assert "the fire year she told of" in public  # she agreed
    assert "What was told by word of mouth, and what people were asked" in public
    handed = gather(book, Wanted("public", ("VW 14",))).handed
    assert "flood year" not in repr(handed)
    assert "flood year" in repr(gather(book, Wanted("full", ("VW 14",))).handed)


@pytest.mark.usefixtures("quick_pictures")
def test_a_term_of_the_ground_stops_a_public_report_too(
    book: Daybook, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Elevation that a fix rests on, and things that a plate is tied to."""
    add_item(book, "terrain_layers", {"title": "Survey"}, "Ada", address="model")
    add_item(book, "features", {"what": "gable"}, "Ada", address="cote-gable")
    tied = {"what": "a gable", "feature": "cote-gable"}
    add_item(book, "details", tied, "Ada", address="VW 14/B")
    with book.writing("Ada") as session:
        find(session, TerrainLayer, "model").files = [{"file": "a", "sha256": "5e"}]
        fix = find(session, Fix, "fix-1")
        session.add(FixInput(fix_id=fix.id, role="terrain", name="a", sha256="5e"))
    for about in (("terrain_layers", "model"), ("features", "cote-gable")):
        fields = {"may_be_published": False, "terms": f"no {about[0]}"}
        add_item(book, "rights", fields, "Ada", about=about)
    out = tmp_path / "out"
    words = ["report", "VW 14", "--daybook", str(book.folder), "--form", "html"]
    assert run([*words, "--out", str(out), "--public"]) == 2
    told = " ".join(capsys.readouterr().err.split())
    assert "no terrain_layers" in told
    assert "no features" in told
    facts = plate_facts(book, "VW 14")
    drawn = [Picture(name, name, name, b"") for name in ("map", "comparison", "view")]
    seen = SeenFacts("B", "a gable", "cote-gable")
    facts = replace(facts, seen=(seen,), pictures=tuple(drawn))
    with book.reading() as session:
        public = published_facts(session, facts)
    assert [one.name for one in public.pictures] == ["comparison"]
    assert [one.taken_to_be for one in public.seen] == ["what may not be published"]
    # A place that is not told shows neither.
    add_item(book, "restrictions", {"precision": "1 km"}, "Ada",
             about=("plates", "VW 14"))  # fmt: skip
    assert run([*words, "--out", str(out), "--public"]) == 0


@pytest.mark.usefixtures("quick_pictures")
def test_a_picture_that_may_not_be_published_stops_and_asks(
    book: Daybook, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    add_item(
        book, "rights", {"what": "image", "may_be_published": False}, "Ada",
        about=("plates", "VW 14"),
    )  # fmt: skip
    (plate,) = report_of_plates(book, ["VW 14"], public=True).plates
    assert plate.pictures == ()
    assert any("The picture" in words for words in plate.withheld)
    words = ["report", "VW 14", "--daybook", str(book.folder), "--form", "html"]
    out = tmp_path / "out"
    assert run([*words, "--out", str(out), "--public"]) == 2
    told = " ".join(capsys.readouterr().err.split())
    assert "VW 14: its image may not be published" in told
    assert "--leave-out" in told
    assert not out.exists()
    assert run([*words, "--out", str(out), "--public", "--leave-out"]) == 0
    assert not list(out.rglob("*.png"))


@pytest.mark.usefixtures("quick_pictures")
def test_an_issue_is_numbered_frozen_and_never_overwritten(
    book: Daybook, tmp_path: Path
) -> None:
    facts = report_of_plates(book, ["VW 14"])
    first = keep_issue(book, facts, ("html",), "Ada", "for the archive")
    held = {one["file"]: book.path(one["file"]).read_bytes() for one in first.files}
    second = keep_issue(book, facts, ("html",), "Ada")
    assert (first.number, second.number) == (1, 2)
    assert all(book.path(file).read_bytes() == was for file, was in held.items())
    assert b"issue 1" in held["reports/report-1/report.html"]
    assert verify(book) == []
    write_bag(book, tmp_path / "bag")
    assert (tmp_path / "bag/data/reports/report-1/report.html").is_file()
    changed = book.path("reports/report-1/report.html")
    changed.chmod(0o644)
    changed.write_bytes(b"other")
    assert [one.trouble for one in verify(book)] == ["changed"]


@pytest.mark.usefixtures("quick_pictures")
def test_what_a_killed_issue_left_is_cleared_by_the_next(book: Daybook) -> None:
    half = book.folder / "reports" / "report-1"
    half.mkdir(parents=True)
    (half / "report.html").write_text("half of it")
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    mark = f".issuing-{ended.pid}@{safe_name(socket.gethostname())}@"
    (half / mark).touch()
    facts = report_of_plates(book, ["VW 14"])
    issued = keep_issue(book, facts, ("html",), "Ada")
    assert issued.number == 1
    assert verify(book) == []


@pytest.mark.usefixtures("quick_pictures")
def test_what_is_wrong_in_an_issue_is_told_by_a_slip_and_in_the_next(
    book: Daybook, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    keep_issue(book, report_of_plates(book, ["VW 14"]), ("html",), "Ada")
    words = ["--daybook", str(book.folder), "--person", "Ada"]
    assert run(["reports", "received", "report-1", "--by", "the archive", *words]) == 0
    slip = tmp_path / "slip"
    told = ["--words", "The gable is a dormer.", "--out", str(slip)]
    assert run(["reports", "erratum", "report-1", *told, *words]) == 0
    assert "Send it to the archive" in capsys.readouterr().out
    page = pypdfium2.PdfDocument(slip / "erratum.pdf")[0]
    assert "The gable is a dormer." in page.get_textpage().get_text_range()
    with book.reading() as session:
        (one,) = issues(session)
        assert one.received[0]["by"] == "the archive"
    assert "The gable is a dormer." in _said(book)


@pytest.mark.usefixtures("quick_pictures")
def test_withdrawing_names_the_issues_that_may_tell_it(book: Daybook) -> None:
    keep_issue(book, report_of_plates(book, ["VW 14"]), ("html",), "Ada")
    with book.reading() as session:
        plate = find(session, Plate, "VW 14").id
    done = withdraw(book, Plate, plate, person="Ada", why="asked")
    assert done.issued == ("report-1",)
    assert done.beside == ()


def test_the_command_reports_a_plate_or_the_folder_of_a_fix(
    book: Daybook, kept: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    form = ["--form", "html", "--paragraph", "500"]
    out = tmp_path / "one"
    words = ["report", "VW 14", "--out", str(out), "--daybook", str(book.folder), *form]
    assert run(words) == 0
    assert len((out / "catalogue.txt").read_text("utf-8").strip()) <= 500
    assert run(["report", str(kept), "--out", str(tmp_path / "two"), *form]) == 0
    page = (tmp_path / "two" / "report.html").read_text("utf-8")
    assert re.search("The camera stood within|Nobody has concluded", page)
    assert run(["report", str(kept), "--public", "--out", str(tmp_path / "x")]) == 2
    assert "known to a daybook" in capsys.readouterr().err
