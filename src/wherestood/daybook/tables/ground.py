"""Define the tables of the ground: features, their names, plans, terrain layers."""

from __future__ import annotations

from typing import Any, ClassVar

from sqlalchemy.orm import Mapped

from wherestood.daybook.tables.base import (
    Keyed,
    choice,
    date_as_written,
    link,
    list_or_record,
    number,
    prose,
    whole_number,
    yes_or_no,
)

__all__ = ["Feature", "FeatureName", "Plan", "TerrainLayer"]

#: Lower than any dry ground and higher than any summit [m].
LOWEST_M, HIGHEST_M = -500.0, 9000.0


class Feature(Keyed):
    """Be a thing on the ground, and the years in which it existed."""

    __tablename__ = "features"
    singular: ClassVar[str] = "feature"
    told_by: ClassVar[tuple[str, ...]] = ("what", "note")

    what: Mapped[str | None] = prose("what it is: chimney, peak, gable, shore")
    geometry: Mapped[dict[str, Any] | None] = list_or_record(
        "where it stands: a GeoJSON geometry, longitude before latitude",
        holds="geometry",
    )
    west_deg: Mapped[float | None] = number("its western edge, degrees", -360.0, 360.0)
    south_deg: Mapped[float | None] = number("its southern edge, degrees", -90.0, 90.0)
    east_deg: Mapped[float | None] = number("its eastern edge, degrees", -360.0, 360.0)
    north_deg: Mapped[float | None] = number("its northern edge, degrees", -90.0, 90.0)
    sd_m: Mapped[float | None] = number("standard error of its position, metres", 0.0)
    height_m: Mapped[float | None] = number(
        "height of its foot, metres", LOWEST_M, HIGHEST_M
    )
    height_sd_m: Mapped[float | None] = number("its standard error, metres", 0.0)
    object_height_m: Mapped[float | None] = number(
        "height of its top above its foot, metres", 0.0, HIGHEST_M
    )
    object_height_sd_m: Mapped[float | None] = number(
        "standard error of that, metres", 0.0
    )
    plan_id: Mapped[str | None] = link("plans", "the plan it was taken from")
    drawn: Mapped[str | None] = choice(
        "how it came onto that plan", "surveyed", "sketched"
    )
    traced: Mapped[dict[str, Any] | None] = list_or_record(
        "what was traced there: shape, points_px, drawn_sd_m; it moves as pins do",
        holds="record",
    )
    existed_from_edtf: Mapped[str | None] = date_as_written(
        "since when it stood, as written"
    )
    existed_from_source_id: Mapped[str | None] = link("sources", "who says so")
    existed_to_edtf: Mapped[str | None] = date_as_written(
        "until when it stood, as written"
    )
    existed_to_source_id: Mapped[str | None] = link("sources", "who says so")
    source_id: Mapped[str | None] = link("sources", "where its position is from")
    source_words: Mapped[str | None] = prose("where its position is from, in words")
    imported: Mapped[dict[str, Any] | None] = list_or_record(
        "what else the file said that it came from"
    )
    note: Mapped[str | None] = prose("anything else")


class FeatureName(Keyed):
    """Be one name of a feature, spelt as its source has it."""

    __tablename__ = "feature_names"
    singular: ClassVar[str] = "name"
    told_by: ClassVar[tuple[str, ...]] = ("name", "language")

    feature_id: Mapped[str] = link("features", "what is so called", required=True)
    name: Mapped[str] = prose("the name, in its source's spelling", required=True)
    language: Mapped[str | None] = prose("its language")
    kind: Mapped[str | None] = choice(
        "whose name it is", "official", "local", "indigenous", "old", "other"
    )
    used_from_edtf: Mapped[str | None] = date_as_written(
        "since when it was used, as written"
    )
    used_to_edtf: Mapped[str | None] = date_as_written(
        "until when it was used, as written"
    )
    source_id: Mapped[str | None] = link("sources", "who calls it so")


class Plan(Keyed):
    """Be an old plan, pinned to the ground."""

    __tablename__ = "plans"
    singular: ClassVar[str] = "plan"
    told_by: ClassVar[tuple[str, ...]] = ("title", "date_edtf")

    title: Mapped[str | None] = prose("title, as it stands on it")
    date_edtf: Mapped[str | None] = date_as_written("its date, as written")
    file: Mapped[str | None] = prose("its image, within the daybook")
    sha256: Mapped[str | None] = prose("checksum of the image")
    page: Mapped[int | None] = whole_number("which page of its file it is, from 1", 1)
    page_ppi: Mapped[float | None] = number(
        "how finely a page without pixels is drawn, pixels to the inch", 1.0
    )
    width_px: Mapped[int | None] = whole_number("width of its image, pixels", 1)
    height_px: Mapped[int | None] = whole_number("height of its image, pixels", 1)
    mirrored: Mapped[bool | None] = yes_or_no("whether it is seen from behind")
    shared_shift_sd_m: Mapped[float | None] = number(
        "standard error of the shift all it shows share, metres", 0.0
    )
    pins: Mapped[list[dict[str, Any]] | None] = list_or_record(
        "its pins: pixel and place each"
    )
    fit: Mapped[str | None] = choice(
        "how it is pinned", "similarity", "affine", "projective", "bending"
    )
    north: Mapped[str | None] = choice("what its north is", "true", "grid", "magnetic")
    source_id: Mapped[str | None] = link("sources", "where it is held")
    source_words: Mapped[str | None] = prose("where it is held, in words")
    note: Mapped[str | None] = prose("anything else")


class TerrainLayer(Keyed):
    """Be an elevation model, with its provenance."""

    __tablename__ = "terrain_layers"
    singular: ClassVar[str] = "terrain layer"
    told_by: ClassVar[tuple[str, ...]] = ("title", "surface", "licence")

    title: Mapped[str | None] = prose("its title")
    files: Mapped[list[dict[str, Any]] | None] = list_or_record(
        "its files: file (within the daybook, or whole), sha256, size_bytes"
    )
    kept: Mapped[str | None] = choice("where they are", "taken in", "left in place")
    provenance: Mapped[str | None] = prose("who made it, how and when")
    licence: Mapped[str | None] = prose("its licence")
    credit: Mapped[str | None] = prose("the credit line its licence asks for")
    surface: Mapped[str | None] = choice(
        "what its heights are of", "ground", "top", "unknown"
    )
    vertical_datum: Mapped[str | None] = prose("its vertical datum")
    crs: Mapped[str | None] = prose("its reference system")
    cell_m: Mapped[float | None] = number("its cell, metres", 0.0)
    west_deg: Mapped[float | None] = number("its western edge, degrees", -360.0, 360.0)
    south_deg: Mapped[float | None] = number("its southern edge, degrees", -90.0, 90.0)
    east_deg: Mapped[float | None] = number("its eastern edge, degrees", -360.0, 360.0)
    north_deg: Mapped[float | None] = number("its northern edge, degrees", -90.0, 90.0)
    overlaps: Mapped[list[dict[str, Any]] | None] = list_or_record(
        "steps measured where it overlaps other layers"
    )
    source_id: Mapped[str | None] = link("sources", "where it was had")
    note: Mapped[str | None] = prose("anything else")
