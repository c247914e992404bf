"""Find the line of every value in a TOML file.

The standard library reads TOML but forgets where values stood, and the libraries that
keep a file's style do not tell lines either. A syntax tree knows them: tree-sitter,
the parser of many editors, with its grammar of TOML, is used for positions alone; what
the values are stays with `tomllib`.
"""

from __future__ import annotations

import tomllib

import tree_sitter_toml
from tree_sitter import Language, Node, Parser

__all__ = ["Path", "lines_of"]

#: Keys and numbers that lead to a value, such as ``("mark", 0, "x_px")``.
Path = tuple[str | int, ...]

_KEYS = ("bare_key", "quoted_key", "dotted_key")


def lines_of(text: str) -> dict[Path, int]:
    """Return the line of every table, key and element of a TOML text.

    Parameters
    ----------
    text : str
        TOML that `tomllib` reads.

    Returns
    -------
    dict of path to int
        Lines counted from 1; a table stands at its header, a key where it begins.
    """
    parser = Parser(Language(tree_sitter_toml.language()))
    lines: dict[Path, int] = {}
    counts: dict[Path, int] = {}
    for node in parser.parse(text.encode("utf-8")).root_node.named_children:
        if node.type == "pair":
            _take_pair(node, (), lines)
        elif node.type in ("table", "table_array_element"):
            _take_table(node, lines, counts)
    return lines


def _take_table(node: Node, lines: dict[Path, int], counts: dict[Path, int]) -> None:
    """Note a table and all in it; count those of an array of tables."""
    keys = _keys(node)
    path: Path = ()
    for key in keys[:-1]:
        path = (*path, key)
        if path in counts:
            path = (*path, counts[path])
    path = (*path, keys[-1])
    lines.setdefault(path, _line(node))
    if node.type == "table_array_element":
        counts[path] = counts.get(path, -1) + 1
        path = (*path, counts[path])
        lines[path] = _line(node)
    for child in node.named_children:
        if child.type == "pair":
            _take_pair(child, path, lines)


def _take_pair(node: Node, path: Path, lines: dict[Path, int]) -> None:
    for key in _keys(node):
        path = (*path, key)
        lines.setdefault(path, _line(node))
    values = [child for child in node.named_children if child.type not in _KEYS]
    _take_value(values, path, lines)


def _take_value(nodes: list[Node], path: Path, lines: dict[Path, int]) -> None:
    for node in nodes:
        if node.type == "inline_table":
            for child in node.named_children:
                if child.type == "pair":
                    _take_pair(child, path, lines)
        elif node.type == "array":
            elements = [c for c in node.named_children if c.type != "comment"]
            for number, child in enumerate(elements):
                lines[(*path, number)] = _line(child)
                _take_value([child], (*path, number), lines)


def _keys(node: Node) -> list[str]:
    """Return the keys that a pair or a header begins with."""
    named = next(child for child in node.named_children if child.type in _KEYS)
    assert named.text is not None
    # Quotes and escapes are tomllib's to read.
    found = tomllib.loads(f"{named.text.decode('utf-8')} = 0")
    keys: list[str] = []
    while isinstance(found, dict):
        key, found = next(iter(found.items()))
        keys.append(key)
    return keys


def _line(node: Node) -> int:
    return int(node.start_point.row) + 1
