"""Check the reading of one evidence file of several plates."""

from __future__ import annotations

from pathlib import Path

import pytest

from wherestood.evidence.file_write import write_panorama_evidence
from wherestood.evidence.panorama_file import (
    read_evidence_of,
    read_panorama_evidence,
)

NAMES = ("left", "right")
SIZES = ((2000, 1500), (1800, 1400))
FILE = """
wherestood = 1
[camera]
footing = "tripod"
[[feature]]
id = "chimney"
point = [-27.50, 41.20]
sd_m = 5.0
[[mark]]
id = "on the left"
plate = "left"
x_px = 100.0
y_px = 200.0
feature = "chimney"
[[mark]]
id = "on the right"
plate = "right"
x_px = 50.0
y_px = 210.0
feature = "chimney"
[[tie]]
plates = ["left", "right"]
first_px = [1900.0, 700.0]
second_px = [120.0, 690.0]
distance_m = 300.0
"""


@pytest.fixture
def told(tmp_path: Path):
    """Return the function that reads a file with something added."""

    def read(more: str = ""):
        path = tmp_path / "invented.toml"
        path.write_text(FILE + more, encoding="utf-8")
        return read_panorama_evidence(path, NAMES, SIZES)

    return read


def said(found) -> list[str]:
    every = [*found.complaints, *(c for p in found.plates for c in p.complaints)]
    return [str(complaint) for complaint in every]


def test_marks_go_to_their_plates_and_features_to_all(told) -> None:
    left, right = (one.evidence for one in told().plates)
    assert [mark.id for mark in left.marks] == ["on the left"]
    assert [mark.id for mark in right.marks] == ["on the right"]
    assert [f.id for f in left.features] == [f.id for f in right.features]


def test_ties_are_read(told) -> None:
    (tie,) = told().ties
    assert tie.plates == NAMES
    assert (tie.first_px, tie.second_px) == ((1900.0, 700.0), (120.0, 690.0))
    assert tie.distance_m == 300.0


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ('[[mark]]\nid = "M"\nx_px = 1\ny_px = 1\n', "does not say on which plate"),
        ('[[mark]]\nid = "M"\nplate = "lefft"\nx_px = 1\ny_px = 1\n', "mean 'left'"),
        (
            '[[tie]]\nplates = ["left", "middle"]\nfirst_px = [1, 1]\n'
            "second_px = [1, 1]\n",
            "'middle' is not here",
        ),
        (
            '[[tie]]\nplates = ["left", "right"]\nfirst_px = [1, 1]\n'
            "second_px = [1900, 1]\n",
            "outside the scan of right, 1800 x 1400 px",
        ),
        (
            '[[tie]]\nplates = ["left", "left"]\nfirst_px = [1, 1]\n'
            "second_px = [1, 1]\n",
            "two different plates were expected",
        ),
        ('[[tie]]\nplates = ["left", "right"]\nfirst_px = [1, 1]\n', "second_px is"),
    ],
)
def test_what_cannot_be_used_is_named_with_its_line_and_the_rest_kept(
    told, more: str, words: str
) -> None:
    found = told(more)
    (complaint,) = said(found)
    assert words in complaint
    assert complaint.startswith("invented.toml, line ")
    assert len(found.ties) == 1
    assert [len(one.evidence.marks) for one in found.plates] == [1, 1]


def test_written_evidence_is_read_back(told, tmp_path: Path) -> None:
    found = told()
    plates = dict(zip(NAMES, (one.evidence for one in found.plates), strict=True))
    path = tmp_path / "again.toml"
    write_panorama_evidence(plates, found.ties, path)
    again = read_panorama_evidence(path, NAMES, SIZES)
    assert said(again) == []
    assert again.ties == found.ties
    for one, other in zip(again.plates, found.plates, strict=True):
        assert [m.id for m in one.evidence.marks] == [
            m.id for m in other.evidence.marks
        ]
        assert one.evidence.camera == other.evidence.camera


def test_of_one_plate_only_its_own_items_are_read(told, tmp_path: Path) -> None:
    told()
    found = read_evidence_of(
        tmp_path / "invented.toml", {"left", "plate 7"}, width_px=2000, height_px=1500
    )
    assert [mark.id for mark in found.evidence.marks] == ["on the left"]
    assert [feature.id for feature in found.evidence.features] == ["chimney"]
    (complaint,) = map(str, found.complaints)
    assert complaint.startswith("invented.toml, line ")
    assert "1 item is of the plate 'right', and left out." in complaint
    assert "call it 'left' or 'plate 7'" in complaint
