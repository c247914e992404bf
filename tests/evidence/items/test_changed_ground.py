from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import shapely

from wherestood.errors import EvidenceError
from wherestood.evidence.file import read_evidence
from wherestood.evidence.items import ChangedGround, Evidence, check_evidence

SQUARE = shapely.box(8.50, 46.10, 8.51, 46.11)
BESIDE = shapely.box(8.51, 46.10, 8.52, 46.11)
ACROSS = shapely.box(8.505, 46.10, 8.515, 46.11)
BOW_TIE = shapely.Polygon([(8.5, 46.1), (8.6, 46.2), (8.6, 46.1), (8.5, 46.2)])


@pytest.mark.parametrize(
    ("values", "field", "words"),
    [
        ({"change": "dig"}, "change", "'dig', which is not known"),
        ({"change": "raise"}, "change", "by_m is missing"),
        ({"change": "flood"}, "change", "height_m is missing"),
        ({"change": "cover"}, "change", "cover_then_m is missing"),
        ({"change": "raise", "by_m": -3.0}, "by_m", "it must be above 0"),
        ({"change": "raise", "by_m": 5000.0}, "by_m", "from 0 to 1000 m"),
        ({"change": "cut", "by_m": 3.0}, "by_m", "by_m says nothing where"),
        (
            {"change": "raise", "by_m": 3.0, "height_m": 4.0},
            "height_m",
            "height_m says nothing where",
        ),
        ({"change": "flatten", "height_m": 2e4}, "height_m", "from -500 to 9000 m"),
        ({"change": "cut", "sd_m": 0.0}, "sd_m", "it must be above 0"),
        (
            {"change": "cut", "geometry": BOW_TIE},
            "geometry",
            "its outline is not valid: Self-intersection",
        ),
        (
            {"change": "cut", "geometry": shapely.Point(8.5, 46.1)},
            "geometry",
            "is a Point, where an area was expected",
        ),
        (
            {"change": "cut", "geometry": shapely.box(2.6e6, 1.2e6, 2.7e6, 1.3e6)},
            "geometry",
            "not in longitude and latitude",
        ),
        (
            {"change": "cut", "existed_from": "1900", "existed_to": "1880"},
            "existed_to",
            "it began in 1900 and ended in 1880, before it began",
        ),
        (
            {"change": "cut", "existed_from": "in the war"},
            "existed_from",
            "'in the war', which is no year or date that can be read",
        ),
    ],
)
def test_what_cannot_be_is_refused_with_item_and_field(values, field, words):
    with pytest.raises(EvidenceError) as refused:
        ChangedGround(**{"id": "pit", "geometry": SQUARE, **values})
    assert (refused.value.item, refused.value.field) == ("pit", field)
    assert words in str(refused.value)
    assert "The changed ground 'pit': " in str(refused.value)


def told(*items, has_height=None):
    return check_evidence(Evidence(changed_ground=items), has_height=has_height)


def flat(shape, height_m=400.0, **more):
    return ChangedGround(shape, "flatten", height_m=height_m, **more)


def test_two_that_say_different_things_of_the_same_years_contradict():
    checked = told(
        flat(SQUARE, id="yard"),
        ChangedGround(ACROSS, "cut", id="dam", existed_to="1900"),
    )
    (complaint,) = checked.complaints
    assert complaint.item == "dam"
    assert "it lies over 'yard'" in complaint.problem
    assert [item.id for item in checked.evidence.changed_ground] == ["yard"]


@pytest.mark.parametrize(
    "items",
    [
        (flat(SQUARE, id="a"), flat(BESIDE, id="b")),
        (
            flat(SQUARE, id="a", existed_to="1880"),
            flat(ACROSS, id="b", existed_from="1881"),
        ),
        (
            ChangedGround(SQUARE, "raise", by_m=3.0, id="a"),
            ChangedGround(ACROSS, "lower", by_m=5.0, id="b"),
        ),
        (flat(SQUARE, id="a"), ChangedGround(ACROSS, "cover", cover_then_m=9.0)),
    ],
    ids=["side by side", "one after the other", "sums", "trees on it"],
)
def test_what_goes_together_is_kept(items):
    checked = told(*items)
    assert checked.complaints == ()
    assert checked.evidence.changed_ground == items


