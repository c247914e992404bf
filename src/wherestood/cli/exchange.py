"""List the commands by which things come into a daybook and go out of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from wherestood.cli.catalogue import catalogue_in, catalogue_out
from wherestood.cli.copies import carry, register
from wherestood.cli.gazetteer import gazetteer_in, offer
from wherestood.cli.handover import bag, merge, unbag
from wherestood.cli.take_in import take_in, verify
from wherestood.cli.terrain_layers import terrain_in, terrain_needed

__all__ = ["EXCHANGE"]

#: Each command, what it does, and an example of what follows its name.
EXCHANGE: tuple[tuple[Callable[..., Any], str, str], ...] = (
    (take_in, "Take scans in as they are, or watch them.", "scan.tif --plate 1987.12"),
    (verify, "Check every file, the database and its journal.", ""),
    (register, "Lay a plate's scans over its main one.", "1987.12"),
    (carry, "Show a plate's marks on its main scan.", "1987.12"),
    (catalogue_in, "Take a catalogue in.", "register.xlsx --dry-run"),
    (catalogue_out, "Write the catalogue of all plates.", "plates.csv"),
    (gazetteer_in, "Take features of the ground in.", "places.gpkg --dry-run"),
    (offer, "List features that stood when a plate was exposed.", "1987.12"),
    (terrain_in, "Take an elevation model in whole.", "tiles.zip --surface ground"),
    (terrain_needed, "Say which elevation data are needed.", "8.5,46.1,3km"),
    (bag, "Hand the whole daybook over as a bag.", "my-valley.zip"),
    (unbag, "Take a daybook out of a bag.", "my-valley.zip my-valley"),
    (merge, "Merge another person's copy of the daybook.", "their-copy --dry-run"),
)
