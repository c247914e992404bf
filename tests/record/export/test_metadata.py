"""Check what is written about plates: other readers find it, and pixels stay.

Readers: ExifTool 12 for XMP and EXIF, PyLD for JSON-LD, iiif-prezi3 for manifests,
Pillow for pixels, and the program's own reader of catalogues for Dublin Core, which
knows nothing of the writer.
"""

from __future__ import annotations

import json
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from pydantic import ValidationError
from pyld import jsonld

from wherestood.daybook.catalogue.dublin_core import read_dublin_core
from wherestood.record.export.embedded import embed
from wherestood.record.export.handed import HandedOut
from wherestood.record.export.json_ld import json_ld_of
from wherestood.record.export.xmp import write_xmp

OA = "http://www.w3.org/ns/oa#"
SCHEMA = "https://schema.org/"
ONE_METRE_DEG = 1.0 / 111_195.0
#: Terms of http://www.w3.org/ns/anno.jsonld that are used, with what they map to, and
#: of IIIF's own for a point. Source: Web Annotation Vocabulary, W3C, 2017, appendix A;
#: copied by hand, since nothing is fetched.
ANNOTATIONS = {
    "@context": {
        "oa": OA, "dc": "http://purl.org/dc/elements/1.1/",
        "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
        "as": "http://www.w3.org/ns/activitystreams#",
        "iiif": "http://iiif.io/api/presentation/3#",
        "id": {"@type": "@id", "@id": "@id"}, "type": {"@type": "@id", "@id": "@type"},
        "Annotation": "oa:Annotation", "SpecificResource": "oa:SpecificResource",
        "SvgSelector": "oa:SvgSelector", "TextualBody": "oa:TextualBody",
        "PointSelector": "iiif:PointSelector",
        "AnnotationPage": "as:OrderedCollectionPage",
        "identifying": "oa:identifying", "commenting": "oa:commenting",
        "motivation": {"@type": "@vocab", "@id": "oa:motivatedBy"},
        "body": {"@type": "@id", "@id": "oa:hasBody"},
        "target": {"@type": "@id", "@id": "oa:hasTarget"},
        "source": {"@type": "@id", "@id": "oa:hasSource"},
        "selector": {"@type": "@id", "@id": "oa:hasSelector"},
        "value": "rdf:value", "format": "dc:format",
        "x": "iiif:pointX", "y": "iiif:pointY",
        "items": {"@type": "@id", "@id": "as:items", "@container": "@list"},
    }
}  # fmt: skip


def read_by_exiftool(*paths: Path) -> list[dict[str, Any]]:
    done = subprocess.run(
        ["exiftool", "-json", "-G1", "-struct", "-n", *map(str, paths)],
        capture_output=True, check=True,
    )  # fmt: skip
    told: list[dict[str, Any]] = json.loads(done.stdout)
    return told


@pytest.mark.outside_program("exiftool")
def test_exiftool_reads_back_what_was_written_into_a_copy(
    written: Path, handed: HandedOut
) -> None:
    plate = handed.plates[0]
    place = plate.place
    assert place is not None
    (copy,) = (written / "embedded").iterdir()
    beside = written / "xmp" / f"{copy.stem}.xmp"
    inside, sidecar = read_by_exiftool(copy, beside)
    assert inside["GPS:GPSLatitude"] == pytest.approx(abs(place.lat_deg), abs=1e-7)
    assert inside["GPS:GPSLatitudeRef"] == "N"
    assert inside["GPS:GPSLongitude"] == pytest.approx(abs(place.lon_deg), abs=1e-7)
    assert inside["GPS:GPSLongitudeRef"] == "W"
    assert inside["GPS:GPSAltitude"] == pytest.approx(131.6)
    assert inside["GPS:GPSImgDirectionRef"] == "T"
    assert inside["GPS:GPSProcessingMethod"] == "MANUAL"
    assert inside["GPS:GPSImgDirection"] == pytest.approx(38.0)
    assert inside["GPS:GPSHPositioningError"] == pytest.approx(31.1)  # hypot(22, 22)
    assert "ExifIFD:DateTimeOriginal" not in inside  # about a month is no day
    for told in (inside, sidecar):
        (created,) = told["XMP-iptcExt:LocationCreated"]
        assert created["Sublocation"] == "the upper valley"
        assert float(created["GPSLatitude"]) == pytest.approx(place.lat_deg, abs=1e-7)
        assert float(created["GPSLongitude"]) == pytest.approx(place.lon_deg, abs=1e-7)
        hill, weir = told["XMP-iptcExt:LocationShown"]
        assert hill["LocationName"] == "Round Hill"
        assert float(hill["GPSLatitude"]) == pytest.approx(41.24, abs=1e-7)
        assert weir["LocationName"] == "weir"
        (original,) = told["XMP-iptcExt:ArtworkOrObject"]
        assert original["AOCircaDateCreated"] == "1871-05~"
        assert original["AOSourceInvNo"] == "1987/12"
        assert told["XMP-dc:Title"] == "The mill & its <weir>, = sum"
        assert "Quexley Museum" in told["XMP-dc:Rights"]
        assert "XMP-photoshop:DateCreated" not in told