def test_an_area_off_the_terrain_is_left_out_by_name():
    def west_of_the_border(lon, lat):
        del lat
        return np.asarray(lon) < 8.507

    checked = told(
        flat(ACROSS, id="partly"),
        flat(shapely.box(8.52, 46.1, 8.53, 46.2), id="beyond"),
        has_height=west_of_the_border,
    )
    assert [item.id for item in checked.evidence.changed_ground] == ["partly"]
    (complaint,) = checked.complaints
    assert complaint.item == "beyond"
    assert "it lies outside the terrain" in complaint.problem


FILE = """wherestood = 1
date = 1875

[[changed_ground]]
id = "heap"
change = "raise"
by_m = 20
area = [[8.50, 46.10], [8.51, 46.10], [8.51, 46.11], [8.50, 46.11]]
existed_from = 1860
existed_to = "1890~"

[[changed_ground]]
id = "crossed"
change = "cut"
area = [[8.5, 46.1], [8.6, 46.2], [8.6, 46.1], [8.5, 46.2]]

[[changed_ground]]
id = "swapped"
change = "cut"
area = [[8.50, 46.20], [8.51, 46.20], [8.51, 46.21]]
existed_from = 1900
existed_to = 1880

[[changed_ground]]
id = "number"
change = "cut"
area = [[8.50, 46.30], [8.51, 46.30], [8.51, 46.31]]
existed_to = 18.5
"""


def test_messages_name_file_line_item_and_remedy(tmp_path: Path):
    path = tmp_path / "valley.toml"
    path.write_text(FILE, encoding="utf-8")
    checked = read_evidence(path)
    (heap,) = checked.evidence.changed_ground
    assert (heap.existed_from, heap.existed_to) == ("1860", "1890~")
    assert checked.evidence.date == "1875"
    crossed, swapped, number = map(str, checked.complaints)
    assert crossed.startswith("valley.toml, line 15: The changed ground 'crossed': ")
    assert "Redraw it so that it does not cross or touch itself." in crossed
    assert swapped.startswith("valley.toml, line 22: The changed ground 'swapped': ")
    assert "they may be swapped. It is left out." in swapped
    assert number.startswith("valley.toml, line 28: The changed ground 'number': ")
    assert 'text in "quotes" or a whole number was expected' in number


def test_a_date_that_cannot_be_read_is_said_and_left_out(tmp_path: Path):
    path = tmp_path / "valley.toml"
    path.write_text('wherestood = 1\ndate = "last year"\n', encoding="utf-8")
    checked = read_evidence(path)
    assert checked.evidence.date == ""
    (complaint,) = checked.complaints
    assert str(complaint).startswith("valley.toml, line 2: The plate's date")


def test_an_outline_may_stand_in_a_file_of_several(tmp_path: Path):
    beside = shapely.geometry.mapping(BESIDE)
    features = [
        {"type": "Feature", "id": name, "properties": {}, "geometry": shape}
        for name, shape in (
            ("fill", shapely.geometry.mapping(SQUARE)),
            ("dock", beside),
        )
    ]
    content = {"type": "FeatureCollection", "features": features}
    (tmp_path / "shore.geojson").write_text(json.dumps(content), encoding="utf-8")
    path = tmp_path / "valley.toml"
    path.write_text(
        'wherestood = 1\n[[changed_ground]]\nid = "shore"\nchange = "flood"\n'
        'height_m = 2\ngeojson = "shore.geojson"\ngeojson_id = "dock"\n',
        encoding="utf-8",
    )
    checked = read_evidence(path)
    assert checked.complaints == ()
    (shore,) = checked.evidence.changed_ground
    assert shore.geometry.equals(BESIDE)
