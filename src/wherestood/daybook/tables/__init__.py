"""Define the tables of a daybook."""

from __future__ import annotations

from wherestood.daybook.tables.answers import (
    Decision,
    Fix,
    FixInput,
    ProposedPosition,
)
from wherestood.daybook.tables.base import About, Base, Item, Keyed, OnPlate
from wherestood.daybook.tables.care import (
    PRECISIONS,
    Note,
    Restriction,
    Right,
    Setting,
)
from wherestood.daybook.tables.ground import Feature, FeatureName, Plan, TerrainLayer
from wherestood.daybook.tables.journal_row import JournalRow, Words
from wherestood.daybook.tables.plates import (
    OF_TIME,
    Detail,
    Evidence,
    Maker,
    Mark,
    Plate,
    Request,
    Scan,
)
from wherestood.daybook.tables.said import (
    QUERY_SHEET,
    Dating,
    Informant,
    Lead,
    Source,
    Statement,
)
from wherestood.daybook.tables.weighed import Weighed

__all__ = [
    "ITEMS",
    "OF_TIME",
    "PRECISIONS",
    "QUERY_SHEET",
    "About",
    "Base",
    "Dating",
    "Decision",
    "Detail",
    "Evidence",
    "Feature",
    "FeatureName",
    "Fix",
    "FixInput",
    "Informant",
    "Item",
    "JournalRow",
    "Keyed",
    "Lead",
    "Maker",
    "Mark",
    "Note",
    "OnPlate",
    "Plan",
    "Plate",
    "ProposedPosition",
    "Request",
    "Restriction",
    "Right",
    "Scan",
    "Setting",
    "Source",
    "Statement",
    "TerrainLayer",
    "Weighed",
    "Words",
]

#: The class of each table whose rows are journalled, by the table's name.
ITEMS: dict[str, type[Item]] = {
    kind.__tablename__: kind
    for kind in (
        Request, Source, Maker, Informant, Plate, Plan, Feature, FeatureName, Scan,
        Detail, Mark, Evidence, Statement, Dating, Lead, TerrainLayer, Fix, FixInput,
        ProposedPosition, Decision, Right, Restriction, Note, Setting,
    )
}  # fmt: skip
