"""Write the fix of a panorama in its published form, ``fix.json``."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import jsonschema

from wherestood.fix.panorama_result import Panorama
from wherestood.record.atomic import write_text_atomically
from wherestood.record.camera_json import camera_form
from wherestood.record.fix_json import fix_schema, fix_to_json
from wherestood.record.inputs import FixInputs, Making
from wherestood.record.panorama_words import plate_names
from wherestood.record.plain import plain, rounded

__all__ = ["panorama_to_json", "together_form", "write_panorama"]


def panorama_to_json(
    panorama: Panorama, inputs: Sequence[FixInputs], making: Making
) -> dict[str, Any]:
    """Return the published form of a panorama's fix.

    Parameters
    ----------
    panorama : Panorama
        The answer.
    inputs : sequence of FixInputs
        What it was made from, one a plate in the order given.
    making : Making
        When and by what version it is written.
    """
    fixes = panorama.fixes
    form = fix_to_json(fixes[0], inputs[0], making)
    del form["camera"]
    # What is drawn is of one plate's camera.
    form.pop("draws", None)
    form["cameras"] = [camera_form(fix.camera) for fix in fixes]
    for number, other in enumerate(form["alternatives"]):
        del other["camera"]
        other["cameras"] = [
            camera_form(fix.alternatives[number].camera) for fix in fixes
        ]
    form["plate"] = " + ".join(plate_names(inputs))
    form["panorama"] = together_form(panorama, inputs, making)
    return form


def together_form(
    panorama: Panorama, inputs: Sequence[FixInputs], making: Making
) -> dict[str, Any]:
    """Return what the plates of a panorama tell of one another, as it is published.

    Parameters
    ----------
    panorama, inputs, making
        As of `panorama_to_json`.
    """
    names = list(plate_names(inputs))
    return {
        "one_lens": panorama.one_lens,
        "order": [names[k] for k in panorama.order],
        "order_probability": rounded(panorama.order_probability, 6),
        "turns": [
            {"turn_deg": rounded(turn, 4), "sd_deg": rounded(sd, 4)}
            for turn, sd in zip(panorama.turns_deg, panorama.turns_sd_deg, strict=True)
        ],
        "plates": [
            _plate(panorama, inputs, making, names, k)
            for k in range(len(panorama.fixes))
        ],
        "tie_marks": [
            {
                "id": tie.id,
                "plates": [names[k] for k in tie.plates],
                "off_px": rounded(tie.off_px, 2),
                "blunder_log_odds": rounded(tie.blunder_log_odds, 3),
            }
            for tie in panorama.ties
        ],
        "assumptions": plain(panorama.assumptions),
    }


def write_panorama(
    path: Path | str, panorama: Panorama, inputs: Sequence[FixInputs], making: Making
) -> dict[str, Any]:
    """Write ``fix.json`` whole or not at all, and return what was written."""
    form = panorama_to_json(panorama, inputs, making)
    jsonschema.validate(form, fix_schema(), cls=jsonschema.Draft202012Validator)
    text = json.dumps(form, indent=1, ensure_ascii=False, allow_nan=False)
    write_text_atomically(Path(path), text + "\n")
    return form


def _plate(
    panorama: Panorama,
    inputs: Sequence[FixInputs],
    making: Making,
    names: list[str],
    k: int,
) -> dict[str, Any]:
    """Return what is one plate's own."""
    own = fix_to_json(panorama.fixes[k], inputs[k], making)
    test = panorama.one_station[k]
    drawn = {"draws": own["draws"]} if "draws" in own else {}
    return {
        **drawn,
        "plate": names[k],
        "fit": own["fit"],
        "assumptions": own["assumptions"],
        "scan": own["inputs"]["scan"],
        "skyline": own["inputs"]["skyline"],
        "evidence": own["inputs"]["evidence"],
        "one_station": {
            "probability": rounded(test.probability, 6),
            "apart_m": plain(test.apart_m),
            "least_m": plain(test.least_m),
            "most_m": plain(test.most_m),
            "anywhere": rounded(test.anywhere, 6),
            "ties": test.ties,
        },
    }
