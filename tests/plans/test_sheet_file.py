"""Files of sheets are opened for what they are."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from wherestood.errors import PlanError
from wherestood.plans.sheet_file import draw_sheet, open_sheet


def pdf(path: Path, pages: int = 1, script: str = "") -> Path:
    """Write a PDF of pages 2 x 1 inches, each with a black square at its lower left."""
    objects = [b"<< /Type /Catalog /Pages 2 0 R%s >>"]
    kids = " ".join(f"{3 + 2 * i} 0 R" for i in range(pages))
    objects.append(f"<< /Type /Pages /Kids [{kids}] /Count {pages} >>".encode())
    for i in range(pages):
        objects.append(
            f"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 144 72] "
            f"/Contents {4 + 2 * i} 0 R >>".encode()
        )
        drawn = b"0 0 0 rg 0 0 36 36 re f"
        objects.append(b"<< /Length %d >> stream\n%s\nendstream" % (len(drawn), drawn))
    names = b""
    if script:
        number = len(objects) + 1
        names = b" /Names << /JavaScript << /Names [(a) %d 0 R] >> >>" % number
        objects.append(b"<< /S /JavaScript /JS (%s) >>" % script.encode())
    objects[0] = objects[0] % names
    out, places = bytearray(b"%PDF-1.7\n"), []
    for number, one in enumerate(objects, 1):
        places.append(len(out))
        out += b"%d 0 obj %s endobj\n" % (number, one)
    start = len(out)
    out += b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1)
    out += b"".join(b"%010d 00000 n \n" % place for place in places)
    out += b"trailer << /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF" % (
        len(objects) + 1,
        start,
    )
    path.write_bytes(bytes(out))
    return path


def test_page_of_a_pdf_is_drawn_at_so_many_pixels_to_the_inch(tmp_path: Path) -> None:
    path = pdf(tmp_path / "plan.pdf")
    sheet = open_sheet(path, page_ppi=100.0)
    assert (sheet.kind, sheet.pages, sheet.width_px, sheet.height_px) == (
        "pdf", 1, 200, 100,
    )  # fmt: skip
    drawn = draw_sheet(path, sheet)
    assert drawn.shape == (100, 200, 3)
    # Half an inch of black at the lower left.
    assert drawn[75, 25].max() < 10
    assert drawn[25, 25].min() > 245
    assert drawn[75, 75].min() > 245


def test_scripts_of_a_pdf_are_not_run_and_that_is_said(tmp_path: Path) -> None:
    path = pdf(tmp_path / "plan.pdf", script="app.alert(1);")
    sheet = open_sheet(path)
    assert sheet.notes == ("The PDF holds scripts; they were not run.",)
    assert draw_sheet(path, sheet).shape == (300, 600, 3)
    assert open_sheet(pdf(tmp_path / "quiet.pdf")).notes == ()


def test_pdf_of_many_pages_is_asked_for_one(tmp_path: Path) -> None:
    path = pdf(tmp_path / "atlas.pdf", pages=500)
    with pytest.raises(PlanError, match="500 pages") as refused:
        open_sheet(path)
    assert "--page" in refused.value.remedy
    assert open_sheet(path, page=437).page == 437
    with pytest.raises(PlanError, match="no page 501"):
        open_sheet(path, page=501)
    with pytest.raises(PlanError, match="2001 pages; at most 2000"):
        open_sheet(pdf(tmp_path / "book.pdf", pages=2001), page=3)


def test_damaged_or_locked_pdf_is_refused(tmp_path: Path) -> None:
    broken = tmp_path / "broken.pdf"
    broken.write_bytes(b"%PDF-1.7\nnothing")
    with pytest.raises(PlanError, match="is damaged"):
        open_sheet(broken)


def test_huge_page_is_drawn_less_finely(tmp_path: Path) -> None:
    path = tmp_path / "wall.pdf"
    wide = pypdfium2.PdfDocument.new()
    wide.new_page(14400, 14400)
    wide.save(path)
    wide.close()
    sheet = open_sheet(path)
    assert sheet.page_ppi == 70
    assert any("70 to the inch" in note for note in sheet.notes)


def test_page_of_a_tiff_is_chosen(tmp_path: Path) -> None:
    path = tmp_path / "roll.tif"
    first, second = (Image.new("L", size, tone) for size, tone in (
        ((40, 30), 10), ((60, 20), 200)))  # fmt: skip
    first.save(path, save_all=True, append_images=[second])
    with pytest.raises(PlanError, match="2 pages"):
        open_sheet(path)
    sheet = open_sheet(path, page=2)
    assert (sheet.width_px, sheet.height_px, sheet.pages) == (60, 20, 2)
    assert draw_sheet(path, sheet)[5, 5].tolist() == [200, 200, 200]


def test_telephones_picture_is_upright(tmp_path: Path) -> None:
    path = tmp_path / "phone.jpg"
    turned = Image.new("RGB", (80, 40), (255, 255, 255))
    turned.paste((0, 0, 0), (0, 0, 40, 40))
    exif = Image.Exif()
    exif[274] = 6  # the camera was held a quarter turn
    turned.save(path, exif=exif, quality=95)
    sheet = open_sheet(path)
    assert (sheet.width_px, sheet.height_px) == (40, 80)
    drawn = draw_sheet(path, sheet)
    assert drawn[20, 20].max() < 30
    assert drawn[60, 20].min() > 225


def test_what_is_no_picture_is_refused(tmp_path: Path) -> None:
    for name, content in (("a.tif", b"II*\x00junk"), ("a.jpg", b"no picture")):
        path = tmp_path / name
        path.write_bytes(content)
        with pytest.raises(PlanError, match="cannot be read"):
            open_sheet(path)
    with pytest.raises(PlanError, match="cannot be read"):
        open_sheet(tmp_path / "not-there.pdf")
    png = tmp_path / "one.png"
    Image.fromarray(np.zeros((5, 5, 3), np.uint8)).save(png)
    with pytest.raises(PlanError, match="one page"):
        open_sheet(png, page=2)
