"""Make the report of plates of a daybook."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC
from importlib.metadata import version

from wherestood.daybook.book import Daybook
from wherestood.daybook.public.who_judged import without_who_judged
from wherestood.daybook.report_facts import plate_facts
from wherestood.daybook.report_issues import errata_of
from wherestood.daybook.report_pictures import plate_pictures
from wherestood.daybook.report_public import published_facts
from wherestood.progress import SILENT, Progress
from wherestood.record.report.facts import PlateFacts, ReportFacts

__all__ = ["report_of_plates"]


def report_of_plates(
    book: Daybook,
    keys: Sequence[str],
    *,
    fix_key: str = "",
    public: bool = False,
    author: str = "",
    collection: str = "",
    paragraph_length: int = 600,
    progress: Progress = SILENT,
) -> ReportFacts:
    """Return what a report of plates is made of.

    Parameters
    ----------
    book : Daybook
    keys : sequence of str
        The plates, in the order of the report.
    fix_key : str
        The fix of the one plate, where a person names it.
    public : bool
        Whether what may not be published is left out.
    author, collection : str
        Who makes it; what the plates belong to.
    paragraph_length : int
        Longest catalogue paragraph [characters].
    progress : Progress
        Told of each step.
    """
    with book.reading() as session:
        errata = errata_of(session, keys)
    made = book.clock().astimezone(UTC).replace(microsecond=0).isoformat()
    plates = tuple(
        _plate(book, key, fix_key, public=public, progress=progress) for key in keys
    )
    return ReportFacts(
        plates, made, version("wherestood"), public=public, author=author,
        collection=collection, paragraph_length=paragraph_length,
        errata=() if public else errata,
    )  # fmt: skip


def _plate(
    book: Daybook, key: str, fix_key: str, *, public: bool, progress: Progress
) -> PlateFacts:
    facts = plate_facts(book, key, fix_key)
    if not public:
        pictures, missing = plate_pictures(
            book, key, facts.seen, fix_key, progress=progress
        )
        return replace(facts, pictures=pictures, missing=missing)
    with book.reading() as session:
        told = without_who_judged(published_facts(session, facts, fix_key))
    # Of a place that is not told the plate alone may be drawn, without its letters.
    pictures, missing = plate_pictures(
        book, key, told.seen, fix_key, plate_alone=told.form is None, proposed=False,
        progress=progress,
    )  # fmt: skip
    facts = replace(facts, pictures=pictures, missing=missing)
    with book.reading() as session:
        return without_who_judged(published_facts(session, facts, fix_key))
