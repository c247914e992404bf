"""Check that features are taken in from other people's files; all invented."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pyogrio
import pyproj
import pytest
import shapely
from sqlalchemy import select

from wherestood.daybook import Daybook
from wherestood.daybook.gazetteer import (
    offered_features,
    read_gazetteer,
    read_whole_gazetteer,
    take_gazetteer,
)
from wherestood.daybook.gazetteer.offer import standing, years_of_plate
from wherestood.daybook.tables import Dating, Feature, FeatureName, Plate, Source
from wherestood.errors import InputError
from wherestood.evidence.years import years_of

ONE_CENTIMETRE_DEG = 1e-7

MILL = {
    "type": "Feature",
    "geometry": {"type": "Point", "coordinates": [8.5, 46.1]},
    "properties": {
        "name": "Oxbow Mill",
        "name:mi": "Te Mira",
        "alt_name": "Moss's Mill; The Old Mill",
        "old_name": "Fell's Mill",
        "type": "mill",
        "start_date": "1862",
        "end_date": "1891~",
        "ele": 412.5,
    },
}
TEXT = (
    "name;type;grid reference;from;to\n"
    "Caister Tower;water tower;TG 514 131;1895;\n"
    "Ben Fell's yard;yard;NN 166 712;;1880\n"
)


def _geojson(path: Path, *features: object) -> Path:
    record = {"type": "FeatureCollection", "features": list(features)}
    path.write_text(json.dumps(record), encoding="utf-8")
    return path


def test_every_name_keeps_its_spelling_language_and_kind(tmp_path: Path) -> None:
    gazetteer = read_gazetteer(_geojson(tmp_path / "a.geojson", MILL))
    (entry,) = gazetteer.entries
    assert [(n.name, n.language, n.kind) for n in entry.names] == [
        ("Oxbow Mill", None, None),
        ("Te Mira", "mi", None),
        ("Moss's Mill", None, None),
        ("The Old Mill", None, None),
        ("Fell's Mill", None, "old"),
    ]
    assert entry.existed_from_edtf == "1862"
    assert entry.existed_to_edtf == "1891~"
    assert entry.height_m == 412.5
    assert entry.what == "mill"


@pytest.mark.parametrize(
    ("name", "driver", "crs"),
    [
        ("a.gpkg", "GPKG", "EPSG:2056"),
        ("a.shp", "ESRI Shapefile", "EPSG:2056"),
        ("a.kml", "LIBKML", "EPSG:4326"),
        ("a.geojson", "GeoJSON", "EPSG:4326"),
    ],
)
def test_layers_of_every_kind_come_out_in_wgs84(
    tmp_path: Path, name: str, driver: str, crs: str
) -> None:
    lon, lat = np.array([8.5, 8.51]), np.array([46.1, 46.12])
    to = pyproj.Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    shapes = shapely.to_wkb(shapely.points(*to.transform(lon, lat)))
    pyogrio.raw.write(
        tmp_path / name,
        geometry=shapes,
        field_data=[np.array(["Mühle", "Brücke"], dtype=object)],
        fields=["name"],
        crs=crs,
        geometry_type="Point",
        driver=driver,
        encoding=None if driver == "LIBKML" else "UTF-8",
    )
    gazetteer = read_gazetteer(tmp_path / name)
    assert [entry.names[0].name for entry in gazetteer.entries] == ["Mühle", "Brücke"]
    for entry, *place in zip(gazetteer.entries, lon, lat, strict=True):
        np.testing.assert_allclose(
            entry.geometry["coordinates"], place, atol=ONE_CENTIMETRE_DEG
        )


def test_span_of_a_kml_is_when_it_stood(tmp_path: Path) -> None:
    path = tmp_path / "a.kml"
    path.write_text(
        '<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>'
        "<Placemark><name>Mill</name><TimeSpan><begin>1862-01-01</begin>"
        "<end>1891-01-01</end></TimeSpan><Point><coordinates>8.5,46.1,0"
        "</coordinates></Point></Placemark></Document></kml>",
        encoding="utf-8",
    )
    (entry,) = read_gazetteer(path).entries
    assert entry.existed_from_edtf is not None
    assert entry.existed_from_edtf.startswith("1862")
    assert entry.existed_to_edtf is not None
    assert entry.existed_to_edtf.startswith("1891")


def test_a_year_or_a_month_alone_is_read_from_a_kml_too(tmp_path: Path) -> None:
    path = tmp_path / "a.kml"
    stands = "<Point><coordinates>8.5,46.1,0</coordinates></Point></Placemark>"
    path.write_text(
        '<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>'
        f"<Placemark><name>Weir</name>{stands}"
        "<Placemark><name>Mill</name><TimeSpan><begin>1862</begin><end>1891-05</end>"
        f"</TimeSpan>{stands}</Document></kml>",
        encoding="utf-8",
    )
    weir, mill = read_gazetteer(path).entries
    assert (mill.existed_from_edtf, mill.existed_to_edtf) == ("1862", "1891-05")
    assert (weir.existed_from_edtf, weir.existed_to_edtf) == (None, None)


@pytest.mark.parametrize("name", ["a.geojson", "a.gpkg", "a.kml", "a.gpx", "a.shp"])
def test_a_list_of_layers_by_another_name_is_refused_unopened(
    tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / name
    path.write_text(
        "<OGRVRTDataSource><OGRVRTLayer name='a'><SrcDataSource>"
        "/vsicurl/http://127.0.0.1:9/kml</SrcDataSource></OGRVRTLayer>"
        "</OGRVRTDataSource>",
        encoding="utf-8",
    )

    def opened(*_: object, **__: object) -> None:
        raise AssertionError("it was opened")

    monkeypatch.setattr("pyogrio.list_layers", opened)
    with pytest.raises(InputError, match="is not what its name says"):
        read_gazetteer(path)


def test_square_of_a_grid_reference_is_the_doubt(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(TEXT, encoding="utf-8")
    tower, _ = read_gazetteer(path).entries
    # A place anywhere in a square of 100 m lies 100 / sqrt(12) = 28.9 m off, one axis.
    assert tower.sd_m == pytest.approx(28.87, abs=0.01)
    assert tower.imported["square_side_m"] == 100.0
    assert tower.imported["grid reference"] == "TG 514 131"


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("A,,", "no place"),
        ("A,500,46", "longitude is 500"),
        ("A,8.5,north", "'north' is no number"),
        (",8.5,46", "neither a name nor a kind"),
        ("A,nan,46", "longitude is nan"),
    ],
)
def test_a_row_that_cannot_be_is_refused_by_its_number(
    tmp_path: Path, row: str, told: str
) -> None:
    path = tmp_path / "a.csv"
    path.write_text(f"name,lon,lat\nGood,8.5,46.1\n{row}\n", encoding="utf-8")
    gazetteer = read_gazetteer(path)
    assert len(gazetteer.entries) == 1
    (refusal,) = gazetteer.refused
    assert refusal.where == "row 3"
    assert told in refusal.why


def test_a_line_of_a_million_points_is_refused(tmp_path: Path) -> None:
    x = np.linspace(8.0, 9.0, 100_001)
    line = shapely.to_wkb([shapely.linestrings(np.column_stack([x, x + 38.0]))])
    pyogrio.raw.write(
        tmp_path / "a.gpkg",
        geometry=np.array(line),
        field_data=[np.array(["Shore"], dtype=object)],
        fields=["name"],
        crs="EPSG:4326",
        geometry_type="LineString",
        driver="GPKG",
    )
    gazetteer = read_gazetteer(tmp_path / "a.gpkg")
    assert gazetteer.entries == ()
    assert "100001 points" in gazetteer.refused[0].why


@pytest.mark.parametrize("name", ["a.geojson", "a.gpkg", "a.kml", "a.shp"])
@pytest.mark.parametrize("content", [b"", b"{nothing of the kind"])
def test_a_damaged_layer_is_refused_by_name(
    tmp_path: Path, name: str, content: bytes
) -> None:
    (tmp_path / name).write_bytes(content)
    with pytest.raises(InputError, match=name):
        read_gazetteer(tmp_path / name)


def test_numbers_of_an_unnamed_system_are_refused_until_it_is_named(
    tmp_path: Path,
) -> None:
    path = tmp_path / "a.csv"
    path.write_text("name,easting,northing\nTower,651409,313177\n", encoding="utf-8")
    assert "unknown reference system" in read_gazetteer(path).refused[0].why
    (entry,) = read_gazetteer(path, crs="EPSG:27700").entries
    assert entry.geometry["coordinates"] == pytest.approx([1.716, 52.658], abs=1e-3)


def test_columns_can_be_told(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("Bezeichnung,O,N\nMühle,8.5,46.1\n", encoding="utf-8")
    told = {"Bezeichnung": "name", "O": "longitude", "N": "latitude"}
    (entry,) = read_gazetteer(path, told=told).entries
    assert entry.names[0].name == "Mühle"
    with pytest.raises(InputError, match="cannot mean"):
        read_gazetteer(path, told={"O": "breadth"})
    with pytest.raises(InputError, match="no column"):
        read_gazetteer(path, told={"Q": "name"})


def test_features_and_names_go_in_with_their_source_and_once(
    daybook: Daybook, tmp_path: Path
) -> None:
    gazetteer = read_gazetteer(_geojson(tmp_path / "a.geojson", MILL))
    would = take_gazetteer(daybook, gazetteer, "Ada", citation="Survey", dry_run=True)
    assert (would.would_add, would.added) == (1, ())
    taken = take_gazetteer(daybook, gazetteer, "Ada", citation="Survey")
    again = take_gazetteer(daybook, gazetteer, "Ada", citation="Survey")
    assert len(taken.added) == 1
    assert (again.added, again.already_there) == ((), 1)
    with daybook.reading() as session:
        (feature,) = session.scalars(select(Feature))
        (source,) = session.scalars(select(Source))
        names = list(session.scalars(select(FeatureName)))
        assert source.citation == "Survey"
        assert feature.existed_from_source_id == source.id
        assert {name.source_id for name in names} == {source.id}
        assert {name.name for name in names} >= {"Te Mira", "Oxbow Mill"}


@pytest.mark.parametrize(
    ("words", "years"),
    [
        ("1871", (1871, 1871)),
        ("1871-05-03", (1871, 1871)),
        ("187X", (1870, 1879)),
        ("18XX", (1800, 1899)),
        ("1871?", (1871, 1871)),
        ("1871~", (1866, 1876)),
        ("1870/1880", (1870, 1880)),
        ("1870/..", (1870, float("inf"))),
        ("../1880", (-float("inf"), 1880)),
    ],
)
def test_years_of_dates_as_the_standard_writes_them(
    words: str, years: tuple[float, float]
) -> None:
    assert years_of(words) == years


@pytest.mark.parametrize("words", ["", "May Day", "18-71", None, "1870/soon"])
def test_a_date_that_cannot_be_read_bounds_nothing(words: str | None) -> None:
    assert years_of(words) is None


@pytest.mark.parametrize(
    ("begun", "gone", "exposed", "said"),
    [
        ("1862", "1891", (1870, 1870), "stood"),
        ("1862", "1891", (1900, 1905), "did not stand"),
        ("1862", None, (1850, 1855), "did not stand"),
        ("1862", "1891", (1885, 1900), "may have stood"),
        ("186X", None, (1865, 1865), "may have stood"),
        ("1862", None, (1862, 1862), "may have stood"),
        (None, None, (1870, 1870), "not known"),
        ("1862", None, None, "not known"),
        ("long ago", "1891", (1870, 1870), "stood"),
    ],
)
def test_a_feature_is_offered_where_the_date_allows(
    begun: str | None, gone: str | None, exposed: tuple[float, float] | None, said: str
) -> None:
    assert standing(begun, gone, exposed) == said


def test_only_what_may_have_stood_is_offered_for_a_plate(
    daybook: Daybook, tmp_path: Path
) -> None:
    path = tmp_path / "a.csv"
    path.write_text(TEXT, encoding="utf-8")
    take_gazetteer(daybook, read_gazetteer(path), "Ada", citation="List")
    with daybook.writing("Ada") as session:
        plate = Plate(key="1987.12")
        session.add(plate)
        session.flush()
        session.add(Dating(plate_id=plate.id, of="not before", edtf="1885"))
        session.add(Dating(plate_id=plate.id, of="not after", edtf="1899"))
    with daybook.reading() as session:
        (plate,) = session.scalars(select(Plate))
        years = years_of_plate(session, plate)
        assert years == (1885, 1899)
        offers = list(offered_features(session, years))
        assert [offer.names for offer in offers] == [("Caister Tower",)]
        assert offers[0].standing == "may have stood"
        every = offered_features(session, years, all_of_them=True)
        assert len(list(every)) == 2
        undated = [one.sentence for one in offered_features(session, None)]
        assert any(told.startswith("stood from 1") for told in undated)
        assert all(
            told.startswith("stood ") or told == "nothing says when it stood"
            for told in undated
        )


GPX = """<?xml version="1.0"?>
<gpx version="1.1" creator="invented" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="46.1" lon="8.5"><ele>412.5</ele><name>Oxbow Mill</name></wpt>
<trk><name>Towpath</name><trkseg>
<trkpt lat="46.1" lon="8.5"/><trkpt lat="46.2" lon="8.6"/>
</trkseg></trk>
</gpx>
"""


def test_gpx_gives_its_waypoints_and_its_tracks_once(tmp_path: Path) -> None:
    path = tmp_path / "walk.gpx"
    path.write_text(GPX, encoding="utf-8")
    read = read_whole_gazetteer(path)
    told = {entry.names[0].name: entry.geometry for entry in read.entries}
    assert told["Oxbow Mill"] == {"type": "Point", "coordinates": [8.5, 46.1]}
    assert shapely.geometry.shape(told["Towpath"]).length == pytest.approx(
        0.2**0.5 / 10**0.5
    )
    assert len(told) == len(read.entries) == 2
    assert {e.height_m for e in read.entries if e.names[0].name == "Oxbow Mill"} == {
        412.5
    }


def test_file_that_only_points_at_another_is_refused(tmp_path: Path) -> None:
    (tmp_path / "secret.csv").write_text("lon,lat\n1,2\n", encoding="utf-8")
    path = tmp_path / "harmless.json"
    path.write_text(
        '<OGRVRTDataSource><OGRVRTLayer name="secret">'
        f"<SrcDataSource>{tmp_path / 'secret.csv'}</SrcDataSource>"
        "<GeometryType>wkbPoint</GeometryType></OGRVRTLayer></OGRVRTDataSource>",
        encoding="utf-8",
    )
    with pytest.raises(InputError, match="not what its name says"):
        read_whole_gazetteer(path)
