"""Open a fix and its terrain to go from picture to map and back."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from wherestood.cli.book import open_daybook
from wherestood.cli.screen import stages, warn
from wherestood.errors import InputError

if TYPE_CHECKING:
    from wherestood.ground.mapping import Mapping

__all__ = [
    "FixGiven", "GroundDoubt", "GroundFiles", "LeastAngle", "Opened", "PlaceNumber",
    "ReadingDoubt", "open_mapping", "read_pixel",
]  # fmt: skip

FixGiven = Annotated[
    str,
    typer.Argument(
        metavar="FIX", help="fix.json, its folder, or a daybook's fix as in fix-3."
    ),
]
GroundFiles = Annotated[
    list[Path] | None,
    typer.Option(
        "--terrain",
        metavar="FILE...",
        help="Elevation model; of a daybook's fix, what it was made with unless told.",
    ),
]
PlaceNumber = Annotated[
    int,
    typer.Option(
        "--place", metavar="N", help="The fix's place by number; all unless told."
    ),
]
GroundDoubt = Annotated[
    float,
    typer.Option("--terrain-sd", metavar="M", help="How far heights may be off, m."),
]
ReadingDoubt = Annotated[
    float,
    typer.Option("--reading-sd", metavar="PX", help="How far readings may be off, px."),
]
LeastAngle = Annotated[
    float,
    typer.Option(
        "--least-angle",
        metavar="DEG",
        help="Rays that meet the ground more flatly are flagged, degrees.",
    ),
]


@dataclass(frozen=True)
class Opened:
    """Hold a fix in its published form, and what goes on from it.

    Attributes
    ----------
    form : dict
    mapping : Mapping
    """

    form: dict[str, Any]
    mapping: Mapping

    @property
    def plate(self) -> str:
        """Return the plate's name."""
        return str(self.form["plate"])

    @property
    def station(self) -> dict[str, Any]:
        """Return where the camera stood: at the place that was chosen."""
        from wherestood.record.mapping_json import station_of

        return station_of(self.form, self.mapping.place)


def open_mapping(
    fix: str,
    terrain: list[Path] | None,
    daybook: Path | None,
    *,
    place: int = 0,
    terrain_sd_m: float = 5.0,
    reading_sd_px: float = 1.5,
    least_angle_deg: float = 2.0,
) -> Opened:
    """Open a fix and the ground before its camera, saying what must be known of them.

    Raises
    ------
    InputError
        If there is no such fix, or no terrain is named for one that is a file.
    """
    from wherestood.ground.mapping import Doubts
    from wherestood.record.fix_json import read_fix
    from wherestood.record.mapping_json import mapping_of_fix

    path = Path(fix)
    if path.is_dir():
        path = path / "fix.json"
    if path.suffix == ".json" or path.exists():
        form = read_fix(path)
        if not terrain:
            raise InputError(
                "A fix that is a file does not bring its elevation model along.",
                "Name the elevation files with --terrain.",
            )
        land = _land(form, terrain)
    else:
        form, land = _kept(fix, terrain, daybook)
    settings = form["settings"]
    doubts = Doubts(
        reading_sd_px,
        terrain_sd_m,
        math.radians(least_angle_deg),
        float(settings.get("horizon_radius_m") or 30_000.0),
    )
    mapping = mapping_of_fix(form, land, doubts).at_place(place)
    if mapping.caution():
        warn(f"Warning: {mapping.caution()}")
    if mapping.rough:
        warn(
            "Warning: this fix was kept without drawn cameras, so that doubts are "
            "rough. Make it again for true ones."
        )
    return Opened(form, mapping)


def _land(form: dict[str, Any], terrain: list[Path]) -> Any:
    from wherestood.terrain.read import open_terrain

    station, settings = form["station"], form["settings"]
    reach_m = float(settings.get("horizon_radius_m") or 30_000.0)
    with stages() as shown:
        land = open_terrain(
            tuple(terrain),
            around=(station["lon"], station["lat"]),
            radius_m=reach_m,
            surface=form["terrain"]["surface"],
            refraction=form["terrain"]["refraction"],
            progress=shown,
        )
    then = {source["sha256"] for source in form["terrain"]["sources"]}
    if not then <= {source.sha256 for source in land.sources}:
        warn("Note: the elevation model is not the one that the fix was made with.")
    return land


def _kept(
    key: str, terrain: list[Path] | None, daybook: Path | None
) -> tuple[dict[str, Any], Any]:
    from wherestood.daybook.files_now import files_now
    from wherestood.daybook.kept_fix import reopened
    from wherestood.daybook.keys import find
    from wherestood.daybook.tables import Fix

    with open_daybook(daybook) as book:
        with book.reading() as session:
            kept = find(session, Fix, key)
            moved = files_now(session, kept)
        if not kept.answer:
            raise InputError(
                f"The {key} holds no answer: it was withdrawn.", "Choose another fix."
            )
        form: dict[str, Any] = kept.answer
        if terrain:
            return form, _land(form, terrain)
        with stages() as shown:
            return form, reopened(book.folder, kept, shown, moved=moved).land


def read_pixel(text: str) -> tuple[float, float]:
    """Read a point of the scan.

    Raises
    ------
    InputError
        If it is no two numbers.
    """
    parts = text.replace(" ", "").split(",")
    try:
        x, y = (float(part) for part in parts)
    except ValueError as error:
        raise InputError(
            f"{text!r} is no point of the scan.",
            "Give pixels from the top left corner, as in 1520,1043.",
        ) from error
    return x, y
