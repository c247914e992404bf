"""Tell in words what was withdrawn, or would be."""

from __future__ import annotations

from dataclasses import dataclass

from wherestood.daybook.withdraw import Withdrawn

__all__ = ["WithdrawnTold", "withdrawn_in_words"]

_SHOWN = 10


@dataclass(frozen=True)
class WithdrawnTold:
    """Hold sentences about a withdrawal.

    Attributes
    ----------
    said : tuple of str
        What went.
    warned : tuple of str
        What a person should look at.
    """

    said: tuple[str, ...]
    warned: tuple[str, ...]


def withdrawn_in_words(
    done: Withdrawn, *, everywhere: bool = False, dry_run: bool = False
) -> WithdrawnTold:
    """Return what was withdrawn, or in a dry run would be."""
    said, warned = [], []
    if done.stubs:
        names = ", ".join(done.stubs)
        said.append(
            f"Would withdraw {names}. A stub of each would be left."
            if dry_run
            else f"Withdrew {names}. A stub of each is left."
        )
    deleted = "Would delete" if dry_run else "Deleted"
    said += [f"{deleted} {name}" for name in done.files]
    places = ", ".join(done.redacted)
    if everywhere:
        places = f"{places + ' and ' if places else ''}the journal"
    if places:
        same = "same words" if done.stubs else "words"
        taken = "would be taken" if dry_run else "were taken"
        said.append(f"The {same} {taken} out of {places}.")
    warned += [
        f"Note: {name} is outside the daybook and still there; delete it."
        for name in done.left_in_place
    ]
    if done.beside:
        more = len(done.beside) - _SHOWN
        names = ", ".join(done.beside[:_SHOWN]) + (f" and {more} more" * (more > 0))
        warned.append(
            f"Note: these files in the folder are none of the daybook's, and may hold "
            f"it: {names}. Look at them."
        )
    if done.issued:
        warned.append(
            "Note: issued reports stay as they went out, and may tell of it: "
            f"{', '.join(done.issued)}. Look at them; wherestood reports withdraw "
            "REPORT takes one back, wherestood reports show names who received it."
        )
    if done.still_in:
        warned.append(
            f"Note: the same words {'would ' if dry_run else ''}still stand in "
            f"{', '.join(done.still_in)}. "
            + (
                "They are names of files or settings there, which the program needs: "
                "withdraw each of these as well."
                if everywhere
                else (
                    "With --everywhere they go there too, and nothing else of these."
                    if dry_run
                    else "To take them out there too, and nothing else of these, name "
                    "them with --everywhere --words: a change would leave them in the "
                    "journal."
                )
            )
        )
    if done.parts_in or done.acts:
        words = " ".join(f'--words "{word}"' for word in done.parts)
        acts = f"what the journal tells of acts {', '.join(done.acts)}"
        where = [*done.parts_in, *([acts] if done.acts else [])]
        warned.append(
            "Note: single words of it, or other forms of them, stand in "
            f"{', '.join(where)}. Read these"
            + (
                f"; --everywhere {words} takes them out, now or later. What an act of "
                "withdrawing was done for stays."
                if words
                else "; why content was withdrawn stays to be read."
            )
        )
    if done.keys:
        warned.append(
            f"Note: a form of the words stands in the key of {', '.join(done.keys)}. "
            "Keys stay, as others refer to them, in the journal too."
        )
    if done.signed:
        names = " and by ".join(map(repr, done.signed))
        stay = "would stay" if dry_run else "stay"
        options = " ".join(f'--words "{name}"' for name in done.signed)
        warned.append(
            f"Note: acts in the journal are by {names}, and {stay} so named. "
            f"--everywhere {options} takes the name out there too, now or later."
        )
    if not done.finished:
        warned.append(
            "Note: another program has the daybook open, the disk is full, or a file "
            "in out/ cannot be deleted. What was withdrawn is overwritten when the "
            "daybook is next opened."
        )
    return WithdrawnTold(tuple(said), tuple(warned))
