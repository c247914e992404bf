"""Write a catalogue paragraph of a length that a person sets."""

from __future__ import annotations

from wherestood.errors import InputError
from wherestood.record.date_words import NINE_IN_TEN
from wherestood.record.report.facts import PlateFacts
from wherestood.record.report.plain_answer import answer_lines, section_lines

__all__ = ["SHORTEST", "catalogue_paragraph"]

#: Fewer characters hold no sentence that is true by itself.
SHORTEST = 120


def catalogue_paragraph(plate: PlateFacts, most: int) -> str:
    """Return what a catalogue entry should say of a plate, in whole sentences.

    The most needful sentences come first, and those that no longer fit are left
    out; none is cut. A condition goes with its number, in the same sentence.

    Parameters
    ----------
    plate : PlateFacts
    most : int
        Its length at most [characters].

    Raises
    ------
    InputError
        If that is too short for its first sentence.
    """
    first, *rest = _sentences(plate)
    if most < max(SHORTEST, len(first)):
        raise InputError(
            f"A catalogue paragraph of {most} characters holds no whole answer.",
            f"Allow at least {max(SHORTEST, len(first))}.",
        )
    told = first
    for sentence in rest:
        if len(told) + 1 + len(sentence) <= most:
            told = f"{told} {sentence}"
    return told


def _sentences(plate: PlateFacts) -> list[str]:
    """Return its sentences, the most needful first."""
    said: list[str] = []
    if plate.form is not None:
        said += answer_lines(plate.form, plate.sections)
    elif plate.published:
        said.append(plate.published)
    else:
        said.append("Where the camera stood has not been looked for here.")
    one = plate.conclusion
    if one is not None:
        conditions = f" (conditions: {one.conditions})" if one.conditions else ""
        by = f" by {one.decided_by}" if one.decided_by else ""
        said.insert(
            1, f"{one.conclusion.capitalize()}{by} on {one.decided[:10]}{conditions}."
        )
    said += [_exposed(line) for line in section_lines(plate.dates, "When")[:1]]
    # The picture's own rights go with it wherever the words go.
    said += [f"{credit}." for _, _, _, credit, _ in plate.rights[:1] if credit]
    return [" ".join(sentence.split()) for sentence in said]


def _exposed(line: str) -> str:
    """Return the first line of a date as a sentence of its own."""
    lead, told, rest = line.partition(NINE_IN_TEN)
    return f"Exposed, nine chances in ten: {rest.strip()}" if told and not lead else (
        f"Exposed: {line}"
    )  # fmt: skip