@pytest.mark.outside_program("exiftool")
def test_dates_keep_their_precision_and_squares_their_size(
    handed: HandedOut, tmp_path: Path
) -> None:
    exact, square, hidden = handed.plates
    dated = []
    for edtf in ("1871-05-03", "1871-05", "1871"):
        path = tmp_path / f"{edtf}.jpg"
        Image.new("L", (32, 24), 128).save(path)
        embed(path, replace(exact, date_edtf=edtf), {})
        dated.append(path)
    coarse, none = tmp_path / "coarse.jpg", tmp_path / "none.xmp"
    Image.new("L", (32, 24), 128).save(coarse)
    embed(coarse, square, {})
    write_xmp(none, hidden, {})
    day, month, year, rough, nothing = read_by_exiftool(*dated, coarse, none)
    # EXIF 2.32, 4.6.5: unknown parts are spaces. ExifTool trims those at the end.
    assert day["ExifIFD:DateTimeOriginal"].startswith("1871:05:03")
    assert day["XMP-photoshop:DateCreated"] == "1871:05:03"
    assert month["XMP-photoshop:DateCreated"] == "1871:05"
    assert str(year["XMP-photoshop:DateCreated"]) == "1871"
    assert "ExifIFD:DateTimeOriginal" not in month | year
    # Half the diagonal of 1 km.
    assert rough["GPS:GPSHPositioningError"] == pytest.approx(707.1)
    assert "GPS:GPSImgDirection" not in rough
    assert "square of 1000 m" in rough["XMP-dc:Description"]
    assert not [name for name in nothing if "GPS" in name or "Location" in name]
    assert "Withheld: its place" in nothing["XMP-dc:Description"]


@pytest.mark.parametrize("suffix", [".jpg", ".tif", ".png", ".webp"])
def test_a_copy_keeps_its_pixels_and_what_it_carried(
    handed: HandedOut, tmp_path: Path, suffix: str
) -> None:
    tones = np.random.default_rng(2).integers(0, 255, (48, 64, 3), dtype=np.uint8)
    original = tmp_path / f"original{suffix}"
    exif = Image.Exif()
    exif[0x010F] = "Invented Scanner"  # Make
    Image.fromarray(tones).save(original, exif=exif)
    copy = tmp_path / f"copy{suffix}"
    shutil.copyfile(original, copy)
    before = original.read_bytes()
    embed(copy, handed.plates[0], {one.key: one for one in handed.features})
    assert original.read_bytes() == before
    assert copy.read_bytes() != before
    with Image.open(original) as old, Image.open(copy) as new:
        assert np.array_equal(np.asarray(old), np.asarray(new))
        assert new.getexif()[0x010F] == "Invented Scanner"


def test_dublin_core_is_read_by_the_catalogue_s_own_reader(written: Path) -> None:
    sheet = read_dublin_core(written / "plates.dublin-core.xml")
    first = sheet.rows[0].values
    assert first["dc:identifier"] == "1987/12"
    assert first["dc:title"] == "The mill & its <weir>, = sum"
    assert first["dc:creator"] == "Edwin Quill"
    assert first["dc:date"] == "1871-05~"
    assert first["dc:coverage"] == "the upper valley"
    text = (written / "plates.dublin-core.xml").read_text("utf-8")
    assert 'xsi:type="dcterms:Point">east=-27.5000000; north=41.2000000;' in text
    assert 'xsi:type="dcterms:Box">northlimit=41.18450;' in text
    assert "Withheld: its place." in text


def test_json_ld_expands_to_known_terms_alone(handed: HandedOut) -> None:
    photographs = {
        one[f"{SCHEMA}identifier"][0]["@value"]: one
        for one in jsonld.expand(json_ld_of(handed))
        if one["@type"] == [f"{SCHEMA}Photograph"]
    }
    exact, square, hidden = (
        photographs[name] for name in ("1987/12", "square", "hidden")
    )
    (created,) = exact[f"{SCHEMA}locationCreated"]
    (geo,) = created[f"{SCHEMA}geo"]
    assert geo["@type"] == [f"{SCHEMA}GeoCoordinates"]
    assert geo[f"{SCHEMA}latitude"][0]["@value"] == pytest.approx(41.2)
    (exposed,) = exact["http://purl.org/dc/terms/created"]
    assert exposed == {
        "@type": "http://id.loc.gov/datatypes/edtf/EDTF", "@value": "1871-05~",
    }  # fmt: skip
    assert len(exact[f"{SCHEMA}contentLocation"]) == 2
    (created,) = square[f"{SCHEMA}locationCreated"]
    (geo,) = created[f"{SCHEMA}geo"]
    south, west, north, east = map(float, geo[f"{SCHEMA}box"][0]["@value"].split())
    assert (south + north) / 2 == pytest.approx(41.18, abs=ONE_METRE_DEG)
    assert (west + east) / 2 == pytest.approx(-27.52, abs=ONE_METRE_DEG)
    assert f"{SCHEMA}locationCreated" not in hidden
    assert "its place" in hidden[f"{SCHEMA}conditionsOfAccess"][0]["@value"]


