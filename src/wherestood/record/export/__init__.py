"""Write what is handed out in forms that other programs and catalogues take over.

Every writer takes the plain, frozen model of `wherestood.record.export.handed`, in
which nothing stands that may not be told, and knows of no daybook.
"""

from __future__ import annotations

from wherestood.record.export.formats import FORMATS, write_formats
from wherestood.record.export.handed import HandedOut, HandedPlate
from wherestood.record.export.of_fix import answer_of, handed_of_fix

__all__ = [
    "FORMATS",
    "HandedOut",
    "HandedPlate",
    "answer_of",
    "handed_of_fix",
    "write_formats",
]
