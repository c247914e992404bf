"""Write the page of what the study found, from its tables."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import numpy as np

from calibration.counting import (
    BAND,
    NEAR_M,
    RELIEF_DEG,
    Held,
    Line,
    added,
    band,
    certainty,
    found_within,
    held_in_parts,
    numbers,
    tried_lines,
)
from calibration.keeping import read_table
from calibration.plan import Part, Plan
from calibration.plots import (
    MOST_TIMES,
    draw_added,
    draw_found,
    draw_held,
    draw_sharp,
)
from calibration.searching import LEVELS, RIGHT_M
from calibration.trying import CHANCE, SPAN_M
from wherestood.record.atomic import write_text_atomically

#: Shares that plates with more noise than assumed must reach at least.
LEAST_WITH_MORE = {0.9: 0.85, 0.99: 0.95}
#: False certainty: so many of 300 may be located, at most.
MOST_FALSE = 0.02
#: ... and so many of those that could well be are to be, at least.
LEAST_SAID = 0.7
#: Ground walked, for the table [ha].
WALKED_HA = (0.1, 1.0, 5.0, 20.0)
_NOTHING = "None ran.\n"


def write_page(plan: Plan, docs: Path) -> None:
    """Write ``calibration.md`` and its pictures beside the tables."""
    tables = {
        name: read_table(docs / "calibration" / f"{name}.csv") for name in plan.parts
    }
    done = {name: tried_lines(lines) for name, lines in tables.items()}
    parts = [
        _OPENING.format(km2=plan.ground_km2),
        _what_ran(plan, tables),
        _held(done, docs, plan),
        _sharp(done, docs, plan),
        _added(done["added_evidence"], docs),
        _certain(done, plan),
        _reversed(done["reversed_plates"]),
    ]
    write_text_atomically(docs / "calibration.md", "\n".join(parts))


_OPENING = """# Do regions hold what they promise?

`make calibrate` writes this page. Plates are invented on real ground (the Jacksboro
sample that ships with matplotlib) and on invented ground, in turn. Their skylines come
from ray casts on a triangle mesh, which share no code with the horizon that the search
computes. Each is searched on {km2:g} km2 with the station anywhere in it, lens and
bearing unknown. Nothing here is a historical plate. What else was measured, and why the
settings are what they are: [coverage](coverage.md).

Seeds and numbers are fixed in `benchmarks/calibration/plan.toml`; a run cut short
(Ctrl-C) goes on where it was; `make calibrate CALIBRATE_ARGS="--share 0.1"` runs a
tenth of each part. Every plate's result is kept as a line of `docs/calibration/`.

- *Own noise*: the skyline errs as the program believes skylines err. The size of that
  is drawn from the program's own levels; the skyline itself, and the distances that the
  errors hang on, are the mesh's.
- *More noise*: trees of 18 to 30 m in small patches, a model off by 5 to 10 m and
  smoothed, refraction 0.13 with a standard error of 0.1, tracing two to three times as
  rough, one stretch of it along something that is no skyline.
