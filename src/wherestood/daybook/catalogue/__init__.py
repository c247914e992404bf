"""Take a catalogue in and give it out: tables, Dublin Core, folders of scans."""

from __future__ import annotations

from wherestood.daybook.catalogue.columns import MEANINGS, CatalogueColumns
from wherestood.daybook.catalogue.dublin_core import (
    read_dublin_core,
    write_dublin_core,
)
from wherestood.daybook.catalogue.folder import FolderTaken, take_folder
from wherestood.daybook.catalogue.give import catalogue_rows
from wherestood.daybook.catalogue.plan import CatalogueEntry, CataloguePlan, plan_for
from wherestood.daybook.catalogue.remember import remembered_columns
from wherestood.daybook.catalogue.take import take_catalogue

__all__ = [
    "MEANINGS",
    "CatalogueColumns",
    "CatalogueEntry",
    "CataloguePlan",
    "FolderTaken",
    "catalogue_rows",
    "plan_for",
    "read_dublin_core",
    "remembered_columns",
    "take_catalogue",
    "take_folder",
    "write_dublin_core",
]
