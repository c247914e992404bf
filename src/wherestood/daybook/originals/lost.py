"""Put back files that the daybook lost, from those that come in again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from wherestood.daybook.book import Daybook
from wherestood.daybook.originals.passing import put_back
from wherestood.daybook.trouble import told_plainly
from wherestood.daybook.within import lies_within
from wherestood.progress import SILENT, Progress
from wherestood.terrain.checksum import file_sha256

__all__ = ["put_lost_back"]


def put_lost_back(
    daybook: Daybook,
    named: Iterable[tuple[str, str]],
    sources: Mapping[str, Path],
    progress: Progress = SILENT,
) -> str:
    """Put files back that are gone or damaged, and say what is to be done still.

    Parameters
    ----------
    daybook : Daybook
        Where.
    named : iterable of (file, sha256)
        Files that an item names; those outside the daybook are let be.
    sources : mapping of str to Path
        The files that came, by their checksums.
    progress : Progress
        Told of every MiB copied.

    Returns
    -------
    str
        A sentence: that nothing needs doing, or how many were put back.
    """
    count = 0
    for file, sha256 in named:
        if not lies_within(file) or sha256 not in sources or daybook.read_only:
            continue
        place = daybook.path(file)
        if place.is_file() and file_sha256(place) == sha256:
            continue
        with told_plainly(daybook.folder):
            put_back(daybook.folder, sources[sha256], file, sha256, progress)
        count += 1
    if not count:
        return "Nothing needs doing."
    files = "Its file was" if count == 1 else f"{count} of its files were"
    return f"{files} gone or damaged, and put back now."
