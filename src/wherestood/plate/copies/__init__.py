"""Register several scans of one plate to one another."""

from wherestood.plate.copies.layout import Laid, lay_copies
from wherestood.plate.copies.register import HandPoints, Picture, register
from wherestood.plate.copies.registration import Registration
from wherestood.plate.copies.widest import Extent, widest_extent

__all__ = [
    "Extent",
    "HandPoints",
    "Laid",
    "Picture",
    "Registration",
    "lay_copies",
    "register",
    "widest_extent",
]
