"""Define the tables of what is looked at: requests, plates, scans, details, marks."""

from __future__ import annotations

from typing import Any, ClassVar

from sqlalchemy.orm import Mapped

from wherestood.daybook.tables.base import (
    Keyed,
    OnPlate,
    checksum,
    choice,
    date_as_written,
    link,
    list_or_record,
    number,
    prose,
    whole_number,
    yes_or_no,
)
from wherestood.daybook.tables.weighed import Weighed

__all__ = [
    "OF_TIME", "Detail", "Evidence", "Maker", "Mark", "Plate", "Request", "Scan",
]  # fmt: skip

#: Kinds that tell of hour, season and making, and nothing to a search; those of
#: `wherestood.dating.seen_on_plate`, written out as the events are; a test compares.
OF_TIME = (
    "blur", "hour", "lit_face", "making", "older_plate", "period", "reading",
    "season", "shadow", "shadow_edge", "water_seen",
)  # fmt: skip


class Request(Keyed):
    """Be what somebody asks: the question, how close, by when, on what terms."""

    __tablename__ = "requests"
    singular: ClassVar[str] = "request"
    told_by: ClassVar[tuple[str, ...]] = ("question", "asked_by", "state")

    asked_by: Mapped[str | None] = prose("who asks")
    question: Mapped[str] = prose("what exactly is asked", required=True)
    near_enough_m: Mapped[float | None] = number(
        "how close the answer must be, metres", 0.5, 50_000.0
    )
    by_when_edtf: Mapped[str | None] = date_as_written("by when, a date as written")
    loan_terms: Mapped[str | None] = prose("terms of loan of what was handed over")
    contact: Mapped[str | None] = prose("how to reach who asks")
    state: Mapped[str | None] = choice("its state", "open", "answered", "closed")
    answer: Mapped[str | None] = prose("what was answered")


class Maker(Keyed):
    """Be who made plates: a photographer or a firm, and when they worked."""

    __tablename__ = "makers"
    singular: ClassVar[str] = "maker"
    told_by: ClassVar[tuple[str, ...]] = ("name", "working_from_edtf")

    name: Mapped[str] = prose("name as they wrote it", required=True)
    other_names: Mapped[list[str] | None] = list_or_record("other names and spellings")
    working_from_edtf: Mapped[str | None] = date_as_written(
        "first working date, as written"
    )
    working_to_edtf: Mapped[str | None] = date_as_written(
        "last working date, as written"
    )
    places: Mapped[str | None] = prose("where they worked")
    lens: Mapped[str | None] = prose("lenses and plate sizes they are known to use")
    numbering: Mapped[str | None] = prose("how they numbered their negatives")
    source_id: Mapped[str | None] = link("sources", "who says so")
    note: Mapped[str | None] = prose("anything else")


class Plate(Keyed):
    """Be one photograph under study, whatever it is physically."""

    __tablename__ = "plates"
    singular: ClassVar[str] = "plate"
    told_by: ClassVar[tuple[str, ...]] = ("title", "place_words")

    title: Mapped[str | None] = prose("title, as the holder has it")
    description: Mapped[str | None] = prose("what it shows")
    held_by: Mapped[str | None] = prose("who holds it")
    collection: Mapped[str | None] = prose("collection or album it belongs to")
    subjects: Mapped[list[str] | None] = list_or_record("subject words")
    negative_number: Mapped[str | None] = prose("the maker's own number")
    inscription: Mapped[str | None] = prose("what is written on it, as written")
    place_words: Mapped[str | None] = prose("the place as somebody wrote it")
    date_words: Mapped[str | None] = prose("the date as somebody wrote it")
    maker_id: Mapped[str | None] = link("makers", "who made it")
    request_id: Mapped[str | None] = link("requests", "the request it belongs to")
    panorama: Mapped[str | None] = prose("name of the panorama it belongs to")
    process: Mapped[str | None] = choice(
        "what was scanned", "glass negative", "direct positive", "print"
    )
    size: Mapped[str | None] = prose('plate size, as in "whole plate" or 216x165mm')
    trimmed: Mapped[bool | None] = yes_or_no("whether it was cut down")
    footing: Mapped[str | None] = choice(
        "what the camera stood on", "tripod", "upper floor", "roof", "ship", "wharf"
    )
    principal_distance_mm: Mapped[float | None] = number("lens to plate, mm", 1.0)
    principal_distance_sd_mm: Mapped[float | None] = number("its doubt, mm", 0.0)
    ground_searched: Mapped[str | None] = prose(
        "ground searched: LON,LAT,3km, W,S,E,N, or GeoJSON"
    )
    near_enough_m: Mapped[float | None] = number(
        "how close the answer must be, metres", 0.5, 50_000.0
    )
    grade: Mapped[str | None] = choice(
        "how far it can be answered",
        "answerable now",
        "needs a plan",
        "needs another view",
        "hopeless so far",
    )
    catalogue: Mapped[dict[str, Any] | None] = list_or_record(
        "the holder's catalogue entry, column by column, as it came"
    )
    note: Mapped[str | None] = prose("anything else")


