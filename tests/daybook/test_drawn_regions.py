"""The ground that holds a camera is told of the newest fix that stands."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import shapely

from wherestood.daybook import Daybook
from wherestood.daybook.drawn_regions import MOST_DRAWN, regions_drawn
from wherestood.daybook.tables import Fix, Plate


def answer(side_deg: float) -> dict[str, Any]:
    """Return regions of a fix: squares that hold the camera by 0.5 and by 0.9."""
    features = [
        {
            "type": "Feature",
            "properties": {"probability": probability},
            "geometry": shapely.geometry.mapping(
                shapely.box(7.0, 46.0, 7.0 + side, 46.0 + side).segmentize(side / 50)
            ),
        }
        for probability, side in ((0.5, side_deg / 2), (0.9, side_deg))
    ]
    return {"regions": {"type": "FeatureCollection", "features": features}}


@pytest.fixture
def plate_id(tmp_path: Path) -> Any:
    """Keep two fixes of a plate, the older of them larger."""
    with Daybook.create(tmp_path / "book") as book:
        with book.writing("Ada Moss") as session:
            plate = Plate(key="1")
            session.add(plate)
            session.flush()
            for made, side in (("2026-01-01", 0.4), ("2026-02-01", 0.1)):
                session.add(
                    Fix(
                        plate_id=plate.id,
                        made=f"{made}T00:00:00+00:00",
                        verdict="located",
                        answer=answer(side),
                    )
                )
            session.flush()
            found = plate.id
        yield book, found


def test_largest_region_of_the_newest_fix_is_told_with_few_corners(
    plate_id: Any,
) -> None:
    book, found = plate_id
    with book.reading() as session:
        [region] = regions_drawn(session, [found])
    assert region.probability == pytest.approx(0.9)
    [ring] = region.rings_deg
    assert len(ring) == 5
    assert shapely.Polygon(ring).bounds == pytest.approx((7.0, 46.0, 7.1, 46.1))


def test_of_too_many_plates_none_is_told(plate_id: Any) -> None:
    book, found = plate_id
    with book.reading() as session:
        assert regions_drawn(session, [found] * (MOST_DRAWN + 1)) == []
