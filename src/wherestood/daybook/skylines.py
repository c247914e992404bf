"""Keep traced lines of a plate, skyline and ridges, as items; read them back."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.tables import Evidence
from wherestood.errors import InputError
from wherestood.evidence.file import LINE_SD_PX
from wherestood.evidence.items.traced import line_through
from wherestood.evidence.ridge_lines import MACHINE_TRUST
from wherestood.plate.skyline import (
    READ_SD_SHARE,
    Skyline,
    read_skyline_csv,
    write_skyline_csv,
)

__all__ = [
    "BY_MACHINE",
    "keep_ridges",
    "keep_skyline",
    "line_of",
    "lines_on",
    "mend_ridge",
    "skyline_of_runs",
]

BY_MACHINE = "traced by machine"
_BY_HAND = "mended or drawn by hand"
Run = tuple[Sequence[float], Sequence[float], Sequence[float] | None]


def lines_on(session: Session, plate_id: str, kind: str) -> list[Evidence]:
    """Return the traced lines of a kind on a plate that stand, by key."""
    wanted = select(Evidence).where(
        Evidence.plate_id == plate_id,
        Evidence.kind == kind,
        Evidence.removed.is_(False),
        Evidence.withdrawn.is_(None),
    )
    return list(session.scalars(wanted.order_by(Evidence.key)))


def keep_skyline(
    session: Session, plate_id: str, scan_id: str, skyline: Skyline, *, by_hand: bool
) -> Evidence:
    """Keep a skyline, in the place of the one the plate had.

    Two would count as two readings; what was before is in the journal, and undo
    brings it back.

    Parameters
    ----------
    session : Session
        Of `Daybook.writing`.
    plate_id, scan_id : str
        The plate, and the copy that it was read on.
    skyline : Skyline
    by_hand : bool
        Whether a person mended or drew it.
    """
    content = {"csv": _as_csv(skyline)}
    words = _BY_HAND if by_hand else BY_MACHINE
    there = lines_on(session, plate_id, "skyline")
    if there:
        kept = there[0]
        kept.content = {**_others(kept.content), **content}
        kept.scan_id = scan_id
        kept.source_words = words
        return kept
    kept = Evidence(
        plate_id=plate_id,
        scan_id=scan_id,
        kind="skyline",
        content=content,
        source_words=words,
    )
    session.add(kept)
    return kept


def keep_ridges(
    session: Session, plate_id: str, scan_id: str, lines: Sequence[Skyline]
) -> list[Evidence]:
    """Keep ridge lines that the machine traced, in the place of those it had traced.

    A line that a person drew, mended or spoke for stays as it is.

    Parameters
    ----------
    session : Session
        Of `Daybook.writing`.
    plate_id, scan_id : str
        The plate, and the copy that they were traced on.
    lines : sequence of Skyline
    """
    for one in lines_on(session, plate_id, "ridge_line"):
        if one.source_words == BY_MACHINE:
            one.removed = True
    kept = [
        Evidence(
            plate_id=plate_id,
            scan_id=scan_id,
            kind="ridge_line",
            content={"csv": _as_csv(line)},
            trust=MACHINE_TRUST,
            source_words=BY_MACHINE,
        )
        for line in lines
    ]
    session.add_all(kept)
    return kept


def mend_ridge(item: Evidence, line: Skyline) -> None:
    """Lay another line in the place of a ridge line's: from now on it is a person's."""
    item.content = {**_others(item.content), "csv": _as_csv(line)}
    if item.source_words == BY_MACHINE:
        item.source_words = _BY_HAND
        item.trust = None


def _as_csv(line: Skyline) -> str:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "line.csv"
        write_skyline_csv(line, path)
        return path.read_text("utf-8")


def _others(content: dict[str, Any] | None) -> dict[str, Any]:
    kept = dict(content or {})
    for name in ("csv", "points_px", "sd_px"):
        kept.pop(name, None)
    return kept


def line_of(item: Evidence, width_px: int, height_px: int) -> Skyline | None:
    """Return the line that an item holds; None if it has none that can be read."""
    content = item.content or {}
    try:
        if "csv" in content:
            return _from_csv(str(content["csv"]), width_px, height_px)
        points = content.get("points_px") or []
        return line_through(
            tuple((float(point[0]), float(point[1])) for point in points),
            float(content.get("sd_px") or LINE_SD_PX),
            width_px,
            height_px,
        )
    except (InputError, TypeError, ValueError, IndexError):
        return None


def skyline_of_runs(runs: Sequence[Run], width_px: int, height_px: int) -> Skyline:
    """Return runs of points as a skyline; gaps lie between runs.

    Parameters
    ----------
    runs : sequence of (x, y, standard error or None)
        Each with x rising, from left to right [px].
    width_px, height_px : int
        Size of the scan [px].

    Raises
    ------
    InputError
        If x does not rise, a point lies outside, or there are too few.
    """
    usual_px = max(1.0, READ_SD_SHARE * width_px)
    rows = ["x_px,y_px,sd_px"]
    for xs, ys, sds in sorted((r for r in runs if len(r[0])), key=lambda r: r[0][0]):
        if len(xs) != len(ys) or (sds is not None and len(sds) != len(xs)):
            raise InputError(
                "A run of the skyline has more of one coordinate than of another.",
                "Give x, y and, if any, its doubt of each point.",
            )
        errors = [usual_px] * len(xs) if sds is None else sds
        rows += [f"{x!r},{y!r},{e!r}" for x, y, e in zip(xs, ys, errors, strict=True)]
        rows.append("")
    return _from_csv("\n".join(rows) + "\n", width_px, height_px)


def _from_csv(text: str, width_px: int, height_px: int) -> Skyline:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "skyline.csv"
        path.write_text(text, encoding="utf-8")
        return read_skyline_csv(path, width_px, height_px)
