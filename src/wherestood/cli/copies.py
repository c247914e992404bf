"""Answer ``wherestood register`` and ``carry``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

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
from wherestood.cli.screen import say, say_json, stages, warn
from wherestood.errors import InputError

if TYPE_CHECKING:
    from wherestood.daybook.copies import Copies
    from wherestood.plate.copies import HandPoints

__all__ = ["carry", "register"]

_HAND_COLUMNS = ("scan", "x_px", "y_px", "onto", "onto_x_px", "onto_y_px")


def register(
    plate: PlateKey,
    hand: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.csv",
            help="Points put by hand: scan, x_px, y_px, onto, onto_x_px, onto_y_px.",
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(metavar="FILE.png", help="Draw all scans as they lie together."),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Keep nothing of it.")
    ] = False,
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Lay a plate's scans over its main one, so that marks can be carried."""
    from wherestood.daybook.copies import register_copies

    points = _hand_points(hand) if hand is not None else {}
    with open_daybook(daybook) as book, stages() as shown:
        copies = register_copies(
            book,
            plate,
            person_named(person),
            why=why,
            hand=points,
            dry_run=dry_run,
            progress=shown,
        )
    extent = copies.extent
    if out is not None:
        _draw(out, copies)
    if json:
        say_json(
            {
                "plate": plate,
                "reference": copies.reference,
                "registered": {
                    name: {
                        "onto": onto,
                        "kind": found.warp.kind,
                        "reversed": found.warp.mirrored,
                        "tone_inverted": found.tone_inverted,
                        "features": found.features,
                        "hand_points": found.hand_points,
                        "agreement": round(found.agreement, 3),
                        "error_px": round(copies.error_px[name], 3),
                    }
                    for name, (onto, found) in copies.registered.items()
                },
                "alone": list(copies.alone),
                "extent_px": [
                    extent.left_px,
                    extent.top_px,
                    extent.right_px,
                    extent.bottom_px,
                ],
            }
        )
        return
    say(f"Marks of plate {plate} are made on scan {copies.reference}.")
    for name, (onto, found) in copies.registered.items():
        also = [
            words
            for words, holds in (
                ("reversed", found.warp.mirrored),
                ("tones turned over", found.tone_inverted),
            )
            if holds
        ]
        how = f" ({', '.join(also)})" if also else ""
        say(
            f"  scan {name} lies on scan {onto}{how}: {found.warp.kind}, by "
            f"{found.features} features and {found.hand_points} points put by hand; "
            f"marks carry to {_pixels(copies.error_px[name])}."
        )
    for name in copies.alone:
        warn(
            f"Scan {name} cannot be laid over another by itself; put points on it by "
            "hand (--hand)."
        )
    say(
        f"All together reach from ({round(extent.left_px)}, {round(extent.top_px)}) to "
        f"({round(extent.right_px)}, {round(extent.bottom_px)}) px of scan "
        f"{copies.reference}."
    )
    if out is not None:
        say(f"Wrote {out}")


def _pixels(error_px: float) -> str:
    return "less than 0.1 px" if error_px < 0.1 else f"{error_px:.1f} px"


def _draw(out: Path, copies: Copies) -> None:
    import numpy as np
    from PIL import Image

    if out.suffix.lower() != ".png":
        raise InputError(
            f"The picture {out.name!r} does not end in .png.", "Let its name end so."
        )
    tones = np.round(np.clip(copies.picture, 0.0, 1.0) * 255.0).astype(np.uint8)
    try:
        Image.fromarray(tones).save(out)
    except OSError as error:
        raise InputError(
            f"The picture {str(out)!r} cannot be written ({error.strerror}).",
            "Choose another folder.",
        ) from error


def carry(
    plate: PlateKey,
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Show a plate's marks as they lie on its main scan, with their error."""
    from wherestood.daybook.carried import carried_marks
    from wherestood.daybook.keys import find
    from wherestood.daybook.tables import Plate

    with open_daybook(daybook) as book, book.reading() as session:
        marks, left = carried_marks(session, find(session, Plate, plate))
    if json:
        say_json(
            {
                "marks": [
                    {
                        "key": one.key,
                        "scan": one.scan,
                        "points_px": [[round(v, 2) for v in p] for p in one.points_px],
                        "sd_px": [round(v, 2) for v in one.sd_px],
                    }
                    for one in marks
                ],
                "left": left,
            }
        )
        return
    for one in marks:
        for (x, y), sd in zip(one.points_px, one.sd_px, strict=True):
            say(f"{one.key} (scan {one.scan}): {x:.1f}, {y:.1f} px, +- {sd:.1f}")
    for key in left:
        warn(f"{key} is on a scan that is not registered; see wherestood register.")
    if not marks and not left:
        say(f"Plate {plate} has no marks.")


def _hand_points(path: Path) -> dict[tuple[str, str], HandPoints]:
    """Read points put by hand on pairs of scans."""
    import numpy as np

    from wherestood.daybook.sheets import read_sheet
    from wherestood.plate.copies import HandPoints

    sheet = read_sheet(path)
    missing = set(_HAND_COLUMNS) - set(sheet.columns)
    if missing or sheet.refused:
        why = (
            f"lacks the columns {', '.join(sorted(missing))}"
            if missing
            else f"cannot be read: {sheet.refused[0].sentence()}"
        )
        raise InputError(
            f"The file of points {path.name!r} {why}.",
            f"It has: {', '.join(_HAND_COLUMNS)}.",
        )
    pairs: dict[tuple[str, str], list[list[float]]] = {}
    for row in sheet.rows:
        try:
            numbers = [
                float(row.values[name])
                for name in ("x_px", "y_px", "onto_x_px", "onto_y_px")
            ]
        except ValueError as error:
            raise InputError(
                f"Row {row.number} of {path.name!r} holds a place that is no number.",
                "Give pixels.",
            ) from error
        key = (row.values["scan"], row.values["onto"])
        pairs.setdefault(key, []).append(numbers)
    return {
        key: HandPoints(np.array(rows)[:, :2], np.array(rows)[:, 2:])
        for key, rows in pairs.items()
    }
