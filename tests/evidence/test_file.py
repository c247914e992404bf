from __future__ import annotations

import json
import re
import textwrap
import tomllib
from dataclasses import fields, replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest
import shapely

from wherestood.errors import EvidenceError
from wherestood.evidence.file import TABLES, read_evidence
from wherestood.evidence.file_form import evidence_schema
from wherestood.evidence.file_lines import lines_of
from wherestood.evidence.file_write import write_evidence
from wherestood.evidence.items import (
    KINDS,
    CameraFacts,
    Evidence,
    Feature,
    Order,
    SkylinePiece,
    Statement,
    gather,
    line_through,
)

#: Skyline files keep thousandths of a pixel.
ONE_THOUSANDTH_PX = 1e-3
# What the file writes otherwise than the items hold it.
OTHERWISE = {
    "feature": (
        {"geometry"},
        {"point", "line", "area", "geometry", "geojson", "geojson_id"},
    ),
    "mark": ({"features"}, {"feature", "features"}),
    "skyline": ({"line"}, {"file", "points_px", "sd_px"}),
    "ridge_line": ({"line"}, {"file", "points_px", "sd_px"}),
    "changed_ground": (set(), {"area", "geojson", "geojson_id"}),
}


@pytest.fixture(scope="module")
def example(repository: Path) -> str:
    page = (repository / "docs" / "evidence-file.md").read_text(encoding="utf-8")
    found = re.search(r"^```toml\n(.*?)^```", page, re.DOTALL | re.MULTILINE)
    assert found is not None
    return found.group(1)


def written(folder: Path, text: str) -> Path:
    path = folder / "evidence.toml"
    path.write_text(text, encoding="utf-8")
    return path


def line_of(text: str, part: str) -> int:
    return text[: text.index(part)].count("\n") + 1


def test_example_of_the_page_is_read_without_complaint(
    example: str, tmp_path: Path
) -> None:
    checked = read_evidence(written(tmp_path, example))
    assert checked.complaints == ()
    kinds = {item.kind for item in checked.evidence.items()}
    assert {"mark", "in line", "order", "seen", "hidden", "statement"} <= kinds


def test_first_example_of_the_page_is_two_marks_and_one_in_line(
    repository: Path, tmp_path: Path
) -> None:
    page = (repository / "docs" / "evidence-file.md").read_text(encoding="utf-8")
    found = re.search(r"^ +```toml\n(.*?)^ +```", page, re.DOTALL | re.MULTILINE)
    assert found is not None
    path = written(tmp_path, textwrap.dedent(found.group(1)))
    checked = read_evidence(path, width_px=9000, height_px=7000)
    assert checked.complaints == ()
    kinds = [item.kind for item in checked.evidence.items()]
    assert kinds == ["mark", "mark", "in line"]


def test_evidence_survives_writing_and_reading(example: str, tmp_path: Path) -> None:
    first = read_evidence(written(tmp_path, example)).evidence
    files = write_evidence(
        first, tmp_path / "again.toml", width_px=9000, height_px=7000
    )
    second = read_evidence(files[0])
    assert second.complaints == ()
    assert replace(second.evidence, ridge_lines=()) == replace(first, ridge_lines=())
    one, other = (e.ridge_lines[0].line for e in (first, second.evidence))
    np.testing.assert_allclose(one.y_px, other.y_px, atol=ONE_THOUSANDTH_PX)


def test_what_the_form_asks_for_is_written_even_where_usual(tmp_path: Path) -> None:
    field = Feature(id="field", geometry=shapely.Point(8.5, 46.1).buffer(0.01))
    barn = Feature(id="barn", geometry=(8.5, 46.1))
    evidence = gather([Statement(feature=field), Order(a=barn, b=field)])
    (path,) = write_evidence(evidence, tmp_path / "usual.toml")
    again = read_evidence(path)
    assert again.complaints == ()
    assert again.evidence.statements == evidence.statements
    assert again.evidence.orders == evidence.orders


def test_what_is_written_has_the_published_form(example: str, tmp_path: Path) -> None:
    evidence = read_evidence(written(tmp_path, example)).evidence
    holed = shapely.box(0, 0, 3, 3).difference(shapely.box(1, 1, 2, 2))
    line = line_through(((0.0, 5.0), (900.0, 7.0)), 2.0, 9000, 7000)
    full = replace(
        evidence,
        features=(*evidence.features, Feature(holed, id="yard")),
        skylines=(SkylinePiece(line, trust=0.5, retouched=True),),
        camera=CameraFacts(plate_corners_px=((0, 0), (9, 0), (9, 9), (0, 9))),
        ground_from=("caption",),
    )
    files = write_evidence(full, tmp_path / "full.toml", width_px=9000, height_px=7000)
    content = tomllib.loads(files[0].read_text(encoding="utf-8"))
    jsonschema.validate(content, evidence_schema())
    again = read_evidence(files[0])
    assert again.complaints == ()
    assert again.evidence.feature("yard").place.equals(holed)
    assert again.evidence.camera == full.camera
    assert again.evidence.skylines[0].retouched


