"""Hand a whole daybook over, take one back, and merge two copies of one."""

from __future__ import annotations

from wherestood.daybook.handover.bag import Bagged, write_bag
from wherestood.daybook.handover.in_words import MergeTold, merge_in_words
from wherestood.daybook.handover.merge import Merged, merge
from wherestood.daybook.handover.other_copy import other_copy
from wherestood.daybook.handover.unbag import Unbagged, read_bag

__all__ = [
    "Bagged",
    "MergeTold",
    "Merged",
    "Unbagged",
    "merge",
    "merge_in_words",
    "other_copy",
    "read_bag",
    "write_bag",
]
