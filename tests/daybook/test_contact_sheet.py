"""Plates are laid out as a contact sheet, whatever database holds them."""

from __future__ import annotations

import math

import pytest

from wherestood.daybook import Daybook, positions
from wherestood.daybook.contact_sheet import SheetWanted, cards_of, plates_wanted
from wherestood.daybook.tables import (
    Dating,
    Decision,
    Fix,
    Maker,
    Plate,
    Restriction,
    Scan,
)

WIDTH_PX, DISTANCE_PX = 9000, 9000.0


def lay_out(daybook: Daybook) -> None:
    """Add three plates: one answered, one covered, one of which nothing is known."""
    with daybook.writing("Ada Moss") as session:
        maker = Maker(name="Moss & Co")
        session.add(maker)
        session.flush()
        mill, ford, dam = (
            Plate(key="1", title="Mill", maker_id=maker.id, size="whole plate"),
            Plate(key="2", title="Ford"),
            Plate(key="3"),
        )
        session.add_all([mill, ford, dam])
        session.flush()
        for number, main in enumerate((False, True)):
            session.add(
                Scan(
                    plate_id=mill.id, file=f"{number}", sha256="0" * 64, main=main,
                    width_px=WIDTH_PX + number, height_px=6000,
                )
            )  # fmt: skip
        session.add(Dating(plate_id=mill.id, edtf="1871", of="not before"))
        session.add(Dating(plate_id=ford.id, edtf="1902", of="exposed"))
        camera = {
            "principal_distance_px": DISTANCE_PX,
            "sight": {"bearing_deg": 193.5, "elevation_deg": 2.0},
        }
        for made, verdict in (
            ("2026-01-01", "not determined"),
            ("2026-02-01", "located"),
        ):
            session.add(
                Fix(
                    plate_id=mill.id, made=made, verdict=verdict, lon_deg=8.0,
                    lat_deg=46.0, sd_east_m=3.0, sd_north_m=9.0,
                    answer={"camera": camera},
                )
            )  # fmt: skip
        session.flush()
        session.add(
            Decision(
                plate_id=mill.id, conclusion="accepted", words="it fits",
                decided_by="Ada Moss", decided="2026-03-01",
            )
        )  # fmt: skip
        session.add(
            Restriction(
                about_table="plates", about_id=ford.id, plate_id=ford.id, covered=True,
                because="asked by the family",
            )
        )  # fmt: skip


def test_card_tells_the_newest_answer_and_the_main_copy(daybook: Daybook) -> None:
    lay_out(daybook)
    with daybook.reading() as session:
        mill, ford, dam = cards_of(session, plates_wanted(session, SheetWanted()))
    assert (mill.plate.title, mill.maker, mill.verdict) == (
        "Mill",
        "Moss & Co",
        "located",
    )
    assert mill.scan is not None
    assert mill.scan.width_px == WIDTH_PX + 1
    assert (mill.lon_deg, mill.lat_deg, mill.sd_m) == (8.0, 46.0, 9.0)
    assert mill.bearing_deg == 193.5
    half_deg = math.degrees(math.atan((WIDTH_PX + 1) / 2.0 / DISTANCE_PX))
    assert mill.field_deg == pytest.approx(2.0 * half_deg)
    assert mill.years == (1871.0, math.inf)
    assert (mill.decision, mill.covered) == ("accepted", False)
    assert (ford.covered, ford.because) == (True, "asked by the family")
    assert (dam.scan, dam.years, dam.fix_id) == (None, None, None)


@pytest.mark.parametrize("few", [500, 0])
def test_positions_are_those_of_the_cards(
    daybook: Daybook, monkeypatch: pytest.MonkeyPatch, few: int
) -> None:
    lay_out(daybook)
    monkeypatch.setattr(positions, "_FEW", few)  # by id, and by whole columns
    names = (
        "lon_deg", "lat_deg", "sd_m", "bearing_deg", "field_deg", "verdict", "years",
    )  # fmt: skip
    with daybook.reading() as session:
        ids = plates_wanted(session, SheetWanted())
        told = positions.positions_of(session, ids)
        cards = cards_of(session, ids)
        assert [(one.id, one.key) for one in told] == [
            (card.plate.id, card.plate.key) for card in cards
        ]
    for one, card in zip(told, cards, strict=True):
        assert all(getattr(one, name) == getattr(card, name) for name in names)


@pytest.mark.parametrize(
    ("wanted", "titles"),
    [
        (SheetWanted(verdict="located"), ["Mill"]),
        (SheetWanted(verdict="not determined"), []),
        (SheetWanted(verdict="none"), ["Ford", None]),
        (SheetWanted(from_year=1890.0), ["Mill", "Ford"]),
        (SheetWanted(to_year=1880.0), ["Mill"]),
        (SheetWanted(size="whole plate"), ["Mill"]),
        (SheetWanted(box=(7.0, 45.0, 9.0, 47.0)), ["Mill"]),
        (SheetWanted(words="ford"), ["Ford"]),
        (SheetWanted(sort="title"), ["Ford", "Mill", None]),
        (SheetWanted(sort="newest"), ["Mill", "Ford", None]),
        (SheetWanted(sort="date"), ["Mill", "Ford", None]),
    ],
)
def test_plates_are_chosen_and_ordered(
    daybook: Daybook, wanted: SheetWanted, titles: list[str | None]
) -> None:
    lay_out(daybook)
    with daybook.reading() as session:
        cards = cards_of(session, plates_wanted(session, wanted))
    assert [card.plate.title for card in cards] == titles
