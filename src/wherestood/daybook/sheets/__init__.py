"""Read and write tables as people keep them: CSV and XLSX."""

from wherestood.daybook.sheets.refusal import Refusal, in_order
from wherestood.daybook.sheets.sheet import Sheet, SheetRow, read_sheet

__all__ = ["Refusal", "Sheet", "SheetRow", "in_order", "read_sheet"]
