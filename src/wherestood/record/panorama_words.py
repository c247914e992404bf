"""Say the fix of a panorama in plain words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import PurePath

from wherestood.evidence.items import KINDS, Item
from wherestood.fix.panorama_result import OneStation, Panorama
from wherestood.fix.result import Fix
from wherestood.record.checks_words import listed
from wherestood.record.doubt import (
    compass_words,
    distance_in_words,
    give_or_take,
    odds_in_words,
)
from wherestood.record.evidence_words import evidence_section, table_section
from wherestood.record.inputs import FixInputs
from wherestood.record.page import Section
from wherestood.record.words import agreement_lines, not_learned_lines, plain_words

__all__ = ["panorama_words", "plate_names", "with_all_evidence"]

#: Ties are told of as agreeing while they are likelier so than not.
_EVEN = 0.0


def plate_names(inputs: Sequence[FixInputs]) -> tuple[str, ...]:
    """Return what the plates are called: their scans' names, unless told."""
    return tuple(one.called or PurePath(str(one.plate.path)).stem for one in inputs)


def panorama_words(
    panorama: Panorama, inputs: Sequence[FixInputs]
) -> tuple[Section, ...]:
    """Return the answer as a page of short sections, plate by plate where they differ.

    Parameters
    ----------
    panorama : Panorama
    inputs : sequence of FixInputs
        One a plate, in the order given.
    """
    names = plate_names(inputs)
    fixes = panorama.fixes
    whole = plain_words(*with_all_evidence(fixes[0], inputs[0], fixes, inputs))
    # What is each plate's own stands in sections of its own.
    own = {
        "Which way": Section("Which way", tuple(_which_way(panorama, names))),
        "Why": _why(panorama, inputs, names, whole),
        "What the plate did not tell": Section(
            "What the plates did not tell", tuple(_not_learned(panorama, inputs, names))
        ),
    }
    sections: list[Section] = []
    for section in whole:
        if section.heading in ("The evidence, item by item", "The evidence as a table"):
            continue
        if section.heading == "The lens":
            sections.append(Section("The panorama", tuple(_together(panorama, names))))
        if section.heading == "What is assumed":
            sections += _evidence(panorama, inputs, names)
        sections.append(own.get(section.heading, section))
    return tuple(one for one in sections if one.lines or one.table)


def with_all_evidence(
    fix: Fix, own: FixInputs, fixes: Sequence[Fix], inputs: Sequence[FixInputs]
) -> tuple[Fix, FixInputs]:
    """Return one plate's fix with the marks and other items of all plates."""
    kinds: dict[str, tuple[Item, ...]] = {}
    for name in KINDS:
        items: dict[str, Item] = {}
        for one in inputs:
            for item in getattr(one.evidence, name):
                items.setdefault(item.id, item)
        kinds[name] = tuple(items.values())
    evidence = replace(own.evidence, **kinds)  # type: ignore[arg-type]
    rows = [row for row in fix.evidence if "blunder_log_odds" not in row]
    rows += [row for one in fixes for row in one.evidence if "blunder_log_odds" in row]
    return replace(fix, evidence=tuple(rows)), replace(own, evidence=evidence)


def _which_way(panorama: Panorama, names: Sequence[str]) -> Iterator[str]:
    verdict = panorama.fixes[0].verdict
    if verdict == "not determined":
        return
    lead = "" if verdict == "located" else "At the likeliest place, "
    for k in panorama.order:
        camera = panorama.fixes[k].camera
        sight = give_or_take(
            camera.sight_bearing_deg % 360,
            camera.sd.get("sight_bearing_deg", float("nan")),
            "°",
        )
        towards = compass_words(camera.sight_bearing_deg)
        yield (
            f"{lead}{names[k]} looks towards {towards}: its middle bears {sight}, from "
            "true north."
        )


def _together(panorama: Panorama, names: Sequence[str]) -> Iterator[str]:
    """Say how the plates hang, how they are turned, and whether they belong."""
    order = [names[k] for k in panorama.order]
    given = panorama.order == tuple(range(len(names)))
    turned = "as given" if given else "not as given"
    yield (
        f"From left to right hang {listed(order)} ({turned}): "
        f"{odds_in_words(panorama.order_probability)}."
    )
    for number, (left, right) in enumerate(pairwise(order)):
        turn = give_or_take(
            panorama.turns_deg[number], panorama.turns_sd_deg[number], "°"
        )
        yield f"From the middle of {left} to that of {right} the camera turned {turn}."
    if panorama.ties:
        good = sum(tie.blunder_log_odds < _EVEN for tie in panorama.ties)
        pairs = {tie.plates for tie in panorama.ties}
        joined = "; ".join(f"{names[a]} and {names[b]}" for a, b in sorted(pairs))
        agree = "agrees" if good == 1 else "agree"
        yield (
            f"{len(panorama.ties)} things seen on two plates tie them ({joined}); "
            f"{good} {agree} with the cameras found."
        )
    loose = [
        names[k]
        for k in range(len(names))
        if not any(k in tie.plates for tie in panorama.ties)
    ]
    if loose:
        shows = "shows" if len(loose) == 1 else "show"
        yield (
            f"{listed(loose)} {shows} nothing that was recognised on another plate: "
            "how it is turned rests on the hills alone."
        )
    yield from (_belongs(test, names) for test in panorama.one_station)
    lens = "one lens" if panorama.one_lens else "a lens of its own for each plate"
    yield f"Taken for the plates: {lens}."


def _belongs(test: OneStation, names: Sequence[str]) -> str:
    """Say whether one plate shares the station of the others."""
    odds = odds_in_words(test.probability)
    words = f"{names[test.plate]} was taken from the station of the others: {odds}."
    if test.anywhere > 0.5:
        return f"{words} If not, it is from another place altogether."
    far = distance_in_words(test.apart_m)
    most = distance_in_words(test.most_m)
    return f"{words} If not, some {far} from it, and 19 times in 20 within {most}."


def _why(
    panorama: Panorama,
    inputs: Sequence[FixInputs],
    names: Sequence[str],
    whole: Sequence[Section],
) -> Section:
    """Return the reasons, with how each plate's lines agree."""
    first = next((one for one in whole if one.heading == "Why"), Section("Why", ()))
    agree = [
        agreement_lines(fix, one)
        for fix, one in zip(panorama.fixes, inputs, strict=True)
    ]
    common = [line for line in first.lines if line not in agree[0]]
    own = [
        f"{name}: {line[0].lower()}{line[1:]}"
        for name, lines in zip(names, agree, strict=True)
        for line in lines
    ]
    return replace(first, lines=(*common, *own))


def _evidence(
    panorama: Panorama, inputs: Sequence[FixInputs], names: Sequence[str]
) -> Iterator[Section]:
    for fix, one, name in zip(panorama.fixes, inputs, names, strict=True):
        said, table = evidence_section(fix, one), table_section(fix, one)
        yield replace(said, heading=f"The evidence on {name}, item by item")
        yield replace(table, heading=f"The evidence on {name} as a table")


def _not_learned(
    panorama: Panorama, inputs: Sequence[FixInputs], names: Sequence[str]
) -> Iterator[str]:
    said = [
        not_learned_lines(fix.camera, one)
        for fix, one in zip(panorama.fixes, inputs, strict=True)
    ]
    if all(lines == said[0] for lines in said):
        yield from said[0]
        return
    for name, lines in zip(names, said, strict=True):
        yield from (f"{name}: {line[0].lower()}{line[1:]}" for line in lines)
