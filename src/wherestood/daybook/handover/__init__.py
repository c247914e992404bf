"""Hand a whole daybook over, take one back, and merge two copies of one."""

from __future__ import annotations

from wherestood.daybook.handover.bag import Bagged, write_bag
from wherestood.daybook.handover.merge import Merged, merge
from wherestood.daybook.handover.unbag import Unbagged, read_bag

__all__ = ["Bagged", "Merged", "Unbagged", "merge", "read_bag", "write_bag"]
