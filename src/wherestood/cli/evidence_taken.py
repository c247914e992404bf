"""Answer ``wherestood evidence take``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wherestood.cli.book import (
    DaybookFolder,
    Person,
    PlateKey,
    Why,
    open_daybook,
    person_named,
)
from wherestood.cli.options import AsJson
from wherestood.cli.screen import say, say_json, warn

__all__ = ["take"]


def take(
    plate: PlateKey,
    file: Annotated[Path, typer.Argument(metavar="FILE.toml")],
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Take an evidence file into the daybook, as items of a plate."""
    from wherestood.daybook.choose import Wanted, choose
    from wherestood.daybook.keys import find
    from wherestood.daybook.records import records_of
    from wherestood.daybook.tables import Plate, Scan
    from wherestood.daybook.take_evidence import take_evidence
    from wherestood.evidence.panorama_file import read_evidence_of

    who, reason = person_named(person), why or f"from the file {file.name}"
    with open_daybook(daybook) as book, book.writing(who, reason) as session:
        found = find(session, Plate, plate)
        scans = choose(session, Scan, Wanted(plate_id=found.id))
        scan = next((one for one in scans if one.main), scans[0] if scans else None)
        checked = read_evidence_of(
            file,
            {found.key, *(Path(one.file).stem for one in scans if one.file)},
            width_px=scan.width_px if scan else None,
            height_px=scan.height_px if scan else None,
        )
        for complaint in checked.complaints:
            warn(f"Warning: {complaint}")
        items = take_evidence(
            session, found, checked.evidence, scan.id if scan else None
        )
        records = records_of(session, items)
    if json:
        say_json(records)
    else:
        say(f"Took {len(records)} items from {file.name} for plate {plate}.")
