"""Make copies for the public: nothing in them from which a hidden place can be found.

What this program could find a place from again (where the camera stood, how it looked,
lens, lines, marks, hours, what is written inside files, and their names) stays out for
every plate whose place may not be published as it is known. The picture itself may
still give it away, and every copy says so.
"""

from wherestood.daybook.public.copy import PublicCopy, write_public_copy
from wherestood.daybook.public.rows import LeftOut, public_rows

__all__ = ["LeftOut", "PublicCopy", "public_rows", "write_public_copy"]
