"""Find the pictures that were drawn of a fix, beside its file."""

from __future__ import annotations

from pathlib import Path

from wherestood.record.export.handed_things import Drawn

__all__ = ["drawn_beside"]

_COMPARISON = (
    "Against the ground: the plate, the skyline traced on it, and the horizon that the "
    "elevation model shows from this place."
)
_MAP = "The ground searched, and the regions that hold the camera."


def drawn_beside(folder: Path, *, with_map: bool = True) -> tuple[Drawn, ...]:
    """Return the comparison through the likeliest camera, and the map."""
    wanted = [("comparison.png", _COMPARISON)]
    if with_map:
        wanted.append(("map.png", _MAP))
    return tuple(
        Drawn(folder / name, words)
        for name, words in wanted
        if (folder / name).is_file()
    )