"""


def _what_ran(plan: Plan, tables: dict[str, list[Line]]) -> str:
    lines = [
        "## What ran",
        "",
        "| part | planned | ran | impossible | commits | processor s a plate |",
        "| --- | ---: | ---: | ---: | --- | ---: |",
    ]
    for name, part in plan.parts.items():
        every = tables[name]
        seen = {line["plate"]: line for line in every}
        ran = list(seen.values())
        numbered = f"{part.plates} | {len(ran)}"
        out = sum(bool(line.get("left_out")) for line in ran)
        commits = Counter(line["commit"] for line in ran)
        named = ", ".join(f"{commit} ({count})" for commit, count in commits.items())
        seconds = numbers(tried_lines(ran), "seconds")
        cost = f"{np.median(seconds):.0f}" if seconds.size else ""
        lines.append(f"| {_words(part)} | {numbered} | {out} | {named} | {cost} |")
    lines += [
        "",
        "*Impossible*: of those that ran, the world offered no such view in six "
        "tries, or too little of the skyline was left to search by. Processor seconds "
        "are of one core, in the median. A plus after a commit: sources were changed.",
        "",
    ]
    return "\n".join(lines)


def _words(part: Part) -> str:
    return part.name.replace("_", " ")


def _held(done: dict[str, list[Line]], docs: Path, plan: Plan) -> str:
    own, more = done["own_noise"], done["more_noise"]
    text = ["## Does the region hold the station?", ""]
    if not (own or more):
        return "\n".join([*text, _NOTHING])
    draw_held(docs / "calibration" / "held.png", {"own noise": own, "more noise": more})
    text += [
        "![How often regions held the station against their probability]"
        "(calibration/held.png)",
        "",
        f"The grey band: where {BAND:.0%} of perfect programs would lie.",
        "",
    ]
    for name, lines in (("own noise", own), ("more noise", more)):
        text += [f"### {name.capitalize()}", "", *_held_table(held_in_parts(lines)), ""]
        found = _own_found if name == "own noise" else _more_found
        planned = plan.parts[name.replace(" ", "_")].plates
        text += [found(lines, planned), ""]
    return "\n".join(text)


def _held_table(rows: list[Held]) -> list[str]:
    lines = [
        "| plates | number | 50% | 90% | 99% | median 90% area [ha] |",
        "| --- | ---: | ---: | ---: | ---: | ---: |",
    ]
    for row in rows:
        if row.count:
            held = " | ".join(str(count) for count in row.held)
            area = f"{row.area_ha:.2g}"
            lines.append(f"| {row.name} | {row.count} | {held} | {area} |")
    return lines


def _own_found(lines: list[Line], planned: int) -> str:
    if not lines:
        return _NOTHING
    whole = held_in_parts(lines)[0]
    parts = []
    for level, held in zip(LEVELS, whole.held, strict=True):
        low, high = band(whole.count, level)
        said = "as it should" if low <= held <= high else "**missed**"
        parts.append(f"the {level:.0%} region {held}, {low} to {high} asked: {said}")
    return (
        f"Of {whole.count} plates, {planned} planned ({BAND:.0%} of perfect programs "
        "lie in the range): "
        + "; ".join(parts)
        + ". Horizons are near "
        + f"where their median is under {NEAR_M / 1000:g} km; relief is the scatter of "
        f"the skyline about a straight line, split at {RELIEF_DEG:g} deg."
    )


def _more_found(lines: list[Line], planned: int) -> str:
    if not lines:
        return _NOTHING
    whole = held_in_parts(lines)[0]
    parts = []
    for level, held in zip(LEVELS, whole.held, strict=True):
        if level in LEAST_WITH_MORE:
            least = LEAST_WITH_MORE[level]
            share = held / whole.count
            said = "as asked" if share >= least else "**missed**"
            parts.append(
                f"the {level:.0%} region {share:.0%}, at least {least:.0%} asked: "
                f"{said}"
            )
    return f"Of {whole.count} plates, {planned} planned: " + "; ".join(parts) + "."


def _sharp(done: dict[str, list[Line]], docs: Path, plan: Plan) -> str:
    own, more = done["own_noise"], done["more_noise"]
    text = ["## Is it as small as it could be?", ""]
    if not own:
        return "\n".join([*text, _NOTHING])
    folder = docs / "calibration"
    draw_sharp(folder / "sharp.png", own)
    draw_found(
        folder / "found.png", {"own noise": own, "more noise": more}, plan.ground_km2
    )
    area, bound = numbers(own, "area_90_ha"), numbers(own, "bound_area_ha")
    times = float(np.median(area) / np.median(bound))
    said = "as asked" if times <= MOST_TIMES else "**missed**"
    text += [
        "A region can be honest and useless: all of the ground always holds the "
        "station. The *bound* is the region of one who knows the level of noise that "
        "was drawn, counts the skyline in full, and has no other place to confuse the "
        "station with (`benchmarks/calibration/bound.py`).",
        "",
        f"Own noise: the 90% region has {np.median(area):.2g} ha in the median, the "
        f"bound {np.median(bound):.2g} ha, {times:.1f} times as much; at most "
        f"{MOST_TIMES:g} times is asked: {said}. Plate by plate the ratio is "
        f"{np.median(area / bound):.1f} in the median.",
        "",
        "![Areas of regions against the smallest that could be](calibration/sharp.png)",
        "",
        "How much ground must be walked, the likeliest first, until the station is "
        "found:",
        "",
        "![Share of stations found against ground walked](calibration/found.png)",
        "",
        "| plates | "
        + " | ".join(f"{area:g} ha" for area in WALKED_HA)
        + f" | first place within {RIGHT_M:g} m | one of six |",
        "| --- |" + " ---: |" * (len(WALKED_HA) + 2),
    ]
    for name, lines in (("own noise", own), ("more noise", more)):
        if lines:
            found = found_within(lines, np.array(WALKED_HA))
            rank = numbers(lines, "rank")
            shares = [*found, (rank == 1).mean(), (rank > 0).mean()]
            cells = " | ".join(f"{share:.0%}" for share in shares)
            text.append(f"| {name} | {cells} |")
    return "\n".join([*text, ""])


def _added(lines: list[Line], docs: Path) -> str:
    text = ["## What each kind of evidence adds", ""]
    if not lines:
        return "\n".join([*text, _NOTHING])
    rows = added(lines)
    draw_added(docs / "calibration" / "added.png", rows)
    text += [
        "Each alone beside the skyline, on the same plates (the renderer's usual "
        "trees, model and tracing). Features are known to 5 m, heights to 2 m, marks "
        "to 2 px.",
        "",
        "![What each kind leaves of the region of the skyline alone]"
        "(calibration/added.png)",
        "",
        "| beside the skyline | plates | median 90% area without [ha] | with [ha] | "
        "ratio, median (middle half) | 90% region held |",
        "| --- | ---: | ---: | ---: | --- | ---: |",
    ]
    for row in rows:
        name = "nothing" if row.kind == "alone" else row.kind
        text.append(
            f"| {name} | {row.count} | {row.alone_ha:.2g} | {row.with_ha:.2g} | "
            f"{row.ratio:.2f} ({row.low:.2f} to {row.high:.2f}) | {row.held} |"
        )
    return "\n".join([*text, ""])


def _certain(done: dict[str, list[Line]], plan: Plan) -> str:
    text = ["## False certainty", ""]
    wrong, flat, own = (
        done[name] for name in ("wrong_ground", "flat_skyline", "own_noise")
    )
    if not (wrong or flat):
        return "\n".join([*text, _NOTHING])
    located = [int((numbers(lines, "located") == 1).sum()) for lines in (wrong, flat)]
    tried, said = len(wrong) + len(flat), sum(located)
    most = int(MOST_FALSE * tried)
    text += [
        f"`located` was said of {located[0]} of {len(wrong)} plates whose station lies "
        f"4.5 km or more from the ground searched, and of {located[1]} of {len(flat)} "
        f"whose skyline scatters less than 0.1 deg about a straight line: {said} of "
        f"{tried}, at most {most} asked: "
        + ("as asked." if said <= most else "**missed**."),
        "",
    ]
    if own:
        found = certainty(own, plan.near_enough_m)
        text += [_silence(found.expected, found.said), ""]
        text += [
            f"Of all {len(own)} plates with the program's own noise {found.located} "
            f"were located to {plan.near_enough_m:g} m, {found.wrong} of them wrongly.",
            "",
        ]
    return "\n".join(text)


def _silence(expected: int, said: int) -> str:
    """Say whether the program speaks where it could well."""
    if not expected:
        return (
            f"No plate's bound spans {SPAN_M:g} m at most with a chance under "
            f"{CHANCE:.0%}, so nothing is said of silence."
        )
    met = "as asked" if said >= LEAST_SAID * expected else "**missed**"
    return (
        f"So that silence does not pass: of the {expected} plates with the program's "
        f"own noise whose bound spans at most {SPAN_M:g} m, and whose chance is under "
        f"{CHANCE:.0%}, {said} were `located`, at least {LEAST_SAID:.0%} asked: {met}."
    )


def _reversed(lines: list[Line]) -> str:
    text = ["## Left for right", ""]
    if not lines:
        return "\n".join([*text, _NOTHING])
    is_so = numbers(lines, "reversed") == 1
    said = numbers(lines, "said_reversed")
    located = numbers(lines, "located") == 1
    right = (said > 0.5) == is_so
    met = "as asked" if right[located].all() else "**missed**"
    text += [
        f"{len(lines)} plates, {int(is_so.sum())} scanned left for right, as often as "
        "glass negatives and direct positives are; the program is told which of the "
        "two a plate is, and nothing else. The odds were the right way round for "
        f"{int(right[located].sum())} of the {int(located.sum())} located (all asked: "
        f"{met}), and for {int(right.sum())} of all {len(lines)}; for "
        f"{int(_before(lines, is_so))} the process alone would have been right.",
        "",
        "| said to be reversed | plates | expected reversed | reversed |",
        "| --- | ---: | ---: | ---: |",
    ]
    for low, high in ((0.0, 0.1), (0.1, 0.5), (0.5, 0.9), (0.9, 1.0)):
        which = (said >= low) & ((said < high) | (high == 1.0))
        expected = said[which].sum()
        text.append(
            f"| {low:.0%} to {high:.0%} | {int(which.sum())} | {expected:.1f} | "
            f"{int(is_so[which].sum())} |"
        )
    return "\n".join([*text, ""])


def _before(lines: list[Line], is_so: np.ndarray) -> int:
    """Return how often the process alone is right."""
    likely = np.array([line["process"] == "direct positive" for line in lines])
    return int((likely == is_so).sum())
