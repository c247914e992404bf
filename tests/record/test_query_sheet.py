"""A query sheet is one page, asks by number and letter, and gives no place away."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from wherestood.errors import InputError
from wherestood.plate.scan import Plate
from wherestood.record.query_sheet import (
    MOST_QUESTIONS,
    QuerySheet,
    query_sheet_pdf,
    questions_about,
)
from wherestood.record.report.facts import SeenFacts

#: What must not stand on the sheet: a place, a person, a guess.
SECRETS = ("Harrowmere", "Ada Moss", "brewery")


@pytest.fixture
def plate(tmp_path: Path) -> Plate:
    """Return an invented plate whose file is called by its place."""
    tones = np.tile(np.linspace(40, 220, 600).astype(np.uint8), (400, 1))
    path = tmp_path / "Harrowmere brewery.tif"
    Image.fromarray(tones).save(path, description="Harrowmere, by Ada Moss")
    return Plate.open(path)


def test_sheet_is_one_page_that_gives_no_place_away(plate: Plate) -> None:
    seen = tuple(
        SeenFacts(letter, "brewery gate", "Harrowmere brewery", "Ada Moss", (at,))
        for letter, at in (("A", (90.0, 120.0)), ("B", (500.0, 300.0)))
    )
    questions = questions_about(["A", "B"], ["Who lived in the house at B?"])
    sheet = QuerySheet("3F09A2", seen, questions, 'the "museum" #1 [box]')
    made = query_sheet_pdf(sheet, plate)
    document = pypdfium2.PdfDocument(made)
    assert len(document) == 1
    words = document[0].get_textpage().get_text_bounded()
    flat = " ".join(words.split())
    assert "3F09A2" in flat
    assert "What is A? Since when did it stand, and until when?" in flat
    assert "5. Who lived in the house at B?" in flat
    assert 'the "museum" #1 [box]' in flat
    assert "may publish" in flat
    told = " ".join([flat, *document.get_metadata_dict().values()])
    for secret in SECRETS:
        assert secret not in told
        assert secret.encode() not in made
    document.close()


def test_fullest_sheet_is_one_page_too(plate: Plate) -> None:
    more = ["Which way did the cart road run below the chapel, and who used it? " * 3]
    questions = questions_about(list("ABCDE"), [more[0].strip(), "Who owned it?"])
    assert len(questions) == MOST_QUESTIONS
    document = pypdfium2.PdfDocument(
        query_sheet_pdf(QuerySheet("AAAAAA", (), questions), plate)
    )
    assert len(document) == 1
    document.close()


def test_too_much_for_a_page_is_refused() -> None:
    with pytest.raises(InputError, match="11 questions; a page has room for 9"):
        questions_about(list("ABCDEFGHI"))
    with pytest.raises(InputError, match="300 letters"):
        questions_about([], ["x" * 300])
