"""Tell in a public report neither who judged, and in what words, nor who proposed what.

The rule of what is handed out holds for reports too
(`wherestood.daybook.handing_out`): that an answer was accepted is told, and when.
"""

from __future__ import annotations

from dataclasses import replace

from wherestood.daybook.report_evidence import READ
from wherestood.daybook.report_facts import PROPOSED_BY
from wherestood.record.proposed_words import PROPOSED, TWO_ANSWERS
from wherestood.record.report.content import AGAINST
from wherestood.record.report.facts import (
    ConclusionFacts,
    EvidenceFacts,
    PlateFacts,
    SeenFacts,
)

__all__ = ["without_who_judged"]


def without_who_judged(plate: PlateFacts) -> PlateFacts:
    """Return what a report tells of a plate, without who judged and who proposed.

    Parameters
    ----------
    plate : PlateFacts
        What may be published of it otherwise. It may be given twice.
    """
    form = plate.form
    if form is not None and form["proposed"]:
        form = {**form, "proposed": []}
    told = replace(
        plate,
        form=form,
        sections=tuple(
            one for one in plate.sections if one.heading not in (PROPOSED, TWO_ANSWERS)
        ),
        conclusion=_conclusion(plate.conclusion),
        earlier=(),
        seen=tuple(_seen(one) for one in plate.seen),
        evidence=tuple(_read(one) for one in plate.evidence),
        set_aside=tuple(_read(one) for one in plate.set_aside),
        pictures=tuple(
            one for one in plate.pictures if not one.name.startswith(AGAINST)
        ),
    )
    if told == plate:
        return plate
    withheld = "Who judged, in what words and on what conditions; what others proposed."
    return replace(told, withheld=(*plate.withheld, withheld))


def _conclusion(one: ConclusionFacts | None) -> ConclusionFacts | None:
    if one is None:
        return None
    about = "a position that somebody proposed"
    about = about if one.about.startswith(PROPOSED_BY) else one.about
    return ConclusionFacts(one.conclusion, "", "", one.decided, about=about)


def _seen(one: SeenFacts) -> SeenFacts:
    if not one.identified_by or one.identified_by == "not told":
        return one
    was_read = one.identified_by.startswith(READ)
    return replace(one, identified_by=READ if was_read else "not told")


def _read(one: EvidenceFacts) -> EvidenceFacts:
    return replace(one, source=READ) if one.source.startswith(READ) else one
