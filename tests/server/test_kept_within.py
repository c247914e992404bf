"""Check that folders of what can be made again stay within their budget."""

from __future__ import annotations

import os
from pathlib import Path

from wherestood.server.kept_within import keep_within, note_used


def test_what_was_used_longest_ago_goes_first(tmp_path: Path) -> None:
    files = [tmp_path / "sub" / name for name in ("oldest", "old", "new", ".writing")]
    files[0].parent.mkdir()
    for age, path in enumerate(files):
        path.write_bytes(bytes(100))
        os.utime(path, (1000.0 + age, 1000.0 + age))
    assert keep_within(tmp_path, 300) == ()
    note_used(files[0])
    assert keep_within(tmp_path, 100, spared={files[1]}) == (files[2], files[0])
    assert [path.exists() for path in files] == [False, True, False, True]
