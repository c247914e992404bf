"""Hold the page of fields to the commands."""

from __future__ import annotations

import re
from pathlib import Path

from wherestood.cli.things import COMMANDS
from wherestood.daybook.records import fields_of
from wherestood.daybook.tables import ITEMS

ROW = re.compile(r"^\| `--([a-z0-9-]+)` \| (.*) \|$", re.MULTILINE)


def test_page_lists_every_field_of_every_thing_with_what_it_holds(
    repository: Path,
) -> None:
    text = (repository / "docs" / "daybook-fields.md").read_text(encoding="utf-8")
    parts = {part.split("\n", 1)[0]: part for part in text.split("\n## ")[1:]}
    assert sorted(parts) == sorted(COMMANDS.values())
    for table, name in COMMANDS.items():
        told = dict(ROW.findall(parts[name]))
        fields = fields_of(ITEMS[table])
        assert list(told) == list(fields), name
        for option, column in fields.items():
            about = str(column.info["about"]).replace("|", r"\|")
            assert told[option].startswith(about), f"{name} {option}"
            words = set(re.findall(r"`([^`]+)`", told[option]))
            assert set(column.info.get("choices", ())) <= words, f"{name} {option}"
