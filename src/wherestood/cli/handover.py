"""Answer ``wherestood bag``, ``unbag`` and ``merge``."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wherestood.cli.book import (
    DaybookFolder,
    Person,
    Why,
    open_daybook,
    person_named,
)
from wherestood.cli.options import AsJson
from wherestood.cli.screen import say, say_json, stages, warn
from wherestood.errors import InputError

if TYPE_CHECKING:
    from wherestood.daybook.public import LeftOut

__all__ = ["bag", "merge", "say_left_out", "unbag"]

_SHOWN = 20


def bag(
    out: Annotated[
        Path,
        typer.Argument(metavar="BAG", help="A new folder, or a file ending in .zip."),
    ],
    info: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LABEL=WORDS",
            help="A line of bag-info.txt, as Contact-Name=Ada Moss. Repeatable.",
        ),
    ] = None,
    public: Annotated[
        bool,
        typer.Option(
            "--public", help="A public copy: what gives restricted places away is out."
        ),
    ] = False,
    no_pictures: Annotated[
        bool, typer.Option("--no-pictures", help="A public copy without pictures.")
    ] = False,
    leave_out: Annotated[
        bool,
        typer.Option(
            "--leave-out",
            help="Leave pictures out whose terms forbid publishing, without asking.",
        ),
    ] = False,
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Hand the whole daybook over as a bag (RFC 8493), or a public copy of it."""
    from wherestood.daybook.counted import counted
    from wherestood.daybook.handover import write_bag

    told = _info_told(info)
    if public:
        _public_copy(
            out, daybook, told, pictures=not no_pictures, leave_out=leave_out,
            as_json=json,
        )  # fmt: skip
        return
    if no_pictures or leave_out:
        raise InputError(
            "A full hand-over holds everything.",
            "Add --public, or leave --no-pictures and --leave-out away.",
        )
    with open_daybook(daybook) as book, stages() as shown:
        made = write_bag(book, out, info=told, progress=shown)
        within = made.path.resolve().is_relative_to(book.folder.resolve())
    if json:
        say_json({**asdict(made), "path": str(made.path)})
    else:
        say(
            f"Wrote {made.path}: {counted(made.plates, 'plate')}, "
            f"{counted(made.files, 'file')}, "
            f"{made.size_bytes / 1e6:.1f} MB."
        )
        for lost in made.lost:
            warn(f"Note: {lost} The bag is written all the same, and tells of it.")
        warn(
            "Note: full, restricted: the bag holds everything, what is withheld from a "
            "public copy too."
        )
    if within:
        warn(
            "Note: the bag lies in the daybook's own folder. What is withdrawn later "
            "would stay in it: move it out."
        )


def _info_told(info: list[str] | None) -> dict[str, str]:
    told = {}
    for text in info or ():
        label, mark, words = text.partition("=")
        if not mark:
            raise InputError(
                f"A line of bag-info.txt was given as {text!r}.",
                "Write it as LABEL=WORDS.",
            )
        told[label.strip()] = words.strip()
    return told


def _public_copy(
    out: Path,
    folder: Path | None,
    info: dict[str, str],
    *,
    pictures: bool,
    leave_out: bool,
    as_json: bool,
) -> None:
    from wherestood.daybook.counted import counted
    from wherestood.daybook.public import write_public_copy
    from wherestood.daybook.public.pictures import forbidden_pictures

    with open_daybook(folder) as book:
        if pictures and not leave_out:
            with book.reading() as session:
                _ask_leave(forbidden_pictures(session), as_json=as_json)
        with stages() as shown:
            made = write_public_copy(
                book, out, pictures=pictures, info=info, progress=shown
            )
    if as_json:
        say_json({**asdict(made), "kind": "public copy", "path": str(made.path)})
        return
    say(
        f"Wrote {made.path}, a public copy: {counted(made.plates, 'plate')}, "
        f"{counted(made.pictures, 'picture')}, "
        f"{counted(made.positions, 'accepted position')}; of "
        f"{counted(made.restricted, 'plate')} the place is not told as it is known."
    )
    say_left_out(made.left_out)
    for caution in made.cautions:
        warn(f"Note: {caution}")
    if made.pictures:
        warn(
            "Note: a picture itself may still give its place away. Titles of plates "
            "told as they are known are as they were written; read them before you "
            "publish."
        )


