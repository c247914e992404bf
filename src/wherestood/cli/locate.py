"""Answer ``wherestood locate``."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, cast

import typer

from wherestood.cli.arguments import (
    read_footing,
    read_principal_distance,
    read_proposed,
)
from wherestood.cli.given_lines import given_lines
from wherestood.cli.ground import open_ground
from wherestood.cli.options import (
    AsJson,
    FarthestKm,
    Negative,
    Refraction,
    ScanPath,
    SurfaceName,
    TerrainPaths,
)
from wherestood.cli.screen import (
    say,
    say_json,
    say_page,
    say_written,
    stages,
    warn,
)
from wherestood.errors import InputError
from wherestood.evidence.file import read_evidence
from wherestood.evidence.given import hold_back as held_back
from wherestood.evidence.ground_then import check_date
from wherestood.evidence.items import Checked, Evidence, SkylinePiece
from wherestood.evidence.placed import known_heights
from wherestood.evidence.traced_lines import own_skyline
from wherestood.fix.result import Proposed
from wherestood.fix.settings import LocateSettings, Process, SurfaceKind
from wherestood.record.atomic import check_folder
from wherestood.record.words import plain_words

if TYPE_CHECKING:
    from wherestood.evidence.items import RidgeLine
    from wherestood.notebook import LocatedPlate
    from wherestood.plate.scan import Plate
    from wherestood.plate.skyline import Skyline
    from wherestood.terrain.model import Terrain

__all__ = ["Question", "locate", "located"]


@dataclass(frozen=True)
class Question:
    """Hold the files of a question and what is known of its plate."""

    scan: Path
    terrain: tuple[Path, ...]
    within: str
    size: str | None = None
    scan_ppi: float | None = None
    negative: bool | None = None
    skylines: tuple[Path, ...] = ()
    ridge_lines: bool = True
    evidence: Path | None = None
    no_skyline: bool = False
    proposed: tuple[Proposed, ...] = ()
    footing_typed: bool = False
    held_back: tuple[str, ...] = ()
    date: str = ""


def locate(
    scan: ScanPath,
    terrain: TerrainPaths,
    within: Annotated[
        str,
        typer.Option(
            metavar="AREA",
            help="Ground searched: a GeoJSON file, W,S,E,N in degrees, or LON,LAT,3km.",
        ),
    ],
    size: Annotated[
        str | None,
        typer.Option(
            metavar="NAME|WxHmm|WxHin", help="Plate size; see wherestood sizes."
        ),
    ] = None,
    scan_ppi: Annotated[
        float | None,
        typer.Option(metavar="N", help="Scanning resolution, pixels an inch."),
    ] = None,
    trimmed: Annotated[
        bool, typer.Option("--trimmed", help="The plate or print was cut down.")
    ] = False,
    surface: SurfaceName = "unknown",
    principal_distance: Annotated[
        str | None,
        typer.Option(
            metavar="MM[+-MM]",
            help="Lens to plate and its doubt, as in 296+-4.4, or limits: 200..320.",
        ),
    ] = None,
    skyline: Annotated[
        list[Path] | None,
        typer.Option(
            metavar="FILE.csv",
            help="A skyline already traced; a second reader's too, if there is one.",
        ),
    ] = None,
    evidence: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.toml",
            help="Marks, things in line and all else that is known of the plate.",
        ),
    ] = None,
    date: Annotated[
        str | None,
        typer.Option(
            metavar="EDTF",
            help="When the plate was exposed, as in 1875, 1875~ or 1870/1880: which "
            "changed ground it saw.",
        ),
    ] = None,
    hold_back: Annotated[
        list[str] | None,
        typer.Option(
            metavar="MARK",
            help="A mark that is not to count: a test of the answer; may be repeated.",
        ),
    ] = None,
    proposed: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LON,LAT[,BEARING][ NAME[: REASON]]",
            help="A position that somebody proposed, to be tested; two are compared.",
        ),
    ] = None,
    no_skyline: Annotated[
        bool,
        typer.Option("--no-skyline", help="Search by the evidence file alone."),
    ] = False,
    ridge_lines: Annotated[
        bool,
        typer.Option(
            "--ridge-lines/--no-ridge-lines",
            help="Use ridges below the skyline: the skyline file's, or else traced.",
        ),
    ] = True,
    footing: Annotated[
        str | None,
        typer.Option(
            metavar="NAME[:HEIGHTm]",
            help="What the camera stood on: tripod, upper floor, roof, ship, wharf; "
            "a tripod unless told, here or in the evidence file.",
        ),
    ] = None,
    near_enough: Annotated[
        float,
        typer.Option(metavar="M", help="How close the answer must be, metres."),
    ] = 125.0,
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Folder for the fix and its pictures."),
    ] = None,
    json: AsJson = False,
    negative: Negative = None,
    left_for_right: Annotated[
        bool | None,
        typer.Option(
            "--left-for-right/--right-way-round",
            help="Whether the scan is reversed; both are tried if not said.",
        ),
    ] = None,
    process: Annotated[
        str | None,
        typer.Option(
            metavar="NAME",
            help="What was scanned: glass negative, direct positive, print.",
        ),
    ] = None,
    refraction: Refraction = 0.13,
    horizon_radius: FarthestKm = 30.0,
    seed: Annotated[
        int, typer.Option(metavar="N", help="Seed of every random draw.")
    ] = 1,
) -> None:
    """Find where a plate was taken, and say how sure that is."""
    if out:
        check_folder(out)
    check_date(date or "")
    lens = read_principal_distance(principal_distance) if principal_distance else None
    if no_skyline and skyline:
        raise InputError(
            "--no-skyline searches without a skyline, but --skyline names "
            f"{skyline[0]}.",
            "Leave one of the two out.",
        )
    stood = read_footing(footing or "tripod")
    settings = LocateSettings(
        near_enough_m=near_enough,
        footing=stood.footing,
        lens_height_m=stood.height_m,
        lens_height_sd_m=stood.height_sd_m,
        principal_distance_mm=lens.mean_mm if lens else None,
        principal_distance_sd_mm=lens.sd_mm if lens else None,
        principal_distance_least_mm=lens.least_mm if lens else None,
        principal_distance_most_mm=lens.most_mm if lens else None,
        trimmed=trimmed,
        surface=cast(SurfaceKind, surface),
        refraction=refraction,
        horizon_radius_m=1000.0 * horizon_radius,
        reversed=left_for_right,
        process=cast(Process | None, process),
        seed=seed,
    )
    question = Question(
        scan,
        tuple(terrain),
        within,
        size,
        scan_ppi,
        negative,
        tuple(skyline or ()),
        ridge_lines,
        evidence,
        no_skyline,
        tuple(read_proposed(text, n) for n, text in enumerate(proposed or (), 1)),
        footing_typed=footing is not None,
        held_back=tuple(hold_back or ()),
        date=date or "",
    )
    answer = located(question, settings)
    files = answer.save(out) if out else ()
    if json:
        say_json(answer.published())
        return
    say_page(plain_words(answer.answer, answer.inputs))
    if files:
        say_written(files)
    else:
        say("Give --out DIR to keep the answer and its pictures.")


def located(
    question: Question, settings: LocateSettings, *, warnings: bool = True
) -> LocatedPlate:
    """Open everything a question names and search, showing progress."""
    from wherestood import notebook
    from wherestood.fix.area import RING_REACH, read_area
    from wherestood.plate.scan import Plate

    area = read_area(question.within)
    plate = Plate.open(
        question.scan,
        size=question.size,
        scan_ppi=question.scan_ppi,
        trimmed=settings.trimmed,
        negative=question.negative,
    )
    given = given_lines(question.skylines, plate)
    for note in plate.notes:
        warn(f"Note: {note}")
    reach_m = RING_REACH * area.radius_m + settings.horizon_radius_m
    land = open_ground(
        question.terrain, area.centre, reach_m, settings, warnings=warnings
    )
    checked = _told(question, plate, land, warnings=warnings)
    told = held_back(checked.evidence, question.held_back)
    if question.date:
        told = replace(told, date=question.date)
    skyline = given[0] if given else _own_skyline(question, plate, told)
    if not question.ridge_lines:
        ridges: tuple[RidgeLine, ...] = ()
    elif given and given[1]:
        ridges = notebook.ridges_of(given[1])
    elif told.ridge_lines or skyline is None:
        ridges = ()
    else:
        ridges = notebook.machine_ridges(plate, skyline)
    pieces = told.skylines if skyline is None else (SkylinePiece(skyline),)
    evidence = replace(told, skylines=pieces, ridge_lines=(*told.ridge_lines, *ridges))
    # What is typed goes before what the evidence file says, the usual included.
    typed = {"footing": settings.footing} if question.footing_typed else {}
    with stages() as shown:
        answer = notebook.locate(
            plate,
            land,
            Checked(evidence, checked.complaints),
            within=area,
            settings=settings,
            proposed=question.proposed,
            progress=shown,
            **typed,
        )
    for complaint in answer.complaints[len(checked.complaints) :]:
        warn(f"Warning: {complaint.problem} {complaint.remedy}")
    return answer


def _told(
    question: Question, plate: Plate, land: Terrain, *, warnings: bool
) -> Checked:
    """Read the evidence file, if there is one, and say what is wrong with it."""
    if question.evidence is None:
        return Checked(Evidence(), ())
    checked = read_evidence(
        question.evidence,
        width_px=plate.width_px,
        height_px=plate.height_px,
        has_height=known_heights(land),
    )
    for complaint in checked.complaints:
        if warnings:
            warn(f"Warning: {complaint}")
    return checked


def _own_skyline(question: Question, plate: Plate, told: Evidence) -> Skyline | None:
    """Trace a skyline, unless the evidence file has one or can do without."""
    if told.skylines or question.no_skyline:
        return None
    with stages() as shown:
        skyline, note = own_skyline(plate, told, shown)
    if note:
        warn(f"Note: {note}")
    return skyline
