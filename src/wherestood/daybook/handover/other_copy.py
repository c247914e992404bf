"""Open another copy of a daybook, its folder or a bag of it."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from wherestood.daybook.book import Daybook
from wherestood.daybook.handover.bag import clear_folder
from wherestood.daybook.handover.unbag import read_bag

__all__ = ["other_copy"]


@contextmanager
def other_copy(other: Path, person: str) -> Iterator[Daybook]:
    """Open another copy, taken out of its bag for the while if it is in one.

    Parameters
    ----------
    other : Path
        A daybook's folder, or a bag of one, packed or not.
    person : str
        Who opens it.

    Raises
    ------
    DaybookError
        If it is no daybook, or its bag is not whole.
    """
    if other.is_dir() and not (other / "bagit.txt").is_file():
        with Daybook.open(other) as opened:
            yield opened
        return
    passing = Path(tempfile.mkdtemp(prefix="wherestood-"))
    try:
        read_bag(other, passing / "daybook", person)
        with Daybook.open(passing / "daybook") as opened:
            yield opened
    finally:
        clear_folder(passing)