@pytest.mark.parametrize(
    ("was", "now", "at", "words"),
    [
        ("sd_m = 3\nobj", "sdm = 3\nobj", "sdm", "Did you mean 'sd_m'?"),
        ("x_px = 2431", "x_px = 24310", "x_px = 24310", "9000 x 7000 px"),
        ("y_px = 1804", 'y_px = "1804"', 'y_px = "1804"', "a number was expected"),
        ("right of", "rite of", 'relation = "rite of"', "Did you mean 'right of'?"),
        ("[[known_distance]]", "[[know_distance]]", "[[know_d", "'known_distance'?"),
        ("weight = 0.6", "weight = 1", "weight = 1\n", "below 1"),
        ('b = "horn"', 'b = "hron"', '[[in_line]]\na = "chapel', "Did you mean 'horn'"),
        ("sd_m = 60", "sd_m = 0", "sd_m = 0", "above 0"),
        ("sd_m = 60", "sd_m = -60", "sd_m = -60", "above 0"),
        ("sd_px = 3\n", "sd_px = -3\n", "sd_px = -3", "above 0"),
        (
            'b = "tannery-chimney"\ntouching = false\n\n[[seen]]',
            'b = "lesser-horn"\ntouching = false\n\n[[seen]]',
            'b = "lesser-horn"',
            "against itself",
        ),
        (
            "[8.5089, 46.1021], [8.5089, 46.1024], [8.5083",
            "[8.5089, 46.1024], [8.5089, 46.1021], [8.5083",
            "area = [[8.5083, 46.1021], [8.5089, 46.1024]",
            "Self-intersection",
        ),
        ("x_px = 2431\n", "", '[[mark]]\nid = "A"', "x_px is missing"),
        ('id = "caption"', 'id = "horn"', 'id = "horn"\nfeature', "an id of its own"),
    ],
)
def test_mistake_is_reported_with_file_line_and_remedy(
    example: str, tmp_path: Path, was: str, now: str, at: str, words: str
) -> None:
    text = example.replace(was, now, 1)
    checked = read_evidence(written(tmp_path, text))
    first = next(c for c in checked.complaints if words in str(c))
    assert first.line == line_of(text, at)
    assert str(first).startswith(f"evidence.toml, line {first.line}: ")
    assert first.remedy
    assert len(list(checked.evidence.items())) >= 5


def test_feature_off_the_terrain_is_told_with_file_line_and_what_goes_with_it(
    example: str, tmp_path: Path
) -> None:
    def has_height(_: np.ndarray, lat_deg: np.ndarray) -> np.ndarray:
        return np.asarray(lat_deg < 46.105)  # the chapel stands at 46.1055

    checked = read_evidence(written(tmp_path, example), has_height=has_height)
    (complaint,) = (c for c in checked.complaints if c.item == "chapel-gable")
    assert complaint.line == line_of(example, "point = [8.5109, 46.1055]")
    assert "outside the terrain" in complaint.problem
    assert "height_m" in complaint.remedy
    # What shows of it needs its height; what is in line with it does not.
    kinds = {item.kind for item in checked.evidence.items()}
    assert "in line" in kinds
    assert "seen" not in kinds


def test_orders_against_one_another_name_each_other_and_the_line(
    example: str, tmp_path: Path
) -> None:
    more = (
        '\n[[order]]\nid = "against"\na = "tannery-chimney"\n'
        'relation = "right of"\nb = "lesser-horn"\ntouching = false\n'
    )
    checked = read_evidence(written(tmp_path, example + more))
    (complaint,) = (c for c in checked.complaints if c.kind == "order")
    assert complaint.item == "against"
    assert complaint.line == line_of(example + more, '[[order]]\nid = "against"')
    assert len(checked.evidence.orders) == 1


def test_what_is_not_toml_is_refused_with_its_line(tmp_path: Path) -> None:
    path = written(tmp_path, 'wherestood = 1\n\nplate = "a\n')
    with pytest.raises(EvidenceError, match=r"evidence\.toml, line 3: ") as refused:
        read_evidence(path)
    assert refused.value.remedy


