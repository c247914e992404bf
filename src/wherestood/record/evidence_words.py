"""Say what became of all the evidence, item by item, and as a table."""

from __future__ import annotations

import math
from typing import Any

from wherestood.evidence.items import Evidence
from wherestood.fix.result import Fix
from wherestood.record.doubt import odds_in_words
from wherestood.record.inputs import FixInputs
from wherestood.record.item_words import (
    blunder_share,
    item_sentence,
    off_by,
    short_name,
    thing_name,
    two_digits,
)
from wherestood.record.page import Section
from wherestood.record.ridge_words import explained, ridges_counted
from wherestood.record.uncounted import uncounted

__all__ = ["evidence_section", "table_section"]

_HEAD = ("item", "what", "off by", "chance of a blunder")


def evidence_section(fix: Fix, inputs: FixInputs) -> Section:
    """Return a line for every item, blunders first, and for what did not count."""
    rows = sorted(_told(fix), key=lambda row: -round(blunder_share(row)))
    where = "the camera position" if fix.verdict == "located" else "the likeliest place"
    lines = [item_sentence(row, inputs.evidence) for row in rows]
    if lines:
        lines.insert(0, f"Seen from {where}:")
    lines += [
        f"{one.words} counts nothing: {one.why}." for one in uncounted(fix, inputs)
    ]
    lines += [str(complaint) for complaint in inputs.complaints]
    return Section("The evidence, item by item", tuple(lines))


def table_section(fix: Fix, inputs: FixInputs) -> Section:
    """Return the table of evidence; empty where skyline and ridge lines are all."""
    rows = [
        (
            short_name(row),
            _what(row["kind"], row.get("feature", ""), inputs.evidence),
            off_by(row),
            odds_in_words(blunder_share(row)),
        )
        for row in _told(fix)
    ]
    skipped = uncounted(fix, inputs)
    if not rows and not skipped:
        return Section("The evidence as a table", ())
    silent = [
        (short_name({"id": one.name, "kind": one.kind}), one.kind, "", "counts nothing")
        for one in skipped
    ]
    return Section(
        "The evidence as a table", (), (_HEAD, *_lines_rows(fix), *rows, *silent)
    )


def _told(fix: Fix) -> list[dict[str, Any]]:
    return [row for row in fix.evidence if "blunder_log_odds" in row]


def _what(kind: str, feature: str, evidence: Evidence) -> str:
    return f"{kind}: {thing_name(evidence, feature)}" if feature else kind


def _lines_rows(fix: Fix) -> list[tuple[str, str, str, str]]:
    """Return the rows of what was traced: the skyline, and ridge lines together."""
    rows = []
    for row in fix.evidence:
        if row["kind"] == "skyline" and math.isfinite(fix.rms_px):
            off = f"{two_digits(fix.rms_px)} px (typical)"
            rows.append((str(row["id"]), "traced line", off, ""))
    if counted := ridges_counted(fix):
        agree = sum(explained(item) for item in counted)
        what = f"{len(counted)} traced lines"
        rows.append(("ridge lines", what, f"{agree} agree", ""))
    return rows
