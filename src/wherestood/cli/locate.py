"""Answer ``wherestood locate``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, cast

import typer

from wherestood.cli.arguments import (
    read_footing,
    read_principal_distance,
    read_proposed,
)
from wherestood.cli.options import (
    AsJson,
    FarthestKm,
    Negative,
    Refraction,
    ScanPaths,
    SurfaceName,
    TerrainPaths,
)
from wherestood.cli.question import Question, located
from wherestood.cli.question_of_plates import located_panorama
from wherestood.cli.screen import say, say_json, say_page, say_written
from wherestood.errors import InputError
from wherestood.evidence.ground_then import check_date
from wherestood.fix.settings import LocateSettings, Process, SurfaceKind
from wherestood.record.atomic import check_folder
from wherestood.record.panorama_words import panorama_words
from wherestood.record.words import plain_words

if TYPE_CHECKING:
    from wherestood.notebook import LocatedPlate
    from wherestood.panorama import LocatedPanorama

__all__ = ["locate"]


def locate(
    scan: ScanPaths,
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
            help="A skyline already traced; a second reader's too, if there is one. Of "
            "a panorama one a plate, in the same order.",
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
    each_own_lens: Annotated[
        bool,
        typer.Option(
            "--each-own-lens",
            help="The plates of a panorama need not share a lens.",
        ),
    ] = False,
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
    """Find where a plate, or a panorama of several, was taken, and how sure that is."""
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
        scan[0],
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
        beside=tuple(scan[1:]),
        each_own_lens=each_own_lens,
    )
    answer: LocatedPlate | LocatedPanorama
    if question.beside:
        answer = located_panorama(question, settings)
        page = panorama_words(answer.answer, answer.inputs)
    else:
        answer = located(question, settings)
        page = plain_words(answer.answer, answer.inputs)
    files = answer.save(out) if out else ()
    if json:
        say_json(answer.published())
        return
    say_page(page)
    if files:
        say_written(files)
    else:
        say("Give --out DIR to keep the answer and its pictures.")
