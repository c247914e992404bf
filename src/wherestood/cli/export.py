"""Answer ``wherestood export``."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

import wherestood
from wherestood.cli.book import DaybookFolder, open_daybook
from wherestood.cli.options import AsJson
from wherestood.cli.screen import say, say_json, stages, warn
from wherestood.errors import InputError

if TYPE_CHECKING:
    from wherestood.daybook import Daybook
    from wherestood.daybook.handing_out import Wanted
    from wherestood.daybook.handing_out_files import HandOver

__all__ = ["export"]

_SHOWN = 20
_RESTRICTED = (
    "Note: full, restricted: places are as they are known, what is withheld from a "
    "public copy too."
)
_GIVES_AWAY = (
    "Note: a picture itself may still give its place away. Titles of plates told "
    "exactly are as they were written, the others' stay out; read what goes out "
    "before you publish."
)


def export(
    out: Annotated[
        Path,
        typer.Argument(metavar="OUT", help="A new folder, or a file ending in .zip."),
    ],
    plate: Annotated[
        list[str] | None,
        typer.Option(metavar="KEY", help="A plate; may be repeated. All unless told."),
    ] = None,
    public: Annotated[
        bool | None,
        typer.Option(
            "--public/--full",
            help="For everybody, or all as it is known for those who may know it.",
        ),
    ] = None,
    form: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME", help="A form, as geojson; may be repeated."),
    ] = None,
    title: Annotated[
        str, typer.Option(metavar="WORDS", help="What the whole is called.")
    ] = "",
    address: Annotated[
        str,
        typer.Option(metavar="URL", help="Where it will be on the web, for manifests."),
    ] = "",
    no_pictures: Annotated[
        bool, typer.Option("--no-pictures", help="Without pictures.")
    ] = False,
    leave_out: Annotated[
        bool,
        typer.Option(
            "--leave-out", help="Leave out what recorded terms forbid, without asking."
        ),
    ] = False,
    fix: Annotated[
        Path | None,
        typer.Option(
            metavar="FIX", help="A bare answer instead: its fix.json, or its folder."
        ),
    ] = None,
    scan: Annotated[
        list[Path] | None,
        typer.Option(metavar="SCAN", help="The scan of a bare answer, to go along."),
    ] = None,
    then_and_now: Annotated[
        list[str] | None,
        typer.Option(
            metavar="[PLATE=]DIR",
            help="A folder of wherestood then-and-now, for the page; may be repeated.",
        ),
    ] = None,
    photographs: Annotated[
        bool,
        typer.Option(
            "--photographs",
            help="With the photographs made on the spot that the daybook keeps, on the "
            "page.",
        ),
    ] = False,
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Hand answers out in forms that other programs and catalogues take over."""
    from wherestood.record.export.formats import check_formats

    forms = check_formats(form or ())
    if address and not address.startswith(("https://", "http://")):
        raise InputError(
            f"The address {address!r} is none of the web.",
            "Give it whole, as in https://museum.example/valley.",
        )
    if fix is not None:
        if public or plate or leave_out or photographs:
            raise InputError(
                "A bare answer knows of no restriction, and goes out whole.",
                "Leave --public, --plate, --leave-out and --photographs away.",
            )
        both = Path(then_and_now[-1]) if then_and_now else None
        _bare(out, fix, scan or (), forms, (title, address), both, as_json=json)
        return
    if scan:
        raise InputError(
            "A scan goes with a bare answer.", "Add --fix, or leave it away."
        )
    if public is None:
        raise InputError(
            "It is not said for whom this is.",
            "Add --public for everybody, or --full for those who may know every place.",
        )
    from wherestood.daybook.handing_out import Wanted

    wanted = Wanted(
        "public" if public else "full",
        tuple(plate or ()),
        title,
        not no_pictures,
        address,
        _by_plate(then_and_now or ()),
        photographs,
    )
    with open_daybook(daybook) as book:
        made = _of_book(book, out, wanted, forms, leave_out=leave_out, as_json=json)
    if json:
        say_json({**asdict(made), "path": str(made.path)})
    else:
        _say(made)


