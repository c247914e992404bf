"""Find the pictures that were drawn of a fix, beside its file."""

from __future__ import annotations

from pathlib import Path

from wherestood.errors import InputError
from wherestood.record.export.handed_things import Drawn, ThenAndNow

__all__ = ["drawn_beside", "then_and_now_in"]

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


def then_and_now_in(folder: Path) -> ThenAndNow:
    """Return the two pictures of a folder that a photograph was laid over a plate in.

    Raises
    ------
    InputError
        If they are not there.
    """
    found = ThenAndNow(folder / "then.tif", folder / "now.tif")
    if not (found.then.is_file() and found.now.is_file()):
        raise InputError(
            f"There is no then.tif and now.tif in {str(folder)!r}.",
            "Name a folder that wherestood then-and-now wrote.",
        )
    return found
