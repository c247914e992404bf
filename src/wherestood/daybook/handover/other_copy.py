"""Open another copy of a daybook, its folder or a bag of it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from wherestood.daybook.book import Daybook
from wherestood.daybook.files_held import WITH_FILES, rows_with_files
from wherestood.daybook.handover.bag import clear_folder
from wherestood.daybook.handover.copying import new_beside
from wherestood.daybook.handover.unbag import read_bag

__all__ = ["other_copy"]


@contextmanager
def other_copy(other: Path, person: str, into: Daybook) -> Iterator[Daybook]:
    """Open another copy to be read, taken out of its bag for the while if it is in one.

    Parameters
    ----------
    other : Path
        A daybook's folder, or a bag of one, packed or not. Nothing in it is changed.
    person : str
        Who opens it.
    into : Daybook
        The daybook that it is to come to. Of a bag, files that were left in place stay
        where they are if this one knows their items.

    Raises
    ------
    DaybookError
        If it is no daybook, or its bag is not whole.
    """
    if other.is_dir() and not (other / "bagit.txt").is_file():
        with Daybook.open(other, reading=True) as opened:
            yield opened
        return
    with into.reading() as session:
        known = {row["id"] for t in WITH_FILES for row in rows_with_files(session, t)}
    # Beside the daybook, where what a killed process left is found again.
    passing = new_beside(into.folder, "merging")
    try:
        read_bag(other, passing / "daybook", person, left_alone=known)
        with Daybook.open(passing / "daybook") as opened:
            yield opened
    finally:
        clear_folder(passing)