def _by_plate(given: Sequence[str]) -> dict[str, Path]:
    """Read folders of photographs laid over plates."""
    found = {}
    for one in given:
        key, equals, folder = one.partition("=")
        if not equals or not key or not folder:
            raise InputError(
                f"It is not said which plate's then and now {one!r} is.",
                "Write the plate's key before it, as in 1987.12=then-and-now.",
            )
        found[key] = Path(folder)
    return found


def _of_book(
    book: Daybook,
    out: Path,
    wanted: Wanted,
    forms: Sequence[str],
    *,
    leave_out: bool,
    as_json: bool,
) -> HandOver:
    from wherestood.daybook.handing_out import gather
    from wherestood.daybook.handing_out_files import hand_out, term_trouble

    if wanted.kind == "public" and not leave_out and not as_json and sys.stdin.isatty():
        broken = gather(book, wanted).broken
        if broken:
            warn(term_trouble(broken).problem)
            if not typer.confirm("Go on without these?", err=True):
                raise typer.Abort
            leave_out = True
    with stages() as shown:
        return hand_out(book, out, wanted, forms, leave_out=leave_out, progress=shown)


def _say(made: HandOver) -> None:
    from wherestood.daybook.counted import counted

    kind = "a public copy" if made.kind == "public" else "full, restricted"
    text = (
        f"Wrote {made.path}, {kind}: {counted(made.plates, 'plate')}, places of "
        f"{made.places}, {counted(made.pictures, 'picture')}, "
        f"{counted(len(made.files), 'file')}."
    )
    if made.kind == "public":
        many = counted(made.withheld, "plate")
        text += f" Of {many} the place is not told as it is known."
    say(text)
    for sentence in made.left_out[:_SHOWN]:
        say(f"  {sentence}")
    if len(made.left_out) > _SHOWN:
        say(f"  ... and {len(made.left_out) - _SHOWN} more; --json names all.")
    say(f"What is what: {made.path.name}/README.txt")
    for sentence in made.cautions:
        warn(f"Warning: {sentence}")
    if made.kind == "full":
        warn(_RESTRICTED)
    elif made.pictures and made.withheld:
        warn(_GIVES_AWAY)


def _bare(
    out: Path,
    fix: Path,
    scans: Sequence[Path],
    forms: Sequence[str],
    named: tuple[str, str],
    both: Path | None,
    *,
    as_json: bool,
) -> None:
    from dataclasses import replace

    from wherestood.record.export.formats import FORMATS, write_formats
    from wherestood.record.export.of_fix import handed_of_fix
    from wherestood.record.export.pictures_of_fix import then_and_now_in
    from wherestood.record.export.whole import whole_at_the_end
    from wherestood.record.fix_json import read_fix

    file = fix / "fix.json" if fix.is_dir() else fix
    form = read_fix(file)
    made = datetime.now(UTC).isoformat(timespec="seconds")
    handed = handed_of_fix(
        form, scans=scans, beside=file.parent, made=made, version=wherestood.__version__
    )
    if both is not None:
        plate = replace(handed.plates[0], then_and_now=then_and_now_in(both))
        handed = replace(handed, plates=(plate, *handed.plates[1:]))
    handed = replace(handed, title=named[0] or handed.title, address=named[1])
    with stages() as shown, whole_at_the_end(out) as folder:
        written = write_formats(folder, handed, forms, shown)
        files = [
            path.relative_to(folder).as_posix()
            for path in sorted(folder.rglob("*"))
            if path.is_file()
        ]
    if as_json:
        say_json({"path": str(out), "kind": handed.kind, "files": files})
        return
    say(f"Wrote {out}:")
    for name in written.forms:
        say(f"  {FORMATS[name]}")
    warn(_RESTRICTED)
