"""Answer ``wherestood fix`` and the commands that look at fixes again."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import pyproj
import typer

from wherestood.cli.book import (
    DaybookFolder,
    Person,
    PlateKey,
    Why,
    open_daybook,
    person_named,
)
from wherestood.cli.options import AsJson, FarthestKm, Refraction
from wherestood.cli.screen import say, say_json, say_page, say_written, stages, warn
from wherestood.record.words import plain_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wherestood.daybook.ask_fix import PreparedFix, Wish
    from wherestood.daybook.kept_fix import Reopened
    from wherestood.daybook.tables import Fix
    from wherestood.notebook import LocatedPlate
    from wherestood.panorama import LocatedPanorama
    from wherestood.progress import Progress

__all__ = ["again", "fix"]

_WGS84 = pyproj.Geod(ellps="WGS84")
#: A fix made again is the same when it is no farther off [m].
SAME_M = 0.01


def fix(
    plate: PlateKey,
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
        typer.Option("--no-skyline", help="Search by all else: no skyline counts."),
    ] = False,
    ridge_lines: Annotated[
        bool,
        typer.Option(
            "--ridge-lines/--no-ridge-lines", help="Use ridges below the skyline."
        ),
    ] = True,
    statements: Annotated[
        bool,
        typer.Option(
            "--statements/--no-statements", help="Let count what sources say."
        ),
    ] = True,
    without: Annotated[
        list[str] | None,
        typer.Option(
            metavar="KEY",
            help="A mark, evidence or statement of the plate that is not to count; "
            "may be repeated.",
        ),
    ] = None,
    panorama: Annotated[
        bool,
        typer.Option(
            "--panorama", help="With the other plates of its panorama, as one."
        ),
    ] = False,
    each_own_lens: Annotated[
        bool,
        typer.Option("--each-own-lens", help="Those need not share a lens."),
    ] = False,
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
    from wherestood import notebook
    from wherestood.daybook.ask_fix import Wish, keep_answer, prepare_fix

    who = person_named(person)
    wish = Wish(
        tuple(terrain or ()),
        within,
        near_enough,
        skyline=not no_skyline,
        ridge_lines=ridge_lines,
        statements=statements,
        without=tuple(without or ()),
        refraction=refraction,
        horizon_radius_m=1000.0 * horizon_radius,
        seed=seed,
    )
    if panorama:
        _fix_panorama(plate, wish, who, why, daybook, each_own_lens, as_json=json)
        return
    with open_daybook(daybook) as book:
        with stages() as shown:
            asked = prepare_fix(book, plate, wish, shown)
        _say_notes(asked)
        with stages() as shown:
            answer = notebook.locate(**asked.given(), progress=shown)
            kept = keep_answer(
                book, asked.read, answer, who, why, more=asked.more(), progress=shown
            )
        for complaint in answer.complaints[len(asked.checked.complaints) :]:
            warn(f"Warning: {complaint.problem} {complaint.remedy}")
    if json:
        say_json({"fix": kept.key, **answer.published()})
        return
    say_page(plain_words(answer.answer, answer.inputs))
    say_written(kept.files)
    if kept.skyline:
        say(f"The skyline traced for it is kept as {plate}/{kept.skyline}.")
    say(
        f"Kept as {kept.key}. To conclude: wherestood decisions add "
        f"--plate {shlex.quote(plate)} --fix {kept.key} ..."
    )


def _fix_panorama(
    plate: str,
    wish: Wish,
    person: str,
    why: str,
    daybook: Path | None,
    each_own_lens: bool,
    *,
    as_json: bool,
) -> None:
    """Find where the plates of a panorama were taken, and keep an answer of each."""
    from wherestood import panorama
    from wherestood.daybook.ask_panorama import prepare_panorama, with_matches
    from wherestood.daybook.keep_panorama import keep_panorama
    from wherestood.record.panorama_words import panorama_words

    with open_daybook(daybook) as book, stages() as shown:
        asked = prepare_panorama(book, plate, wish, shown, each_own_lens=each_own_lens)
        if not asked.matched:
            scans = [one.opened for one in asked.plates]
            found = panorama.machine_ties(scans, shown, asked.names)
            asked = with_matches(book, asked, found, person, why)
        answer = panorama.locate_panorama(**asked.given(), progress=shown)
        kept = keep_panorama(book, asked, answer, person, why, progress=shown)
    for note in asked.notes:
        warn(f"Note: {note}")
    for complaint in answer.complaints:
        warn(f"Warning: {complaint.problem} {complaint.remedy}")
    if as_json:
        say_json({"fixes": [one.key for one in kept], **answer.published()})
        return
    say_page(panorama_words(answer.answer, answer.inputs))
    say_written([file for one in kept for file in one.files])
    named = ", ".join(
        f"{one.key} of {name}" for one, name in zip(kept, asked.names, strict=True)
    )
    say(f"Kept as {named}.")


def _say_notes(asked: PreparedFix) -> None:
    for note in asked.notes:
        warn(f"Note: {note}")
    for source in asked.land.sources:
        for note in source.notes:
            if note.startswith("Warning:"):
                warn(note)
    for complaint in asked.checked.complaints:  # its file was made for the while
        warn(f"Warning: {complaint.problem} {complaint.remedy}")


def _located_together(
    kept: Fix, told: Sequence[Reopened], progress: Progress
) -> LocatedPanorama:
    """Search the plates of a panorama once more, as they were searched."""
    from wherestood import panorama
    from wherestood.daybook.keep_panorama import ties_of

    question = (kept.question or {})["panorama"]
    own = told[question["number"]].given()
    del own["plate"]
    return panorama.locate_panorama(
        plates=[one.plate for one in told],
        **{**own, "evidence": [one.evidence for one in told]},
        ties=ties_of(kept),
        names=question["names"],
        each_own_lens=question["each_own_lens"],
        progress=progress,
    )


def again(
    fix: Annotated[str, typer.Argument(metavar="KEY", help="The fix, as in fix-3.")],
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Make a fix again from what the daybook kept, and compare the two."""
    from wherestood import notebook
    from wherestood.daybook.files_now import files_now
    from wherestood.daybook.keep_panorama import fixes_together
    from wherestood.daybook.kept_fix import reopened
    from wherestood.daybook.keys import find
    from wherestood.daybook.tables import Fix

    answer: LocatedPlate | LocatedPanorama
    with open_daybook(daybook) as book:
        with book.reading() as session:
            kept = find(session, Fix, fix)
            together = fixes_together(session, kept) or [kept]
            moved = [files_now(session, one) for one in together]
        with stages() as shown:
            told = [
                reopened(book.folder, one, shown, moved=now)
                for one, now in zip(together, moved, strict=True)
            ]
            if len(told) > 1:
                answer = _located_together(kept, told, shown)
            else:
                answer = notebook.locate(**told[0].given(), progress=shown)
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
