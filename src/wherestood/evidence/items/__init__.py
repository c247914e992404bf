"""Hold items of evidence as they are given, before any numbers are made of them."""

from __future__ import annotations

from wherestood.evidence.items.camera import CameraFacts
from wherestood.evidence.items.changed_ground import ChangedGround
from wherestood.evidence.items.check import (
    Checked,
    Complaint,
    as_checked,
    check_evidence,
)
from wherestood.evidence.items.evidence import KINDS, Evidence, gather
from wherestood.evidence.items.feature import Feature, Plan
from wherestood.evidence.items.item import Item
from wherestood.evidence.items.on_plate import (
    KnownSize,
    Mark,
    PlumbEdge,
    SeaHorizon,
    WaterLevel,
)
from wherestood.evidence.items.reference import Identity
from wherestood.evidence.items.relations import (
    Hidden,
    InLine,
    KnownDistance,
    Order,
    Seen,
)
from wherestood.evidence.items.statement import Statement
from wherestood.evidence.items.traced import RidgeLine, SkylinePiece, line_through

__all__ = [
    "KINDS",
    "CameraFacts",
    "ChangedGround",
    "Checked",
    "Complaint",
    "Evidence",
    "Feature",
    "Hidden",
    "Identity",
    "InLine",
    "Item",
    "KnownDistance",
    "KnownSize",
    "Mark",
    "Order",
    "Plan",
    "PlumbEdge",
    "RidgeLine",
    "SeaHorizon",
    "Seen",
    "SkylinePiece",
    "Statement",
    "WaterLevel",
    "as_checked",
    "check_evidence",
    "gather",
    "line_through",
]
