"""Answer ``wherestood fix`` and the commands that look at fixes again."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, cast

import pyproj
import typer

from wherestood.cli.arguments import read_footing
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
from wherestood.fix.result import Proposed
from wherestood.fix.settings import LocateSettings, Process, SurfaceKind
from wherestood.record.words import plain_words

if TYPE_CHECKING:
    from wherestood.daybook import Daybook
    from wherestood.daybook.tables import Plate, Scan
    from wherestood.daybook.tell_evidence import ToldEvidence
    from wherestood.notebook import LocatedPlate

__all__ = ["again", "fix"]

_WGS84 = pyproj.Geod(ellps="WGS84")
#: A fix made again is the same when it is no farther off [m].
SAME_M = 0.01


@dataclass(frozen=True)
class _Read:
    """Hold what was read of a plate, at one moment of the journal."""

    plate: Plate
    scan: Scan
    told: ToldEvidence
    terrain: tuple[Path, ...]
    surface: str
    proposed: tuple[Proposed, ...]
    after_journal: int


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
    who = person_named(person)
    with open_daybook(daybook) as book:
        read = _read(book, plate, tuple(terrain or ()))
        settings = _settings(
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


def _read(book: Daybook, key: str, terrain: tuple[Path, ...]) -> _Read:
    """Read what the daybook knows of a plate."""
    from sqlalchemy import func, select

    from wherestood.daybook.keys import find
    from wherestood.daybook.tables import JournalRow, Plate
    from wherestood.daybook.tell_evidence import tell_evidence

    with book.reading() as session:
        plate = find(session, Plate, key)
        scan = _main_scan(session, plate)
        told = tell_evidence(session, plate, scan.id)
        last = session.scalar(select(func.max(JournalRow.number))) or 0
        layers, surface = _layers(book, session)
        proposed = _proposed(session, plate)
    for sentence in told.left_out:
        warn(f"Note: {sentence}")
    paths = terrain or layers
    if not paths:
        raise InputError(
            "The daybook has no terrain layers.",
            "Give --terrain, or add a terrain layer.",
        )
    return _Read(plate, scan, told, paths, surface, proposed, last)


def _main_scan(session: Any, plate: Plate) -> Scan:
    from wherestood.daybook.choose import Wanted, choose
    from wherestood.daybook.tables import Scan

    scans = choose(session, Scan, Wanted(plate_id=plate.id))
    good = [scan for scan in scans if not scan.withdrawn]
    if not good:
        raise InputError(
            f"Plate {plate.key} has no scan.", "Take one in before asking for a fix."
        )
    return next((scan for scan in good if scan.main), good[0])


def _layers(book: Daybook, session: Any) -> tuple[tuple[Path, ...], str]:
    from wherestood.daybook.choose import Wanted, choose
    from wherestood.daybook.tables import TerrainLayer

    layers = [x for x in choose(session, TerrainLayer, Wanted()) if not x.withdrawn]
    files = [book.path(str(one["file"])) for x in layers for one in x.files or ()]
    surfaces = {layer.surface or "unknown" for layer in layers}
    return tuple(files), surfaces.pop() if len(surfaces) == 1 else "unknown"


def _proposed(session: Any, plate: Plate) -> tuple[Proposed, ...]:
    from wherestood.daybook.choose import Wanted, choose
    from wherestood.daybook.tables import ProposedPosition

    return tuple(
        Proposed(
            one.proposed_by or one.key,
            one.lon_deg,
            one.lat_deg,
            one.doubt_m or 0.0,
            one.bearing_deg,
            reason=one.reason or "",
        )
        for one in choose(session, ProposedPosition, Wanted(plate_id=plate.id))
        if one.lon_deg is not None and one.lat_deg is not None
    )


def _settings(
    read: _Read, *, near_enough_m: float | None, **more: Any
) -> LocateSettings:
    plate = read.plate
    stood = read_footing(plate.footing or "tripod")
    near_m = near_enough_m or plate.near_enough_m or LocateSettings.near_enough_m
    return LocateSettings(
        near_enough_m=near_m,
        footing=stood.footing,
        principal_distance_mm=plate.principal_distance_mm,
        principal_distance_sd_mm=plate.principal_distance_sd_mm,
        trimmed=bool(plate.trimmed),
        surface=cast(SurfaceKind, read.surface),
        reversed=read.scan.reversed,
        process=cast("Process | None", plate.process),
        **more,
    )


def _question(book: Daybook, read: _Read, within: str, folder: Path) -> Question:
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
    book: Daybook, read: _Read, answer: LocatedPlate, who: str, why: str
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