def _ask_leave(forbidden: Sequence[LeftOut], *, as_json: bool) -> None:
    """Stop where recorded terms would be broken, unless a person says to go on."""
    if not forbidden:
        return
    from wherestood.daybook.counted import counted

    many = counted(len(forbidden), "picture")
    first = ", ".join(one.plate for one in forbidden[:_SHOWN])
    more = ", ..." if len(forbidden) > _SHOWN else ""
    what = f"The terms recorded for {many} forbid publishing: {first}{more}."
    if not as_json and sys.stdin.isatty():
        warn(what)
        if typer.confirm("Go on without these pictures?", err=True):
            return
        raise typer.Abort
    raise InputError(what, "Add --leave-out to go on without these pictures.")


def say_left_out(left_out: Sequence[LeftOut]) -> None:
    """Say what stays out of a public copy, the first of many."""
    for one in left_out[:_SHOWN]:
        say(f"  {one.sentence()}")
    if len(left_out) > _SHOWN:
        say(f"  ... and {len(left_out) - _SHOWN} more; --json names all.")


def unbag(
    source: Annotated[
        Path, typer.Argument(metavar="BAG", help="A bag's folder, or a zip of it.")
    ],
    out: Annotated[
        Path, typer.Argument(metavar="DIR", help="New folder for the daybook.")
    ],
    person: Person = None,
    json: AsJson = False,
) -> None:
    """Take a daybook out of a bag, verified, whole or not at all."""
    from wherestood.daybook.counted import counted
    from wherestood.daybook.handover import read_bag

    with stages() as shown:
        back = read_bag(source, out, person_named(person), progress=shown)
    if json:
        say_json(
            {
                "daybook": str(back.folder),
                "plates": back.plates,
                "files": back.files,
                "brought_in": list(back.brought_in),
                "findings": [asdict(finding) for finding in back.findings],
            }
        )
        return
    for finding in back.findings:
        warn(f"Note: {finding.sentence}")
    say(
        f"Made {back.folder}: {counted(back.plates, 'plate')}, "
        f"{counted(back.files, 'file')}, all verified."
    )
    if back.brought_in:
        say(
            f"{len(back.brought_in)} files that had been left in place elsewhere are "
            "taken in now."
        )


def merge(
    other: Annotated[
        Path,
        typer.Argument(metavar="OTHER", help="The other copy: its folder, or a bag."),
    ],
    unrelated: Annotated[
        bool, typer.Option("--unrelated", help="Though the two are no copies of one.")
    ] = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what would happen.")
    ] = False,
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Merge another person's copy of this daybook into it."""
    from wherestood.daybook.handover import merge as merged_with
    from wherestood.daybook.handover import merge_in_words, other_copy

    named = person_named(person)
    with (
        open_daybook(daybook) as book,
        other_copy(other, named, book) as theirs,
        stages() as shown,
    ):
        merged = merged_with(
            book,
            theirs,
            named,
            why,
            unrelated=unrelated,
            dry_run=dry_run,
            progress=shown,
        )
    if json:
        say_json(
            {
                **asdict(merged),
                "dry_run": dry_run,
                "conflicts": [one.as_json() for one in merged.conflicts],
                "kept_out": merged.kept_out.as_json(),
                "files": list(merged.files),
                "outside": list(merged.outside),
            }
        )
        return
    told = merge_in_words(merged, dry_run=dry_run)
    for sentence in told.said:
        say(sentence)
    for sentence in told.warned:
        warn(sentence)