def test_a_manifest_has_what_its_standard_requires(written: Path) -> None:
    """IIIF Presentation API 3.0, sections 3 and 5: what each kind must have."""
    (path,) = [p for p in (written / "iiif").iterdir() if p.stem != "collection"]
    made = json.loads(path.read_text("utf-8"))
    assert made["@context"][-1] == "http://iiif.io/api/presentation/3/context.json"
    assert made["type"] == "Manifest"
    assert made["id"].startswith("https://")
    assert made["label"] == {"none": ["The mill & its <weir>, = sum"]}
    (canvas,) = made["items"]
    assert (canvas["type"], canvas["width"], canvas["height"]) == ("Canvas", 1600, 1200)
    (page,) = canvas["items"]
    (painting,) = page["items"]
    assert painting["motivation"] == "painting"
    assert painting["target"] == canvas["id"]
    name = painting["body"]["id"].removeprefix("https://put-your-address-here.invalid/")
    with Image.open(written / name) as picture:
        assert picture.size == (painting["body"]["width"], painting["body"]["height"])
    (place,) = made["navPlace"]["features"]
    assert place["geometry"] == {"type": "Point", "coordinates": [-27.5, 41.2]}
    told = {one["label"]["en"][0]: one["value"]["none"][0] for one in made["metadata"]}
    assert told["Exposed (EDTF)"] == "1871-05~"
    assert made["requiredStatement"]["value"]["none"][0].startswith("Photograph:")
    whole = json.loads((path.parent / "collection.json").read_text("utf-8"))
    assert [one["id"] for one in whole["items"]] == [made["id"]]


def test_another_reader_of_the_standard_takes_manifest_and_collection(
    written: Path,
) -> None:
    """iiif-prezi3, of the IIIF community: its classes are made from the schema."""
    # Here, so that nothing else wants it.
    import iiif_prezi3

    kinds = {"Manifest": iiif_prezi3.Manifest, "Collection": iiif_prezi3.Collection}
    seen = set()
    for path in (written / "iiif").iterdir():
        made = json.loads(path.read_text("utf-8"))
        kind = kinds[made["type"]]
        seen.add(made["type"])
        # All of it comes back: nothing is there that the classes do not know.
        assert json.loads(kind.model_validate(made).json()) == made
        for wrong in ({"items": [{"type": "Poem"}]}, {"id": 7}):  # it can refuse
            with pytest.raises(ValidationError):
                kind.model_validate(made | wrong)
    assert seen == set(kinds)


def test_marks_are_web_annotations(written: Path) -> None:
    """Web Annotation Data Model, W3C, 2017; terms by JSON-LD expansion."""
    (path,) = [p for p in (written / "iiif").iterdir() if p.stem != "collection"]
    canvas = json.loads(path.read_text("utf-8"))["items"][0]
    (page,) = canvas["annotations"]
    own = {name: page[name] for name in ("id", "type", "items")}
    (expanded,) = jsonld.expand(own | ANNOTATIONS)
    notes = expanded["http://www.w3.org/ns/activitystreams#items"]
    point, line, outline = notes[0]["@list"]
    for note, words in (
        (point, "A: round top (Round Hill)"), (line, "B: shore"), (outline, "C: gable"),
    ):  # fmt: skip
        assert note["@type"] == [f"{OA}Annotation"]
        (body,) = note[f"{OA}hasBody"]
        assert body["@type"] == [f"{OA}TextualBody"]
        values = body["http://www.w3.org/1999/02/22-rdf-syntax-ns#value"]
        assert values == [{"@value": words}]
        (target,) = note[f"{OA}hasTarget"]
        assert target[f"{OA}hasSource"] == [{"@id": canvas["id"]}]
    assert point[f"{OA}motivatedBy"] == [{"@id": f"{OA}identifying"}]
    assert line[f"{OA}motivatedBy"] == [{"@id": f"{OA}commenting"}]
    (selector,) = point[f"{OA}hasTarget"][0][f"{OA}hasSelector"]
    assert selector["http://iiif.io/api/presentation/3#pointX"] == [{"@value": 800}]
    (selector,) = outline[f"{OA}hasTarget"][0][f"{OA}hasSelector"]
    assert selector["@type"] == [f"{OA}SvgSelector"]
    (drawn,) = selector["http://www.w3.org/1999/02/22-rdf-syntax-ns#value"]
    assert "M5,5L90,5L50,80Z" in drawn["@value"]
