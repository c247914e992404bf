"""List the program's commands by what they serve, and where each is written.

A command's module is loaded when it is called: most want numbers, pictures or the
database, which take a while to load, and none wants all of them.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["LISTED", "PANELS", "Listed"]

_CLI = "wherestood.cli"


@dataclass(frozen=True)
class Listed:
    """Say where a command is written, what it does, and an example of its words.

    Attributes
    ----------
    module, function : str
        Where; of a group of commands, what makes it.
    summary : str
        Its line in the list.
    example : str
        What may follow its name.
    is_group : bool
        Whether it is a group of commands.
    """

    module: str
    function: str
    summary: str
    example: str = ""
    is_group: bool = False


LISTED: dict[str, Listed] = {
    "demo": Listed(
        f"{_CLI}.demo", "demo", "Locate an invented plate and compare with the truth."
    ),
    "locate": Listed(
        f"{_CLI}.locate",
        "locate",
        "Find where a plate was taken, and say how sure that is.",
        "scan.tif --terrain valley.tif --within 8.5,46.1,3km --out answer",
    ),
    "trace": Listed(
        f"{_CLI}.trace",
        "trace",
        "Trace the skyline of a scan, with honest gaps.",
        "scan.tif --out look",
    ),
    "horizon": Listed(
        f"{_CLI}.horizon",
        "horizon",
        "Compute the horizon seen from a place.",
        "8.5,46.1 --terrain valley.tif",
    ),
    "sizes": Listed(f"{_CLI}.sizes", "sizes", "List the plate sizes known by name."),
    "daybook": Listed(
        f"{_CLI}.daybook",
        "books",
        "Make a daybook, and say what one holds.",
        is_group=True,
    ),
    "serve": Listed(
        f"{_CLI}.serve",
        "serve",
        "Serve a daybook as pages to this machine's browser.",
        "my-valley",
    ),
    "take-in": Listed(
        f"{_CLI}.take_in",
        "take_in",
        "Take scans in as they are, or watch them.",
        "scan.tif --plate 1987.12",
    ),
    "verify": Listed(
        f"{_CLI}.take_in", "verify", "Check every file, the database and its journal."
    ),
    "register": Listed(
        f"{_CLI}.copies",
        "register",
        "Lay a plate's scans over its main one.",
        "1987.12",
    ),
    "carry": Listed(
        f"{_CLI}.copies", "carry", "Show a plate's marks on its main scan.", "1987.12"
    ),
    "catalogue-in": Listed(
        f"{_CLI}.catalogue",
        "catalogue_in",
        "Take a catalogue in.",
        "register.xlsx --dry-run",
    ),
    "catalogue-out": Listed(
        f"{_CLI}.catalogue",
        "catalogue_out",
        "Write the catalogue of all plates.",
        "plates.csv",
    ),
    "gazetteer-in": Listed(
        f"{_CLI}.gazetteer",
        "gazetteer_in",
        "Take features of the ground in.",
        "places.gpkg --dry-run",
    ),
    "offer": Listed(
        f"{_CLI}.gazetteer",
        "offer",
        "List features that stood when a plate was exposed.",
        "1987.12",
    ),
    "terrain-in": Listed(
        f"{_CLI}.terrain_layers",
        "terrain_in",
        "Take an elevation model in whole.",
        "tiles.zip --surface ground",
    ),
    "terrain-needed": Listed(
        f"{_CLI}.terrain_layers",
        "terrain_needed",
        "Say which elevation data are needed.",
        "8.5,46.1,3km",
    ),
    "deed": Listed(
        f"{_CLI}.deed",
        "deed",
        "Draw a deed's bearings and distances from a corner.",
        "deed.txt --start 8.5,46.1 --closes",
    ),
    "fix": Listed(
        f"{_CLI}.fix",
        "fix",
        "Find where a plate of the daybook was taken, and keep the answer.",
        "1987.12 --within 8.5,46.1,3km",
    ),
    "ask": Listed(
        f"{_CLI}.asking",
        "ask",
        "Write a page of questions to people who may know.",
        "1987.12 --out query-sheet.pdf",
    ),
    "reply": Listed(
        f"{_CLI}.asking",
        "reply",
        "Keep what somebody replied to a query sheet.",
        '3F09A2Q --name "A. Moss" --answer "1=the brewery gate"',
    ),
    "together": Listed(
        f"{_CLI}.together",
        "together",
        "Solve plates that show the same things together.",
        "1987.12 1987.13 --same 1987.12/A,1987.13/C",
    ),
    "ground": Listed(
        f"{_CLI}.on_ground",
        "whereabouts",
        "Go from a plate to the map, and back.",
        is_group=True,
    ),
    "field-sheet": Listed(
        f"{_CLI}.visiting",
        "sheet",
        "Write a field sheet: where to stand, which way to look and move.",
        "fix-3 --scan scan.tif --features near-and-far.geojson",
    ),
    "visit-in": Listed(
        f"{_CLI}.visit_in",
        "visit_in",
        "Take in what was read on a visit: evidence for the next fix.",
        "VW14 filled-sheet.csv",
    ),
    "then-and-now": Listed(
        f"{_CLI}.standing_again",
        "then_and_now",
        "Lay a photograph made on the spot over the plate; say how far off it stood.",
        "fix-3 photograph.jpg --scan scan.tif --out then-and-now",
    ),
    "when": Listed(
        f"{_CLI}.when",
        "when",
        "Say when a plate was exposed, and by what.",
        "1987.12 --sign leaf",
    ),
    "made": Listed(
        f"{_CLI}.made",
        "made",
        "Say how a plate was made: size, lens, exposure, glass, left and right.",
        "1987.12 --sides 214x163",
    ),
    "minutes-between": Listed(
        f"{_CLI}.journeys",
        "minutes_between",
        "Say how many minutes lie between two plates of a panorama.",
        "1987.12 1987.13",
    ),
    "journeys": Listed(
        f"{_CLI}.journeys",
        "journeys",
        "Lay a maker's plates in order, and say which journeys they allow.",
        "maker-1 --by cart",
    ),
    "emulsion": Listed(
        f"{_CLI}.made",
        "emulsion",
        "Show a modern photograph as an early emulsion would have recorded it.",
        "today.jpg --out as-then.png",
    ),
    "shelf": Listed(
        f"{_CLI}.shelf",
        "shelf",
        "Say what a shelf of glass plates weighs.",
        '--plates 300 --size "whole plate" --limit-kg 100',
    ),
    "history": Listed(
        f"{_CLI}.daybook", "history", "Tell what was done, as a diary.", "1987.12"
    ),
    "undo": Listed(
        f"{_CLI}.daybook", "undo", "Take back the last act; the journal keeps both."
    ),
    "redo": Listed(f"{_CLI}.daybook", "redo", "Do again what was last taken back."),
    "export": Listed(
        f"{_CLI}.export",
        "export",
        "Hand answers out in forms that other programs take over.",
        "handed-out --fix answer",
    ),
    "report": Listed(
        f"{_CLI}.report",
        "report",
        "Write a report: PDF, HTML, DOCX and ODT, with its figures apart.",
        "1987.12 --out report",
    ),
    "reports": Listed(
        f"{_CLI}.reports",
        "issued",
        "Frozen issues of reports: who received them, what they have wrong.",
        is_group=True,
    ),
    "bag": Listed(
        f"{_CLI}.handover",
        "bag",
        "Hand the whole daybook over as a bag.",
        "my-valley.zip",
    ),
    "unbag": Listed(
        f"{_CLI}.handover",
        "unbag",
        "Take a daybook out of a bag.",
        "my-valley.zip my-valley",
    ),
    "merge": Listed(
        f"{_CLI}.handover",
        "merge",
        "Merge another person's copy of the daybook.",
        "their-copy --dry-run",
    ),
}
#: The commands by what they serve, in the order of the work; those of items too.
PANELS: dict[str, tuple[str, ...]] = {
    "One plate by itself": (
        "demo", "locate", "trace", "horizon", "sizes", "emulsion", "shelf",
    ),
    "A daybook, and what comes into it": (
        "daybook", "serve", "take-in", "catalogue-in", "gazetteer-in",
        "terrain-needed", "terrain-in",
    ),
    "Plates": ("plates", "scans", "makers", "requests", "register"),
    "What is seen on a plate": ("details", "marks", "evidence", "carry"),
    "What is on the ground": (
        "features", "names", "offer", "plans", "deed", "terrain",
    ),
    "What people and papers say": (
        "sources", "statements", "informants", "dates", "leads", "notes", "ask",
        "reply",
    ),
    "The answer": (
        "fix", "fixes", "together", "when", "made", "minutes-between", "journeys",
        "proposals", "decisions",
    ),
    "On the ground": ("ground", "field-sheet", "visit-in", "then-and-now"),
    "Looking back": ("history", "undo", "redo", "verify"),
    "Handing over": (
        "restrictions", "rights", "catalogue-out", "report", "reports", "export",
        "bag", "unbag", "merge",
    ),
}  # fmt: skip
