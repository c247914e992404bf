"""Hold two proposed positions on the same evidence."""

from __future__ import annotations

from dataclasses import dataclass

from wherestood.errors import InputError
from wherestood.fix.result import Fix, ProposedTold
from wherestood.record.inputs import FixInputs
from wherestood.record.page import page_text
from wherestood.record.picture import Picture
from wherestood.record.proposed_words import favours, side_by_side_section
from wherestood.record.side_by_side import can_compare, side_by_side_figure

__all__ = ["TwoAnswers", "proposed_called", "two_answers"]


@dataclass(frozen=True)
class TwoAnswers:
    """Hold two proposed positions on the same evidence.

    Attributes
    ----------
    fix, inputs : Fix, FixInputs
        The answer they were tested in, and what it rests on.
    first, second : ProposedTold
        What the evidence says of either.
    """

    fix: Fix
    inputs: FixInputs
    first: ProposedTold
    second: ProposedTold

    @property
    def favours(self) -> list[tuple[str, float]]:
        """Return each item and the log odds by which it favours the first."""
        return favours(self.first, self.second)

    def words(self) -> str:
        """Return the two side by side, item by item."""
        return page_text([side_by_side_section(self.fix, (self.first, self.second))])

    def picture(self) -> Picture:
        """Draw the plate through the cameras of both, and each item's odds."""
        if not can_compare(self.first, self.second):
            raise InputError(
                "There is no known ground at one of the two positions.",
                "Give terrain that covers both.",
            )
        return Picture(
            side_by_side_figure(self.fix, self.inputs, self.first, self.second)
        )


def two_answers(
    fix: Fix, inputs: FixInputs, first: str | int, second: str | int
) -> TwoAnswers:
    """Return two proposed positions by their names or numbers.

    Raises
    ------
    InputError
        If there is none of such a name or number.
    """
    return TwoAnswers(
        fix, inputs, proposed_called(fix, first), proposed_called(fix, second)
    )


def proposed_called(fix: Fix, which: str | int) -> ProposedTold:
    """Return one proposed position by its name or number, the first being 1.

    Raises
    ------
    InputError
        If there is none of such a name or number.
    """
    for number, told in enumerate(fix.proposed, start=1):
        if which in (number, told.proposed.name):
            return told
    names = ", ".join(told.proposed.name for told in fix.proposed)
    raise InputError(
        f"There is no proposed position {which!r}.",
        f"Choose one of: {names}." if names else "Give locate(..., proposed=[...]).",
    )
