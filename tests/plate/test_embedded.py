from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from wherestood.errors import PlateError
from wherestood.plate.embedded import read_embedded

XMP = """<?xpacket begin="" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
 <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
  <rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/"
    xmlns:photoshop="http://ns.adobe.com/photoshop/1.0/"
    photoshop:DateCreated="1898-05">
   <dc:title><rdf:Alt>
    <rdf:li xml:lang="de">Die Mühle</rdf:li>
    <rdf:li xml:lang="x-default">The mill at Oxbow</rdf:li></rdf:Alt></dc:title>
   <dc:creator><rdf:Seq><rdf:li>Ada Moss</rdf:li><rdf:li>Ben Fell</rdf:li></rdf:Seq>
   </dc:creator>
   <dc:identifier>1987.12</dc:identifier>
   <dc:rights><rdf:Alt><rdf:li xml:lang="x-default">No known copyright</rdf:li>
   </rdf:Alt></dc:rights>
  </rdf:Description>
 </rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>"""


def _iptc(*sets: tuple[int, int, bytes]) -> bytes:
    """Write data sets as IIM 4.2, chapter 3: tag mark, record, set, length, value."""
    return b"".join(
        b"\x1c" + bytes([record, number]) + struct.pack(">H", len(value)) + value
        for record, number, value in sets
    )


def _resource(iim: bytes) -> bytes:
    """Wrap data sets as Photoshop's image resource 0x0404, nameless."""
    padded = iim + b"\x00" * (len(iim) % 2)
    return b"8BIM\x04\x04\x00\x00" + struct.pack(">I", len(iim)) + padded


def _picture() -> Image.Image:
    tones = np.tile(np.arange(64, dtype=np.uint8) * 3, (48, 1))
    return Image.fromarray(tones)


def _jpeg(path: Path, *, iim: bytes = b"", xmp: str = "", exif: bytes = b"") -> Path:
    options = {}
    if exif:
        options["exif"] = exif
    if xmp:
        options["xmp"] = xmp.encode("utf-8")
    _picture().save(path, "JPEG", **options)
    if iim:
        content = b"Photoshop 3.0\x00" + _resource(iim)
        segment = b"\xff\xed" + struct.pack(">H", len(content) + 2) + content
        plain = path.read_bytes()
        path.write_bytes(plain[:2] + segment + plain[2:])
    return path


def _exif(artist: str, original: str = "") -> bytes:
    exif = Image.Exif()
    exif[0x013B] = artist
    exif[0x010E] = "Mill and race"
    if original:
        exif.get_ifd(0x8769)[0x9003] = original
    return exif.tobytes()


@pytest.mark.parametrize("suffix", ["jpg", "tif", "png"])
def test_xmp_gives_title_creator_date_number_and_rights(
    tmp_path: Path, suffix: str
) -> None:
    path = tmp_path / f"scan.{suffix}"
    if suffix == "jpg":
        _jpeg(path, xmp=XMP)
    elif suffix == "tif":
        _picture().save(path, tiffinfo={700: XMP.encode("utf-8")})
    else:
        from PIL.PngImagePlugin import PngInfo

        info = PngInfo()
        info.add_itxt("XML:com.adobe.xmp", XMP)
        _picture().save(path, pnginfo=info)
    found = read_embedded(path)
    assert found.words == {
        "title": "The mill at Oxbow",
        "creator": "Ada Moss; Ben Fell",
        "date": "1898-05",
        "accession_number": "1987.12",
        "rights": "No known copyright",
    }
    assert set(found.said_by.values()) == {"XMP"}


@pytest.mark.parametrize("encoding", ["utf-8", "cp1252"])
def test_iptc_is_read_in_either_encoding(tmp_path: Path, encoding: str) -> None:
    title = "Die alte Mühle bei der Brücke über die Ache".encode(encoding)
    iim = _iptc(
        (2, 5, title),
        (2, 80, b"Ada Moss"),
        (2, 55, b"18980000"),
        (2, 103, b"1987.12"),
        (2, 25, b"mill"),
        (2, 25, b"river"),
    )
    found = read_embedded(_jpeg(tmp_path / "scan.jpg", iim=iim))
    assert found.words["title"] == "Die alte Mühle bei der Brücke über die Ache"
    assert found.words["date"] == "1898"
    assert found.words["subjects"] == "mill; river"
    assert found.said_by["accession_number"] == "IPTC"


def test_exif_gives_maker_description_and_day(tmp_path: Path) -> None:
    exif = _exif("Ada Moss", "1898:05:01 12:00:00")
    found = read_embedded(_jpeg(tmp_path / "scan.jpg", exif=exif))
    assert found.words == {
        "creator": "Ada Moss",
        "description": "Mill and race",
        "date": "1898-05-01",
    }


def test_xmp_counts_before_iptc_before_exif_and_none_is_dropped(
    tmp_path: Path,
) -> None:
    path = _jpeg(
        tmp_path / "scan.jpg",
        xmp=XMP,
        iim=_iptc((2, 5, b"Mill"), (2, 120, b"By IPTC")),
        exif=_exif("Somebody else"),
    )
    found = read_embedded(path)
    assert found.words["title"] == "The mill at Oxbow"
    assert found.words["description"] == "By IPTC"
    assert found.others == {
        "IPTC title": "Mill",
        "EXIF creator": "Somebody else",
        "EXIF description": "Mill and race",
    }


@pytest.mark.parametrize(
    "xmp",
    [
        "<x:xmpmeta",
        '<!DOCTYPE a [<!ENTITY b "bbbb">]><a>&b;</a>',
        '<!DOCTYPE a [<!ENTITY b SYSTEM "file:///etc/hostname">]><a>&b;</a>',
    ],
)
def test_damaged_or_hostile_xmp_is_a_note(tmp_path: Path, xmp: str) -> None:
    found = read_embedded(_jpeg(tmp_path / "scan.jpg", xmp=xmp))
    assert found.words == {}
    assert len(found.notes) == 1
    assert found.notes[0].startswith("Its XMP cannot be read")


def test_iptc_that_ends_too_soon_is_a_note(tmp_path: Path) -> None:
    iim = _iptc((2, 5, b"Mill"))[:-2]
    found = read_embedded(_jpeg(tmp_path / "scan.jpg", iim=iim))
    assert found.notes == ("Its IPTC cannot be read: it ends too soon.",)


def test_control_characters_inside_are_taken_out(tmp_path: Path) -> None:
    iim = _iptc((2, 5, b"The\x07 mill\x00"))
    found = read_embedded(_jpeg(tmp_path / "scan.jpg", iim=iim))
    assert found.words["title"] == "The  mill"


def test_a_file_without_any_says_nothing(tmp_path: Path) -> None:
    assert read_embedded(_jpeg(tmp_path / "scan.jpg")).as_json() == {}


def test_what_is_no_image_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "scan.jpg"
    path.write_bytes(b"not an image")
    with pytest.raises(PlateError, match=r"scan\.jpg"):
        read_embedded(path)
