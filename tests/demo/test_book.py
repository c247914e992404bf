"""The demo's daybook holds what a researcher would have begun it with."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import pyvips
import rasterio
from sqlalchemy import select

from wherestood.daybook import Daybook, find
from wherestood.daybook.question import read_plate, settings_for
from wherestood.daybook.searched import area_searched
from wherestood.daybook.tables import FeatureName, Plate
from wherestood.demo.book import PLATE_KEY, HandedOver, lay_out_daybook
from wherestood.demo.place import CRS
from wherestood.errors import DaybookError


@pytest.fixture(scope="module")
def handed(tmp_path_factory: pytest.TempPathFactory) -> HandedOver:
    """Return files like the demo's, made in no time: daybooks look at no picture."""
    folder = tmp_path_factory.mktemp("handed")
    rng = np.random.default_rng(3)
    tone = rng.integers(0, 255, (195, 255), dtype=np.uint8)
    pyvips.Image.new_from_array(tone).cast("uchar").write_to_file(
        str(folder / "plate.tif")
    )
    transform = rasterio.Affine(500.0, 0.0, 504_000.0, 0.0, -500.0, 4_591_000.0)
    with rasterio.open(
        folder / "terrain.tif", "w", driver="GTiff", width=32, height=32, count=1,
        dtype="float32", crs=CRS, transform=transform,
    ) as target:  # fmt: skip
        target.write(rng.uniform(100.0, 200.0, (32, 32)).astype(np.float32), 1)
    (folder / "area.geojson").write_text(
        '{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": '
        '{}, "geometry": {"type": "Polygon", "coordinates": [[[-122.84, -48.88], '
        "[-122.78, -48.88], [-122.78, -48.84], [-122.84, -48.84], "
        "[-122.84, -48.88]]]}}]}",
        encoding="utf-8",
    )
    return HandedOver(
        folder / "plate.tif",
        folder / "terrain.tif",
        folder / "area.geojson",
        _hearths(folder),
        "whole plate",
    )


def _hearths(folder: Path) -> Path:
    path = folder / "hearths.toml"
    path.write_text(
        """
wherestood = 1
[[feature]]
id = "left-hearth"
name = "Hearth of the left cottage"
point = [-122.81, -48.86]
sd_m = 5.0
[[mark]]
id = "A"
feature = "left-hearth"
x_px = 40
y_px = 90
""",
        encoding="utf-8",
    )
    return path


def test_it_can_be_searched_at_once(tmp_path: Path, handed: HandedOver) -> None:
    lay_out_daybook(tmp_path / "demo", handed)
    with Daybook.open(tmp_path / "demo") as book:
        read = read_plate(book, PLATE_KEY)
        assert settings_for(read).surface == "ground"
        assert settings_for(read).near_enough_m == 125.0
        area = area_searched(read.plate)
        assert area is not None
        assert area.size_km2 == pytest.approx(4.4 * 4.45, rel=0.02)  # 0.06 x 0.04 deg
        # What was found is there; to mark it is for the person who looks.
        assert read.told.is_empty
        with book.reading() as session:
            plate = find(session, Plate, PLATE_KEY)
            names = set(session.scalars(select(FeatureName.name)))
    assert plate.request_id is not None
    assert {"Hearth of the left cottage", "Great Wessen"} <= names


def test_a_daybook_that_is_there_is_left_alone(
    tmp_path: Path, handed: HandedOver
) -> None:
    Daybook.create(tmp_path / "demo").close()
    with pytest.raises(DaybookError, match="already"):
        lay_out_daybook(tmp_path / "demo", handed)
