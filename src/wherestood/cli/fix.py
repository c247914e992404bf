"""Answer ``wherestood fix`` and the commands that look at fixes again."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import pyproj
import typer

from wherestood.cli.book import (
    DaybookFolder,
    Person,
    Why,
    open_daybook,
    person_named,
)
from wherestood.cli.locate import RING_REACH, Question, located
from wherestood.cli.options import AsJson, FarthestKm, Refraction
from wherestood.cli.screen import say, say_json, say_page, say_written, stages, warn
from wherestood.errors import InputError
from wherestood.record.words import plain_words

if TYPE_CHECKING:
    from wherestood.daybook import Daybook
    from wherestood.daybook.question import PlateRead
    from wherestood.notebook import LocatedPlate

__all__ = ["again", "fix"]

_WGS84 = pyproj.Geod(ellps="WGS84")
#: A fix made again is the same when it is no farther off [m].
SAME_M = 0.01


def fix(
    plate: Annotated[str, typer.Argument(metavar="PLATE", help="The plate's key.")],
    terrain: Annotated[
        list[Path] | None,
        typer.Option(
            metavar="FILE...",
            help="Elevation model; the daybook's terrain layers unless told.",
        ),
    ] = None,
    within: Annotated[
        str | None,
        typer.Option(metavar="AREA", help="Ground searched; the plate's unless told."),
    ] = None,
    near_enough: Annotated[
        float | None,
        typer.Option(metavar="M", help="How close the answer must be, metres."),
    ] = None,
    no_skyline: Annotated[
        bool,
        typer.Option("--no-skyline", help="Search by the marks and statements alone."),
    ] = False,
    ridge_lines: Annotated[
        bool,
        typer.Option(
            "--ridge-lines/--no-ridge-lines", help="Use ridges below the skyline."
        ),
    ] = True,
    refraction: Refraction = 0.13,
    horizon_radius: FarthestKm = 30.0,
    seed: Annotated[
        int, typer.Option(metavar="N", help="Seed of every random draw.")
    ] = 1,
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Find where a plate of the daybook was taken, and keep the answer."""
    from wherestood.daybook.question import read_plate, settings_for

    who = person_named(person)
    with open_daybook(daybook) as book:
        read = read_plate(book, plate, terrain or ())
        for sentence in read.told.left_out:
            warn(f"Note: {sentence}")
        settings = settings_for(
            read,
            near_enough_m=near_enough,
            refraction=refraction,
            horizon_radius_m=1000.0 * horizon_radius,
            seed=seed,
        )
        searched = within or read.plate.ground_searched
        if not searched:
            raise InputError(
                f"Plate {plate} does not say where to search.",
                "Give --within, or set it: wherestood plates change "
                f"{plate} --ground-searched 8.5,46.1,3km",
            )
        with tempfile.TemporaryDirectory() as passing:
            question = _question(
                book, read, _area_text(searched, Path(passing)), Path(passing)
            )
            question = replace(question, no_skyline=no_skyline, ridge_lines=ridge_lines)
            answer = located(question, settings)
        key, files = _keep(book, read, answer, who, why)
    if json:
        say_json({"fix": key, **answer.published()})
        return
    say_page(plain_words(answer.answer, answer.inputs))
    say_written(files)
    say(f"Kept as {key}. To conclude: wherestood decisions add --fix {key} ...")


def _area_text(searched: str, folder: Path) -> str:
    """Return the ground searched as ``--within`` takes it."""
    if not searched.lstrip().startswith("{"):
        return searched
    path = folder / "ground-searched.geojson"
    path.write_text(searched, encoding="utf-8")
    return str(path)


def _question(book: Daybook, read: PlateRead, within: str, folder: Path) -> Question:
    from wherestood.daybook.asked import whole_path

    told = read.told
    return Question(
        whole_path(book.folder, read.scan.file),
        read.terrain,
        within,
        size=read.plate.size,
        scan_ppi=read.scan.scan_ppi,
        negative=read.scan.negative,
        evidence=None if told.is_empty else told.write(folder),
        proposed=read.proposed,
        footing_typed=read.plate.footing is not None,
    )


def _keep(
    book: Daybook, read: PlateRead, answer: LocatedPlate, who: str, why: str
) -> tuple[str, tuple[Path, ...]]:
    """Keep the fix in the daybook, and its pictures in ``out``."""
    from datetime import UTC

    import wherestood
    from wherestood.daybook.asked import Asked, named_within
    from wherestood.daybook.book import OUT
    from wherestood.daybook.kept_fix import keep_fix
    from wherestood.daybook.safe_names import safe_name
    from wherestood.record.inputs import Making

    inputs, area = answer.inputs, answer.inputs.area
    asked = Asked(
        named_within(book.folder, inputs.plate.path),
        tuple(named_within(book.folder, path) for path in read.terrain),
        area.centre,
        RING_REACH * area.radius_m + inputs.settings.horizon_radius_m,
        read.scan.scan_ppi,
    )
    made = book.clock().astimezone(UTC).replace(microsecond=0).isoformat()
    with book.writing(who, why) as session:
        kept = keep_fix(
            session,
            book.folder,
            read.plate,
            answer.answer,
            inputs,
            Making(made, wherestood.__version__),
            asked,
            items=[read.scan, *read.told.items],
            words=answer.words(),
            after_journal=read.after_journal,
        )
    folder = book.folder / OUT / safe_name(read.plate.key) / kept.key
    return kept.key, answer.save(folder)


def again(
    fix: Annotated[str, typer.Argument(metavar="KEY", help="The fix, as in fix-3.")],
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Make a fix again from what the daybook kept, and compare the two."""
    from wherestood import notebook
    from wherestood.daybook.kept_fix import reopened
    from wherestood.daybook.keys import find
    from wherestood.daybook.tables import Fix

    with open_daybook(daybook) as book:
        with book.reading() as session:
            kept = find(session, Fix, fix)
        with stages() as shown:
            told = reopened(book.folder, kept, shown)
            answer = notebook.locate(
                told.plate,
                told.land,
                told.evidence,
                within=told.area,
                settings=told.settings,
                proposed=told.proposed,
                progress=shown,
            )
    station = answer.published()["station"]
    _, _, apart_m = _WGS84.inv(
        kept.lon_deg, kept.lat_deg, station["lon"], station["lat"]
    )
    same = apart_m <= SAME_M and answer.verdict == kept.verdict
    if json:
        say_json(
            {
                "fix": kept.key,
                "same": same,
                "apart_m": round(float(apart_m), 4),
                "verdict": answer.verdict,
                "station": station,
            }
        )
    elif same:
        say(f"Made again, {kept.key} is the same: {answer.verdict}, 0.00 m apart.")
    else:
        say(
            f"Made again, {kept.key} differs: {answer.verdict} where it was "
            f"{kept.verdict}, {apart_m:.2f} m apart. It was made by version "
            f"{kept.version}."
        )
