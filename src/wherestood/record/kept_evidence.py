"""Keep the evidence that a fix rests on, apart from the lines of its skyline file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from wherestood.evidence.dependence import repeats_of_derived
from wherestood.evidence.file_write import write_evidence, write_panorama_evidence
from wherestood.evidence.items import CameraFacts, Evidence
from wherestood.evidence.items.tie import TieMark
from wherestood.record.inputs import FixInputs

__all__ = [
    "EVIDENCE_FILE",
    "apart_from_lines",
    "keep_evidence",
    "keep_panorama_evidence",
]

EVIDENCE_FILE = "evidence.toml"


def apart_from_lines(evidence: Evidence) -> Evidence:
    """Return the evidence without skyline and ridge lines, which have a file.

    Without a line nothing would tell that an item only repeats it: such an item
    counted nothing, and is left out too.
    """
    lines = {line.id for line in (*evidence.skylines, *evidence.ridge_lines)}
    origins = repeats_of_derived(evidence.items())
    gone = [name for name, origin in origins.items() if origin in lines]
    return replace(evidence.without(gone), skylines=(), ridge_lines=())


def keep_evidence(inputs: FixInputs, folder: Path) -> Path | None:
    """Write the evidence file into a folder; return None where there is none."""
    rest = apart_from_lines(inputs.evidence)
    told = (
        rest.features
        or rest.changed_ground
        or rest.date
        or any(True for _ in rest.items())
    )
    if not told and rest.camera == CameraFacts():
        return None
    path = folder / EVIDENCE_FILE
    write_evidence(
        rest, path, width_px=inputs.plate.width_px, height_px=inputs.plate.height_px
    )
    return path


def keep_panorama_evidence(
    inputs: Sequence[FixInputs],
    names: Sequence[str],
    ties: Sequence[TieMark],
    folder: Path,
) -> Path | None:
    """Write one evidence file for all plates; return None where there is none."""
    rest = {
        name: apart_from_lines(one.evidence)
        for name, one in zip(names, inputs, strict=True)
    }
    told = any(
        one.features or any(True for _ in one.items()) or one.camera != CameraFacts()
        for one in rest.values()
    )
    if not told and not ties:
        return None
    return write_panorama_evidence(rest, ties, folder / EVIDENCE_FILE)
