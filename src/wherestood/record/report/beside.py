"""Take the pictures that were drawn with a fix, and what its file tells of files."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from wherestood.record.report.content import Picture

__all__ = ["files_told", "pictures_beside"]

#: Pictures of the answer against each proposed position, as `against_name` names them.
_AGAINST = "against-[1-9].png"
_DRAWN = (
    ("map", "map.png", "Where the camera stood, as drawn with the fix."),
    ("comparison", "comparison.png", "The plate against the ground, as drawn then."),
    ("panorama", "panorama.png", "The plates joined, as drawn with the fix."),
    ("checks", "checks.png", "What the answer is without each part of its evidence."),
    (
        "two-answers",
        "proposed.png",
        "Two proposed positions against the same plate and evidence.",
    ),
)
_AGAINST_WORDS = (
    "The plate with two horizons over it: from the answer, dashed, and from near the "
    "position proposed, dotted."
)


def pictures_beside(folder: Path, *leave_out: str) -> tuple[Picture, ...]:
    """Return the pictures in the folder of a fix, but for those called by name."""
    found = [
        Picture(name, words, words, (folder / file).read_bytes())
        for name, file, words in _DRAWN
        if name not in leave_out and (folder / file).is_file()
    ]
    found += [
        Picture(path.stem, _AGAINST_WORDS, _AGAINST_WORDS, path.read_bytes())
        for path in sorted(folder.glob(_AGAINST))
        if path.stem not in leave_out
    ]
    return tuple(found)


def files_told(form: Mapping[str, Any]) -> Iterator[tuple[str, str, str, str]]:
    """Give the files that a fix names: what, name, how, checksum."""
    panorama = form.get("panorama") or {}
    plates = panorama.get("plates") or [form["inputs"]]
    for scan in (one.get("scan") or one for one in plates):
        size = f"{scan['width_px']} x {scan['height_px']} px"
        yield "scan", scan["file"], size, scan["sha256"]
    for source in form["terrain"]["sources"]:
        how = f"cells of {source['cell_m']:g} m, {source['crs']}"
        yield "elevation", source["file"], how, source["sha256"]
