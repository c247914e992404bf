"""Check that lists are read as people type them, and that nothing else is taken."""

from __future__ import annotations

from typing import Any

import pytest

from wherestood.daybook import Daybook
from wherestood.daybook.change_items import add_item
from wherestood.daybook.replay import disagreements
from wherestood.daybook.typed_lists import is_held, read_list
from wherestood.errors import InputError


@pytest.mark.parametrize(
    ("text", "holds", "value"),
    [
        ("300,150; 410.5, 160", "points", [[300.0, 150.0], [410.5, 160.0]]),
        ("[[300, 150]]", "points", [[300, 150]]),
        ("0,0;9,0;9,7;0,7", "corners", [[0, 0], [9, 0], [9, 7], [0, 7]]),
        ("10,20,300,200", "box", [10.0, 20.0, 300.0, 200.0]),
        ("chimney", "weights", [{"feature": "chimney", "weight": 1.0}]),
        (
            "chimney=0.7; top=0.3",
            "weights",
            [{"feature": "chimney", "weight": 0.7}, {"feature": "top", "weight": 0.3}],
        ),
        ("8.5,46.1", "geometry", {"type": "Point", "coordinates": [8.5, 46.1]}),
        ("mill; weir;", "", ["mill", "weir"]),
    ],
)
def test_a_list_is_read_as_it_is_typed(text: str, holds: str, value: Any) -> None:
    read = read_list(text, holds)
    assert read == value
    assert is_held(read, holds)


@pytest.mark.parametrize(
    ("text", "holds"),
    [
        ("300;150", "points"),
        ("300,nan", "points"),
        ("1,2,3", "box"),
        ("chimney=much", "weights"),
        ("from the church", "geometry"),
        ("a; b", "record"),
    ],
)
def test_what_is_no_such_list_is_no_list(text: str, holds: str) -> None:
    with pytest.raises(ValueError):  # noqa: PT011 (its words are the caller's)
        read_list(text, holds)


@pytest.mark.parametrize(
    ("table", "fields", "told"),
    [
        ("marks", {"points-px": "300;150"}, "Write it as X,Y;..."),
        ("marks", {"points-px": ["300,150"]}, "points [px] of mark"),
        ("marks", {"points-px": []}, "points [px] of mark"),
        ("marks", {"features": [{"weight": 1.0}]}, "features of mark"),
        ("details", {"crop-px": [1.0, 2.0]}, "left, top, width, height"),
        (
            "evidence",
            {"kind": "skyline", "content": ["csv"]},
            "content of item of evidence",
        ),
    ],
)
def test_another_list_is_refused_and_nothing_added(
    daybook: Daybook, table: str, fields: dict[str, Any], told: str
) -> None:
    add_item(daybook, "plates", {}, "Ada", address="1987.12")
    with pytest.raises(InputError) as refused:
        add_item(daybook, table, fields, "Ada", address="1987.12/A")
    assert told in str(refused.value)
    with daybook.reading() as session:
        assert disagreements(session) == []
