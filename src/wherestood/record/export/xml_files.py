"""Write XML files whole or not at all, with nothing in them that XML cannot hold."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree as Xml
from xml.etree.ElementTree import Element

from wherestood.record.atomic import write_text_atomically

__all__ = ["write_xml", "xml_text"]

# Characters outside XML 1.0's Char production (section 2.2).
_NO_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def write_xml(path: Path, root: Element) -> None:
    """Write an element as a UTF-8 file."""
    write_text_atomically(path, xml_text(root))


def xml_text(root: Element) -> str:
    """Return an element as text, indented, with its declaration."""
    for element in root.iter():
        if element.text:
            element.text = _NO_XML.sub("", element.text)
    Xml.indent(root)
    body = Xml.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'
