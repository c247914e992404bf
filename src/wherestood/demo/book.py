"""Lay the demo's files into a daybook, as a researcher would have begun it.

People, papers and places are *invented*.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from wherestood.daybook import Daybook, find
from wherestood.daybook.originals import ScanDetails, take_in
from wherestood.daybook.tables import (
    Feature,
    FeatureName,
    Lead,
    Plate,
    Request,
    Source,
    Statement,
)
from wherestood.daybook.take_evidence import take_evidence
from wherestood.daybook.terrain_layers import LayerDetails, take_terrain
from wherestood.demo.place import PLACE_NAME, build_stage, named_hills
from wherestood.demo.write import DemoFiles
from wherestood.evidence.file import read_evidence
from wherestood.evidence.items import Evidence
from wherestood.progress import SILENT, Progress

__all__ = ["PERSON", "PLATE_KEY", "HandedOver", "lay_out_daybook"]

PLATE_KEY = "VW 14"
PERSON = "the demo"
_HILL_SD_M = 20.0


@dataclass(frozen=True)
class HandedOver:
    """Name the files that the demo wrote, of which `write.DemoFiles` tells."""

    plate: Path
    terrain: Path
    area: Path
    hearths: Path
    plate_size: str

    @classmethod
    def of(cls, files: DemoFiles) -> HandedOver:
        """Return what is handed over of the files; the truth is not."""
        return cls(
            files.plate, files.terrain, files.area, files.hearths, files.plate_size
        )


def lay_out_daybook(
    folder: Path, files: HandedOver, progress: Progress = SILENT
) -> None:
    """Make a daybook of the demo's files.

    Parameters
    ----------
    folder : Path
        Where; it must hold no daybook yet.
    files : HandedOver
        What is taken in.
    progress : Progress
        Told how far it has come.

    Raises
    ------
    DaybookError
        If there is a daybook already, or it cannot be written.
    """
    area = json.loads(files.area.read_text("utf-8"))
    searched = json.dumps(area["features"][0]["geometry"])
    with Daybook.create(folder) as book:
        progress.stage("laying out the daybook")
        columns = {
            "title": f"A new paddock at {PLACE_NAME}",
            "description": "Two cottages, a fence, an arm of the water, a great round "
            "hill behind.",
            "place_words": f"{PLACE_NAME}, views",
            "date_words": "not dated",
            "held_by": "an invented museum",
            "size": files.plate_size,
            "ground_searched": searched,
            "near_enough_m": 125.0,
            "note": "Place, people and plate are invented.",
        }
        take_in(
            book,
            PLATE_KEY,
            files.plate,
            PERSON,
            why="laid out by the demo",
            details=ScanDetails(what="negative", main=True),
            new_plate=columns,
            progress=progress,
        )
        take_terrain(
            book,
            files.terrain,
            PERSON,
            why="laid out by the demo",
            details=LayerDetails(
                title=f"{PLACE_NAME}, 30 m",
                provenance="made by the demo from a seed",
                licence="CC0-1.0",
                credit="Invented ground",
                surface="ground",
            ),
            progress=progress,
        )
        _write_papers(book, files.hearths)


def _write_papers(book: Daybook, hearths: Path) -> None:
    """Add what is known besides: who asks, the lid's words, the hills' names."""
    with book.writing(PERSON, "laid out by the demo") as session:
        request = Request(
            question="Where did the photographer set up the tripod?",
            asked_by="the invented museum",
            near_enough_m=125.0,
            state="open",
        )
        source = Source(
            citation="Lid of the box, in pencil", kind="caption", held="with the plates"
        )
        survey = Source(
            citation="Heights of an invented survey", kind="map", held="nowhere"
        )
        session.add_all([request, source, survey])
        session.flush()
        plate = find(session, Plate, PLATE_KEY)
        plate.request_id = request.id
        session.add(
            Statement(
                plate_id=plate.id,
                about="place",
                words=f"{PLACE_NAME}, views",
                source_id=source.id,
            )
        )
        session.add(
            Lead(
                plate_id=plate.id,
                what="Rate book of the settlement: who paid for the paddock",
                where="the invented county archive",
                state="to do",
            )
        )
        # What a walker found counts once a person marks it on the plate.
        found = read_evidence(hearths).evidence.features
        take_evidence(session, plate, Evidence(features=found))
        stage = build_stage()
        for hill in named_hills(stage.ground):
            lon_deg, lat_deg = stage.to_lonlat(hill.east_m, hill.north_m)
            feature = Feature(
                what="summit",
                geometry={
                    "type": "Point",
                    "coordinates": [round(lon_deg, 7), round(lat_deg, 7)],
                },
                sd_m=_HILL_SD_M,
                height_m=round(hill.height_m, 1),
                height_sd_m=5.0,
                source_id=survey.id,
            )
            session.add(feature)
            session.flush()
            session.add(
                FeatureName(
                    feature_id=feature.id,
                    name=hill.name,
                    kind="official",
                    source_id=survey.id,
                )
            )
