"""Check that a public report names neither who judged nor who proposed."""

from __future__ import annotations

from wherestood.daybook.public.who_judged import without_who_judged
from wherestood.record.page import Section
from wherestood.record.report import Picture
from wherestood.record.report.facts import (
    ConclusionFacts,
    EvidenceFacts,
    PlateFacts,
    SeenFacts,
)

# Every name here is invented.
JUDGED = ConclusionFacts(
    "accepted", "Tamsin's shed.", "Tamsin Orrock", "2026-05-01", "if Orrock is right",
    "the position proposed by Tamsin Orrock",
)  # fmt: skip


def test_that_it_was_accepted_is_told_and_not_by_whom() -> None:
    told = without_who_judged(
        PlateFacts(
            "VW 14", "A paddock", conclusion=JUDGED, earlier=(JUDGED,),
            form={"verdict": "located", "proposed": [{"name": "Tamsin Orrock"}]},
            sections=(
                Section("Why", ("It fits.",)),
                Section("Positions proposed", ("Tamsin Orrock: impossible.",)),
            ),
            seen=(SeenFacts("A", "a gable", identified_by="Tamsin Orrock"),),
            evidence=(
                EvidenceFacts("A", "mark", "point", "read off the plate, T. Orrock"),
                EvidenceFacts("B", "mark", "point", "Rate book, leaf 3"),
            ),
            pictures=(
                Picture("map", "The map.", "The map.", b""),
                Picture("against-1", "Tamsin Orrock", "", b""),
            ),
        )
    )  # fmt: skip
    assert "Orrock" not in repr(told)
    assert "Tamsin" not in repr(told)
    assert told.conclusion is not None
    assert (told.conclusion.conclusion, told.conclusion.decided) == (
        "accepted", "2026-05-01",
    )  # fmt: skip
    assert told.evidence[1].source == "Rate book, leaf 3"
    assert [one.name for one in told.pictures] == ["map"]
    assert "Who judged" in told.withheld[-1]
    assert without_who_judged(told) == told


def test_where_nobody_judged_nothing_is_said_to_be_withheld() -> None:
    plate = PlateFacts("VW 14", "A paddock")
    assert without_who_judged(plate) is plate
