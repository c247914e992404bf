"""Tell in a public report neither who judged, and in what words, nor who proposed what.

The rule of what is handed out holds for reports too
(`wherestood.daybook.handing_out`): that an answer was accepted is told, and when.
"""

from __future__ import annotations

from dataclasses import replace

from wherestood.record.report.facts import (
    ConclusionFacts,
    EvidenceFacts,
    PlateFacts,
    SeenFacts,
)

__all__ = ["without_who_judged"]

_READ = "read off the plate"
_PROPOSED = "the position proposed by"
_OF_PROPOSED = ("Positions proposed", "Two answers on the same evidence")
_OF_PICTURES = "against-"


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
            one for one in plate.sections if one.heading not in _OF_PROPOSED
        ),
        conclusion=_conclusion(plate.conclusion),
        earlier=(),
        seen=tuple(_seen(one) for one in plate.seen),
        evidence=tuple(_read(one) for one in plate.evidence),
        set_aside=tuple(_read(one) for one in plate.set_aside),
        pictures=tuple(
            one for one in plate.pictures if not one.name.startswith(_OF_PICTURES)
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
    about = about if one.about.startswith(_PROPOSED) else one.about
    return ConclusionFacts(one.conclusion, "", "", one.decided, about=about)


def _seen(one: SeenFacts) -> SeenFacts:
    if not one.identified_by or one.identified_by == "not told":
        return one
    was_read = one.identified_by.startswith(_READ)
    return replace(one, identified_by=_READ if was_read else "not told")


def _read(one: EvidenceFacts) -> EvidenceFacts:
    return replace(one, source=_READ) if one.source.startswith(_READ) else one