class Scan(OnPlate):
    """Be an image file of a plate, taken in or left where it is."""

    __tablename__ = "scans"
    singular: ClassVar[str] = "scan"
    told_by: ClassVar[tuple[str, ...]] = ("what", "original_name")

    file: Mapped[str] = prose(
        "the file: within the daybook, or whole where it was left", required=True
    )
    kept: Mapped[str | None] = choice("where the file is", "taken in", "left in place")
    original_name: Mapped[str | None] = prose("the file's own name when it came")
    accession_number: Mapped[str | None] = prose("accession number of this copy")
    what: Mapped[str | None] = choice(
        "what was scanned",
        "negative",
        "contact print",
        "enlargement",
        "lantern slide",
        "newspaper cut",
        "postcard",
        "piece",
        "other",
    )
    main: Mapped[bool | None] = yes_or_no("whether marks are made on this copy")
    sha256: Mapped[str] = checksum("checksum of the file")
    size_bytes: Mapped[int | None] = whole_number("size of the file, bytes", 0)
    width_px: Mapped[int | None] = whole_number("width as opened, pixels", 1)
    height_px: Mapped[int | None] = whole_number("height as opened, pixels", 1)
    page: Mapped[int | None] = whole_number("page of the file, from 0", 0)
    scan_ppi: Mapped[float | None] = number("scanning resolution, pixels an inch", 0.0)
    negative: Mapped[bool | None] = yes_or_no("whether the file shows a negative")
    reversed: Mapped[bool | None] = yes_or_no("whether it is left for right")
    corners_px: Mapped[list[list[float]] | None] = list_or_record(
        "the plate's corners on it: top left, top right, bottom right, bottom left",
        holds="corners",
    )
    perceptual_hash: Mapped[str | None] = prose("what it looks like, as a hash")
    embedded: Mapped[dict[str, Any] | None] = list_or_record(
        "what was written inside the file, as it came"
    )
    registered_to_id: Mapped[str | None] = link("scans", "the copy it is laid over")
    registration: Mapped[dict[str, Any] | None] = list_or_record(
        "how its pixels lie on that copy, with doubt and hand points"
    )
    note: Mapped[str | None] = prose("anything else")


class Detail(OnPlate):
    """Be something on a plate, lettered, with a crop and a note."""

    __tablename__ = "details"
    singular: ClassVar[str] = "detail"
    told_by: ClassVar[tuple[str, ...]] = ("what",)

    scan_id: Mapped[str | None] = link("scans", "the copy it was seen on")
    what: Mapped[str | None] = prose("what it looks like")
    crop_px: Mapped[list[float] | None] = list_or_record(
        "its crop: left, top, width, height, pixels", holds="box"
    )
    feature_id: Mapped[str | None] = link("features", "what it is taken to be")
    identified_by: Mapped[str | None] = prose("who says so, and how they know")
    note: Mapped[str | None] = prose("anything else")


class Mark(Weighed):
    """Be the point, line or outline on a scan that a detail has."""

    __tablename__ = "marks"
    singular: ClassVar[str] = "mark"
    told_by: ClassVar[tuple[str, ...]] = ("shape", "points_px")

    scan_id: Mapped[str | None] = link("scans", "the copy it is on")
    detail_id: Mapped[str | None] = link("details", "the detail it marks")
    shape: Mapped[str | None] = choice("its shape", "point", "line", "outline")
    points_px: Mapped[list[list[float]] | None] = list_or_record(
        "its points, x and y in pixels", holds="points"
    )
    sd_px: Mapped[float | None] = number("standard error of a point, pixels", 0.0)
    at: Mapped[str | None] = choice(
        "what of the feature it marks", "ground", "top", "water"
    )
    features: Mapped[list[dict[str, Any]] | None] = list_or_record(
        "what it may be: a list of feature (its key) and weight", holds="weights"
    )


class Evidence(Weighed):
    """Be any other item of evidence, in the form of the evidence file."""

    __tablename__ = "evidence"
    singular: ClassVar[str] = "item of evidence"
    told_by: ClassVar[tuple[str, ...]] = ("kind", "content")

    kind: Mapped[str] = choice(
        "its kind, as the evidence file calls it, or what tells of the time",
        "camera",
        "changed_ground",
        "hidden",
        "in_line",
        "known_distance",
        "known_size",
        "order",
        "plumb_edge",
        "ridge_line",
        "sea_horizon",
        "seen",
        "skyline",
        "tie",
        "water_level",
        *OF_TIME,
        required=True,
    )
    scan_id: Mapped[str | None] = link("scans", "the copy it was read on")
    content: Mapped[dict[str, Any] | None] = list_or_record(
        "what it says, key by key, as in the evidence file", holds="record"
    )
