"""Answer ``wherestood demo``."""

from __future__ import annotations

import math
import shlex
import shutil
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import numpy as np
import pyproj
import shapely
import typer

from wherestood.cli.options import AsJson
from wherestood.cli.question import Question, located
from wherestood.cli.screen import say, say_json, say_page, say_written, stages
from wherestood.fix.settings import LocateSettings
from wherestood.record.doubt import distance_in_words
from wherestood.record.page import Section
from wherestood.record.words import plain_words

if TYPE_CHECKING:
    from wherestood.demo import DemoTruth
    from wherestood.demo.write import DemoFiles
    from wherestood.notebook import LocatedPlate

__all__ = ["Comparison", "compared", "demo"]

#: Where the demo is laid out to be looked at.
DAYBOOK = "daybook"
_WGS84 = pyproj.Geod(ellps="WGS84")


@dataclass(frozen=True)
class Comparison:
    """Hold an answer beside the truth.

    Attributes
    ----------
    apart_m : float
        From the position found to the true one [m].
    inside_90 : bool
        Whether the region that holds it 9 times in 10 does.
    true_sight_deg, found_sight_deg : float
        True bearing of the middle of the picture, as it was and as found [deg].
    """

    apart_m: float
    inside_90: bool
    true_sight_deg: float
    found_sight_deg: float


def demo(
    out: Annotated[
        Path, typer.Option(metavar="DIR", help="Folder for the plate and the answer.")
    ] = Path("demo-out"),
    json: AsJson = False,
) -> None:
    """Locate an invented plate in an invented place, and compare with the truth."""
    from wherestood.demo import write_demo
    from wherestood.notebook import RIVALS
    from wherestood.record.atomic import folder_at_the_end

    with folder_at_the_end(out, RIVALS) as passing:
        with stages() as shown:
            shown.stage("inventing a place and exposing a plate there")
            files = write_demo(passing)
        question = Question(
            files.plate, (files.terrain,), str(files.area), files.plate_size
        )
        # The invented land ends where its file does, so no warning is due.
        answer = located(question, LocateSettings(surface="ground"), warnings=False)
        written = answer.save(passing)
        given = (
            files.plate, files.terrain, files.area, files.hearths, files.readme,
        )  # fmt: skip
        kept = _keep(out / DAYBOOK, files, answer)
    comparison = compared(answer, files.truth)
    if json:
        say_json({"fix": answer.published(), "truth": asdict(comparison)})
        return
    say_page(plain_words(answer.answer, answer.inputs))
    say_page([_truth(comparison)])
    say_written([out / path.name for path in (*given, *written)])
    if kept:
        say(f"Laid out, with its answer, as the daybook {out / DAYBOOK}.")
    else:
        say(f"The daybook {out / DAYBOOK} was there, and is as it was left.")
    say(f"  wherestood serve {shlex.quote(str(out / DAYBOOK))}")
    say(f"\nThe same with what a walker found later, {files.hearths.name}:")
    say(f"  {_typed_with_hearths(out, files)}")


def _keep(folder: Path, files: DemoFiles, answer: LocatedPlate) -> bool:
    """Lay the demo out as a daybook that keeps the answer, unless there is one."""
    from wherestood.daybook import Daybook
    from wherestood.daybook.book import DATABASE
    from wherestood.daybook.keep_answer import keep_answer
    from wherestood.daybook.question import read_plate
    from wherestood.demo.book import PERSON, PLATE_KEY, HandedOver, lay_out_daybook

    if (folder / DATABASE).exists():
        return False
    try:
        with stages() as shown:
            lay_out_daybook(folder, HandedOver.of(files), shown)
            with Daybook.open(folder) as book:
                read = read_plate(book, PLATE_KEY)
                keep_answer(book, read, answer, PERSON, progress=shown)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return True


def _typed_with_hearths(out: Path, files: DemoFiles) -> str:
    """Return the command that searches with the evidence too."""
    plate, terrain, area, hearths = (
        shlex.quote(str(out / path.name))
        for path in (files.plate, files.terrain, files.area, files.hearths)
    )
    return (
        f"wherestood locate {plate} --terrain {terrain} --within {area} "
        f'--size "{files.plate_size}" --surface ground --evidence {hearths} '
        f"--out {shlex.quote(str(out / 'with-hearths'))}"
    )


def compared(answer: LocatedPlate, truth: DemoTruth) -> Comparison:
    """Set an answer beside the truth, which the search never saw."""
    station, camera = answer.station, truth.camera
    _, _, apart_m = _WGS84.inv(
        station.lon_deg, station.lat_deg, truth.lon_deg, truth.lat_deg
    )
    centre = np.array([camera.width_px / 2]), np.array([camera.height_px / 2])
    east, north, _ = camera.rays(*centre)[0]
    turn_deg = truth.bearing_deg - camera.bearing_deg  # grid convergence
    true_deg = math.degrees(math.atan2(east, north)) + turn_deg
    inside = shapely.contains_xy(answer.region(0.9), truth.lon_deg, truth.lat_deg)
    return Comparison(
        float(apart_m),
        bool(inside),
        true_deg % 360.0,
        answer.camera.sight_bearing_deg % 360.0,
    )


def _truth(comparison: Comparison) -> Section:
    where = "inside" if comparison.inside_90 else "outside"
    return Section(
        "The truth, which only the demo knows",
        (
            f"The position found is {distance_in_words(comparison.apart_m)} from the "
            f"true one, which lies {where} the region that holds it 9 times in 10.",
            f"The middle of the picture bears {comparison.true_sight_deg:.1f}°; found "
            f"{comparison.found_sight_deg:.1f}°.",
            "Place, people and plate are invented; nothing of the truth was used in "
            "the search.",
        ),
    )
