"""Read the traced lines that a person hands over."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from wherestood.errors import InputError

if TYPE_CHECKING:
    from wherestood.plate.scan import Plate
    from wherestood.plate.skyline import Skyline, TracedRidge

__all__ = ["given_lines"]


def given_lines(
    files: Sequence[Path], plate: Plate
) -> tuple[Skyline, tuple[TracedRidge, ...]] | None:
    """Return the skyline and ridge lines of one file, or of two readers' files.

    Raises
    ------
    InputError
        If there are more than two.
    SkylineError
        If a file cannot be read, or two are of different scans.
    """
    from wherestood.plate.skyline import read_traced_lines
    from wherestood.plate.two_tracings import compare_tracings

    if len(files) > 2:
        raise InputError(
            f"{len(files)} skylines are given; two readers' can be compared.",
            "Give --skyline once, or twice.",
        )
    read = [read_traced_lines(path, plate.width_px, plate.height_px) for path in files]
    if not read:
        return None
    skyline, ridges = read[0][0], tuple(read[0][1])
    if len(read) == 2:
        skyline = compare_tracings(skyline, read[1][0]).skyline
        ridges = ridges or tuple(read[1][1])
    return skyline, ridges
