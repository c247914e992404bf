"""Pin old plans to the ground, and read what is drawn and written on them."""

from wherestood.plans.left_out import LeftOut, foretell_each
from wherestood.plans.pinned import FitKind, Pinning
from wherestood.plans.pinning import chosen_kind, pin_sheet
from wherestood.plans.pins import Pins

__all__ = [
    "FitKind",
    "LeftOut",
    "Pinning",
    "Pins",
    "chosen_kind",
    "foretell_each",
    "pin_sheet",
]
