"""Write what a daybook hands out, once no recorded term stands against it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from wherestood.daybook.book import Daybook
from wherestood.daybook.counted import counted
from wherestood.daybook.handing_out import Wanted, gather
from wherestood.daybook.handing_out_ground import terrain_files, with_maps
from wherestood.daybook.handing_out_rights import BrokenTerm
from wherestood.daybook.handover.copying import new_beside
from wherestood.daybook.public.rows import LeftOut
from wherestood.daybook.report_made import report_of_plates
from wherestood.errors import InputError
from wherestood.progress import SILENT, Progress
from wherestood.record.export.formats import check_formats, write_formats
from wherestood.record.export.whole import whole_at_the_end
from wherestood.record.report import tell_report, write_report

__all__ = [
    "MOST_REPORTED",
    "REPORT",
    "TOO_MANY",
    "HandOver",
    "hand_out",
    "term_trouble",
]

#: A form of its own beside those of `wherestood.record.export.FORMATS`, and its folder:
#: it is made from a daybook, and only where it is named.
REPORT = "report"
#: Of no more plates is a report made that goes along.
MOST_REPORTED = 40
TOO_MANY = (
    f"The report is left out: it is of plates that are chosen, {MOST_REPORTED} at most."
)
_NAMED = 10


@dataclass(frozen=True)
class HandOver:
    """Hold what was handed out.

    Attributes
    ----------
    path : Path
    kind : str
    plates, places, pictures : int
    withheld : int
        Plates whose place is not told as it is known.
    files : tuple of str
        Within the path.
    left_out : tuple of str
        What stays out, in sentences.
    cautions : tuple of str
        As of `wherestood.daybook.handing_out.Gathered`.
    """

    path: Path
    kind: str
    plates: int
    places: int
    pictures: int
    withheld: int
    files: tuple[str, ...]
    left_out: tuple[str, ...]
    cautions: tuple[str, ...] = ()


def hand_out(
    book: Daybook,
    target: Path,
    wanted: Wanted,
    forms: Collection[str] = (),
    *,
    leave_out: bool = False,
    author: str = "",
    progress: Progress = SILENT,
) -> HandOver:
    """Write what of a daybook is wanted, whole or not at all.

    Parameters
    ----------
    book : Daybook
    target : Path
        A new folder, or a file ending in ``.zip``.
    wanted : Wanted
    forms : collection of str
        Of `wherestood.record.export.FORMATS`, and `REPORT`; all but that where none is
        named.
    leave_out : bool
        Whether what recorded terms forbid is left out without asking.
    author : str
        Who makes the report, where one goes along.
    progress : Progress

    Raises
    ------
    InputError
        If a recorded term would be broken and nobody said to leave that out, a form
        or a plate is not known, or the target is there.
    """
    others = [name for name in forms if name != REPORT]
    names = check_formats(others) if others or not forms else ()
    gathered = gather(book, wanted)
    public = wanted.kind == "public"
    if public and gathered.broken and not leave_out:
        raise term_trouble(gathered.broken)
    handed = gathered.handed
    keys = wanted.plates if REPORT in forms else ()
    too_many = REPORT in forms and not 0 < len(keys) <= MOST_REPORTED
    # What a killed one left may hold what is restricted: the next clears it away.
    beside = partial(new_beside, what="handing-out")
    with whole_at_the_end(target, beside) as folder:
        if "page" in names:
            with book.reading() as session:
                files, _ = terrain_files(session, book, public=public)
            handed = with_maps(handed, files, progress)
        if keys and not too_many:
            facts = report_of_plates(
                book, keys, public=public, author=author, progress=progress
            )
            write_report(folder / REPORT, tell_report(facts))
        written = write_formats(folder, handed, names, progress)
        paths = tuple(
            path.relative_to(folder).as_posix()
            for path in sorted(folder.rglob("*"))
            if path.is_file()
        )
    return HandOver(
        path=target,
        kind=wanted.kind,
        plates=len(handed.plates),
        places=sum(bool(plate.places) for plate in handed.plates),
        pictures=sum(p.picture is not None for p in handed.plates)
        - len(written.without_picture),
        withheld=sum(bool(plate.withheld) for plate in handed.plates),
        files=paths,
        left_out=_sentences(
            gathered.left_out,
            gathered.broken if public else (),
            written.without_picture,
            too_many=too_many,
        ),
        cautions=gathered.cautions,
    )


def term_trouble(broken: Sequence[BrokenTerm]) -> InputError:
    """Return the trouble that terms would be broken, naming the first of many."""
    first = " ".join(one.sentence() for one in broken[:_NAMED])
    more = f" ... and {len(broken) - _NAMED} more." if len(broken) > _NAMED else ""
    many = "would break a recorded term"
    if len(broken) > 1:
        many = f"would break {counted(len(broken), 'recorded term')}"
    return InputError(
        f"Publishing this {many}: {first}{more}",
        "Add --leave-out to go on without these.",
    )


def _sentences(
    left_out: Sequence[LeftOut],
    broken: Sequence[BrokenTerm],
    without: Sequence[str],
    *,
    too_many: bool,
) -> tuple[str, ...]:
    said = [one.sentence() for one in left_out]
    said += [f"{one.name}: {one.what} left out ({one.term})." for one in broken]
    said += [f"{one}: picture left out (its scan cannot be read)." for one in without]
    if too_many:
        said.append(TOO_MANY)
    return tuple(said)