def test_other_form_is_refused(tmp_path: Path) -> None:
    with pytest.raises(EvidenceError, match="form 1"):
        read_evidence(written(tmp_path, "wherestood = 7\n"))


def test_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(EvidenceError, match="no evidence file"):
        read_evidence(tmp_path / "nothing.toml")


def test_geometry_may_lie_in_a_geojson_file_beside(tmp_path: Path) -> None:
    shore = {"type": "LineString", "coordinates": [[8.5, 46.1], [8.6, 46.2]]}
    features = [
        {"type": "Feature", "id": name, "properties": {}, "geometry": shore}
        for name in ("shore", "other")
    ]
    (tmp_path / "then.geojson").write_text(
        json.dumps({"type": "FeatureCollection", "features": features})
    )
    text = 'wherestood = 1\n[[feature]]\nid = "s"\ngeojson = "then.geojson"\n'
    named = read_evidence(written(tmp_path, text + 'geojson_id = "shore"\n'))
    assert named.evidence.feature("s").shape == "line"
    unnamed = read_evidence(written(tmp_path, text))
    (complaint,) = unnamed.complaints
    assert complaint.line == 4
    assert "other, shore" in complaint.remedy


def test_schema_in_docs_is_the_one_that_ships(repository: Path) -> None:
    page = (repository / "docs" / "evidence.schema.json").read_text(encoding="utf-8")
    assert json.loads(page) == evidence_schema()


def test_every_key_of_the_form_is_on_the_page(repository: Path) -> None:
    page = (repository / "docs" / "evidence-file.md").read_text(encoding="utf-8")
    keys = page[page.index("## Every key") :]
    for name, table in evidence_schema()["$defs"].items():
        for key in table.get("properties", {}):
            if name != "identity":
                assert f"| `{key}` |" in keys, f"{key} of {name}"


def test_schema_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(evidence_schema())


@pytest.mark.parametrize("table", [*TABLES, "camera"])
def test_form_has_every_field_of_an_item_and_no_other(table: str) -> None:
    kind = CameraFacts if table == "camera" else KINDS[TABLES[table]]
    held, written_so = OTHERWISE.get(table, (set(), set()))
    known = {part.name for part in fields(kind)} - held | written_so
    assert set(evidence_schema()["$defs"][table]["properties"]) == known


def test_page_names_every_table(repository: Path) -> None:
    page = (repository / "docs" / "evidence-file.md").read_text(encoding="utf-8")
    for table in TABLES:
        assert f"`[[{table}]]`" in page, table


def test_every_kind_has_its_table() -> None:
    assert set(TABLES.values()) == set(KINDS)
    assert set(KINDS) <= {part.name for part in fields(Evidence)}


def test_lines_are_those_of_the_text() -> None:
    text = "\n".join(
        [
            "# first",
            "one = 1",
            '"two words".deep = 2',
            "[[a]]",
            'text = """',
            "[[not a table]]",
            '"""',
            "[[b]]",
            "[[a]]",
            "list = [[1, 2],",
            "  # a note",
            "  [3, 4]]",
            "[[a.c]]",
            "inline = { x = 1, y = { z = 2 } }",
            "[a.d]",
            "e = 0",
        ]
    )
    assert lines_of(text) == {
        ("one",): 2,
        ("two words",): 3,
        ("two words", "deep"): 3,
        ("a",): 4,
        ("a", 0): 4,
        ("a", 0, "text"): 5,
        ("b",): 8,
        ("b", 0): 8,
        ("a", 1): 9,
        ("a", 1, "list"): 10,
        ("a", 1, "list", 0): 10,
        ("a", 1, "list", 0, 0): 10,
        ("a", 1, "list", 0, 1): 10,
        ("a", 1, "list", 1): 12,
        ("a", 1, "list", 1, 0): 12,
        ("a", 1, "list", 1, 1): 12,
        ("a", 1, "c"): 13,
        ("a", 1, "c", 0): 13,
        ("a", 1, "c", 0, "inline"): 14,
        ("a", 1, "c", 0, "inline", "x"): 14,
        ("a", 1, "c", 0, "inline", "y"): 14,
        ("a", 1, "c", 0, "inline", "y", "z"): 14,
        ("a", 1, "d"): 15,
        ("a", 1, "d", "e"): 16,
    }


def test_size_of_the_scan_is_needed_for_lines(tmp_path: Path) -> None:
    text = "wherestood = 1\n[[skyline]]\npoints_px = [[0, 5], [90, 7]]\n"
    path = written(tmp_path, text)
    (complaint,) = read_evidence(path).complaints
    assert "[scan]" in complaint.remedy
    assert read_evidence(path, width_px=100, height_px=80).complaints == ()
