"""Keep what was read on a visit: evidence of where the camera stood, and the rest."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.book import Daybook
from wherestood.daybook.keys import find
from wherestood.daybook.tables import (
    Evidence,
    Feature,
    FeatureName,
    Lead,
    Note,
    Plate,
    Restriction,
    Source,
    Statement,
)
from wherestood.daybook.visit_things import Things, middle_of
from wherestood.earth.frame import Frame
from wherestood.record.doubt import distance_in_words, give_or_take, way_in_words
from wherestood.visit.read_on_spot import KINDS, Reading, Visit
from wherestood.visit.spot_found import SpotFound, combined_place, step_by_gaps

__all__ = ["TRIPOD", "KeptVisit", "keep_visit"]

#: What the feature is that says where a tripod stood on a visit.
TRIPOD = "where a tripod stood on a visit"
_SPOT = "the spot by what was read there"
#: How probable a visit's readings are no blunder, and words that somewhere it was not
#: are wrong: judged, not measured.
_TRUST, _NOT_HERE = 0.9, 0.05
#: The camera stood on the spot itself: the evidence file knows no distance of 0 [m].
_NO_WAY_M = 0.01
#: How far the tripod may be from where a fix has the camera, if nobody read it [m].
_ABOUT_SD_M = 15.0
#: Of an outline that stands for a circle.
_SIDES = 32
_LEADS = {
    "ground gone": "What was the ground of the spot like: an old plan or survey",
    "trees block it": "A season or an hour without leaves, or a clear spot near by",
}


@dataclass(frozen=True)
class KeptVisit:
    """Say what was kept of a visit.

    Attributes
    ----------
    sentences : tuple of str
        What came of the readings.
    left : tuple of str
        What tells nothing, and why.
    counts : bool
        Whether anything new counts in a fix.
    source : str
        Key of the visit as a source.
    """

    sentences: tuple[str, ...]
    left: tuple[str, ...]
    counts: bool
    source: str


def keep_visit(
    book: Daybook, key: str, visit: Visit, person: str, why: str = ""
) -> KeptVisit:
    """Keep a visit in one act.

    Parameters
    ----------
    book : Daybook
    key : str
        The plate's.
    visit : Visit
    person, why : str
        Who keeps it, and why.

    Raises
    ------
    InputError
        If a reading names what is not known; then nothing is kept.
    """
    with book.writing(person, why or f"visit of {visit.day}") as session:
        return _Keeping(session, find(session, Plate, key), visit).all()


class _Keeping:
    """Turn readings into items, one by one."""

    def __init__(self, session: Session, plate: Plate, visit: Visit) -> None:
        self.session, self.plate, self.visit = session, plate, visit
        self.frame = Frame.local(*middle_of(session, visit))
        self.things = Things(session, plate, self.frame)
        who = f" by {visit.who}" if visit.who else ""
        self.source = Source(
            citation=f"Visit of {visit.day}{who}", kind="other",
            seen_edtf=visit.day.isoformat(),
        )  # fmt: skip
        session.add(self.source)
        session.flush()
        self.group = f"visit of {visit.day} ({self.source.key})"
        self.sentences: list[str] = []
        self.left: list[str] = []
        self.counts = False

    def all(self) -> KeptVisit:
        for one in self.visit.of_kind("thing"):
            self.thing(one)
        for one in self.visit.of_kind("height"):
            self.height(one)
        self.spot()
        for one in self.visit.of_kind("not here"):
            self.not_here(one)
        self.notes()
        self.session.flush()
        return KeptVisit(
            tuple(self.sentences), tuple(self.left), self.counts, self.source.key
        )

    def spot(self) -> None:
        """Keep where the tripod stood, and what that tells of the camera."""
        stood = self._stood()
        step = self._step(stood)
        if stood is not None:
            self._tripod(stood, step)
        if step is None:
            for one in self.visit.of_kind("tape"):
                self.note(one)
            return
        if stood is not None:
            spot = stood.moved(step)
            feature = self._point(spot, _SPOT, "spot")
            self._distance(feature, _NO_WAY_M, _NO_WAY_M)
            self.sentences.append(
                "By what was read there the camera stood within "
                f"{_about(spot.sd_m)} of a place that is kept as {feature.key}: it "
                "counts in the next fix."
            )
        self._tapes(stood, step)

    def _stood(self) -> SpotFound | None:
        read = self.visit.of_kind("stood")
        if not read:
            return None
        east, north = self.frame.from_lonlat(
            np.array([one.lon_deg for one in read], dtype=np.float64),
            np.array([one.lat_deg for one in read], dtype=np.float64),
        )
        sds = [one.sd or KINDS["stood"].sd for one in read]
        return combined_place(
            list(zip(east.tolist(), north.tolist(), sds, strict=True))
        )

    def _step(self, stood: SpotFound | None) -> SpotFound | None:
        """Return the step from tripod to camera; None if nothing tells it."""
        gaps = self.visit.of_kind("gap")
        pairs, left = self.things.pairs(gaps, self.visit.of_kind("gap on plate"))
        self.left += left
        matches = [one.value or 0.0 for one in self.visit.of_kind("matches")]
        found = step_by_gaps(pairs, self._about_m(stood)) if pairs else None
        if found is not None:
            away_m = math.hypot(found.east_m, found.north_m)
            if away_m < 2.0 * found.sd_m:
                said = f"on the spot, to within {_about(found.sd_m)}"
            else:
                off = give_or_take(away_m, found.sd_m, " m")
                way = way_in_words(-found.east_m, -found.north_m)
                said = f"{off} {way} of the camera's place"
            self.sentences.append(f"By its gaps the tripod stood {said}.")
            return found
        if pairs:
            self.left.append(
                "The gaps leave open which way the camera stood: one more pair is "
                "needed, or a nearer thing."
            )
        if matches:
            return SpotFound(0.0, 0.0, max(matches) ** 2 * np.eye(2))
        if stood is not None or self.visit.of_kind("tape"):
            self.left.append(
                "Nothing says how the tripod's place lies to the camera's: no gaps "
                "that the picture shows too, no word that the view matches. It is "
                "kept, and tells a fix nothing."
            )
        return None

    def _about_m(self, stood: SpotFound | None) -> tuple[float, float]:
        if stood is not None:
            return stood.east_m, stood.north_m
        camera = self.things.camera
        if camera is None:
            return 0.0, 0.0
        east, north = self.frame.from_lonlat(
            np.array([camera.lon_deg]), np.array([camera.lat_deg])
        )
        return float(east[0]), float(north[0])

    def _tripod(self, stood: SpotFound, step: SpotFound | None) -> None:
        feature = self._point(stood, TRIPOD, "tripod")
        feature.imported = {"visit": {"plate": self.plate.id}}
        feature.note = (
            "matched against the picture" if step is not None else "not matched"
        )

    def _tapes(self, stood: SpotFound | None, step: SpotFound) -> None:
        about = np.array(self._about_m(stood))
        for one in self.visit.of_kind("tape"):
            thing = self.things.known(one.thing, one.where)
            way = np.array(thing.place_m) - about
            away = way / max(float(np.hypot(*way)), 1.0)
            taped = one.value or 0.0
            # Straight on from the tripod, then on from the camera by the step less.
            told = np.hypot(
                taped - away @ (step.east_m, step.north_m),
                away @ (step.north_m, -step.east_m),
            )
            # Which way the thing lies is known no better than tripod and thing are.
            cross_m = float(away @ (step.north_m, -step.east_m))
            wrong_m = math.hypot(thing.sd_m, stood.sd_m if stood else _ABOUT_SD_M)
            turned = min(wrong_m / max(float(np.hypot(*way)), 1.0), 1.0)
            sd_m = math.hypot(
                one.sd or 0.05,
                float(away @ step.covariance_m2 @ away) ** 0.5,
                cross_m * turned,
            )
            self._distance(thing.feature, float(told), sd_m)
            self.sentences.append(
                f"The camera stood {give_or_take(float(told), sd_m, ' m')} from "
                f"{one.thing}, by tape: it counts in the next fix."
            )

    def _distance(self, feature: Feature, distance_m: float, sd_m: float) -> None:
        content = {
            "feature": feature.key,
            "distance_m": round(max(distance_m, _NO_WAY_M), 3),
            "sd_m": round(max(sd_m, _NO_WAY_M), 3),
        }
        item = Evidence(
            plate_id=self.plate.id, kind="known_distance", content=content,
            trust=_TRUST, stands_with=self.group, source_id=self.source.id,
            note=f"Read on the spot, {self.visit.day}.",
        )  # fmt: skip
        self.session.add(item)
        self.session.flush()
        self.counts = True

    def _point(self, at: SpotFound, what: str, stem: str) -> Feature:
        lon, lat = self.frame.to_lonlat(np.array([at.east_m]), np.array([at.north_m]))
        place = {"type": "Point", "coordinates": [float(lon[0]), float(lat[0])]}
        return self._feature(place, max(at.sd_m, 0.01), what, stem)

    def _feature(
        self, geometry: dict[str, Any], sd_m: float | None, what: str, stem: str
    ) -> Feature:
        feature = Feature(
            key=self._free(f"{stem}-{self.visit.day}"), what=what, geometry=geometry,
            sd_m=None if sd_m is None else round(sd_m, 3), source_id=self.source.id,
        )  # fmt: skip
        self.session.add(feature)
        self.session.flush()
        return feature

    def _free(self, key: str) -> str:
        taken = set(
            self.session.scalars(select(Feature.key).where(Feature.key.like(f"{key}%")))
        )
        number, found = 1, key
        while found in taken:
            number += 1
            found = f"{key}-{number}"
        return found

    def thing(self, one: Reading) -> None:
        """Take where a thing stands, if that is surer than what was known."""
        known = self.things.feature(one.thing, one.where)
        place = {"type": "Point", "coordinates": [one.lon_deg, one.lat_deg]}
        if known is None:
            feature = self._feature(place, one.sd, one.words or one.thing, "thing")
            self.session.add(FeatureName(feature_id=feature.id, name=one.thing))
            self.session.flush()
            self.sentences.append(f"{one.thing} is kept as {feature.key}.")
            return
        sure_m = math.inf if known.sd_m is None else known.sd_m
        if known.geometry and sure_m <= (one.sd or math.inf):
            self.left.append(
                f"{one.thing} was known to {_about(sure_m)} before: what was read, to "
                f"{_about(one.sd or 0.0)}, is kept as a note."
            )
            self.note(one)
            return
        known.geometry, known.sd_m, known.source_id = place, one.sd, self.source.id
        self.counts = True
        self.sentences.append(f"{one.thing} is now known to {_about(one.sd or 0.0)}.")

    def height(self, one: Reading) -> None:
        """Take how tall a thing is, if that is surer than what was known."""
        feature = self.things.known(one.thing, one.where).feature
        sure_m = feature.object_height_sd_m
        if feature.object_height_m is not None and (
            sure_m is not None and sure_m <= (one.sd or math.inf)
        ):
            self.left.append(f"The height of {one.thing} was known better before.")
            self.note(one)
            return
        feature.object_height_m, feature.object_height_sd_m = one.value, one.sd
        self.counts = True
        tall = give_or_take(one.value or 0.0, one.sd or 0.2, " m")
        self.sentences.append(f"{one.thing} is {tall} tall.")

    def not_here(self, one: Reading) -> None:
        """Keep where the camera cannot have stood."""
        assert one.lon_deg is not None
        assert one.lat_deg is not None
        east, north = self.frame.from_lonlat(
            np.array([one.lon_deg]), np.array([one.lat_deg])
        )
        angle = np.linspace(0.0, 2.0 * np.pi, _SIDES + 1)
        lon, lat = self.frame.to_lonlat(
            east + (one.value or 20.0) * np.cos(angle),
            north + (one.value or 20.0) * np.sin(angle),
        )
        outline = [[float(x), float(y)] for x, y in zip(lon, lat, strict=True)]
        outline[-1] = outline[0]
        geometry = {"type": "Polygon", "coordinates": [outline]}
        feature = self._feature(
            geometry, None, "where it cannot have stood", "not-here"
        )
        said = Statement(
            plate_id=self.plate.id, about="place", place="inside", weight=_NOT_HERE,
            words=f"The camera cannot have stood here: {one.words}",
            feature_id=feature.id, source_id=self.source.id, stands_with=self.group,
        )  # fmt: skip
        self.session.add(said)
        self.counts = True
        self.sentences.append(
            f"Within {distance_in_words(one.value or 20.0)} of a place the camera "
            f"cannot have stood, because {one.words}: it counts in the next fix."
        )

    def notes(self) -> None:
        """Keep as notes what is no evidence."""
        kinds = (
            "compass", "ground gone", "trees block it", "lens", "photograph", "changed",
            "note", "private",
        )  # fmt: skip
        for one in self.visit.of_kind(*kinds):
            self.note(one)
            if one.what in _LEADS:
                lead = Lead(
                    plate_id=self.plate.id, what=_LEADS[one.what], state="to do",
                    source_id=self.source.id, note=one.words,
                )  # fmt: skip
                self.session.add(lead)
                self.sentences.append(f"{_LEADS[one.what]}: kept as a lead.")

    def note(self, one: Reading) -> None:
        """Keep a reading as a note about the plate."""
        value = "" if one.value is None else f"{one.value:g}"
        place = "" if one.lon_deg is None else f"{one.lat_deg:.6f}, {one.lon_deg:.6f}"
        doubt = "" if one.sd is None else f"give or take {one.sd:g}"
        parts = [one.thing, one.other, value, place, doubt, one.words]
        words = " ".join(part for part in parts if part)
        note = Note(
            about_table="plates", about_id=self.plate.id, plate_id=self.plate.id,
            words=f"Visit of {self.visit.day}, {one.what}: {words}",
        )  # fmt: skip
        self.session.add(note)
        if one.what == "private":
            self.session.flush()
            kept = Restriction(
                about_table="notes", about_id=note.id, plate_id=self.plate.id,
                precision="withheld", because="landowner, consent, gates",
            )  # fmt: skip
            self.session.add(kept)


def _about(sd_m: float) -> str:
    """Say a doubt with no more digits than it earns."""
    return f"{sd_m:.2g} m" if sd_m < 100.0 else f"{sd_m:.0f} m"
