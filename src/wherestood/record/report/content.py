"""Hold a report without any form: chapters of paragraphs, lists, tables, pictures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

__all__ = [
    "Block",
    "Bullets",
    "Chapter",
    "Paragraph",
    "Picture",
    "Report",
    "Table",
    "against_name",
]

#: What a paragraph is: plain words; the first ones; what must be minded; what a person
#: concluded; what the program found; small print.
Style = Literal["text", "lead", "caution", "person", "machine", "small"]


#: Begins the names of pictures of the answer against proposed positions.
AGAINST = "against-"


def against_name(number: int) -> str:
    """Return the name of a picture of the answer against a proposed position.

    Parameters
    ----------
    number : int
        Of the position among those proposed, the first being 1.
    """
    return f"{AGAINST}{number}"


@dataclass(frozen=True)
class Paragraph:
    """Hold one paragraph.

    Attributes
    ----------
    text : str
    style : Style
    about : str
        What it is about, set before it in bold.
    """

    text: str
    style: Style = "text"
    about: str = ""


@dataclass(frozen=True)
class Bullets:
    """Hold a list.

    Attributes
    ----------
    items : tuple of str
    """

    items: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """Hold a table.

    Attributes
    ----------
    head : tuple of str
    rows : tuple of tuple of str
        Each as long as the head.
    shares : tuple of float
        How wide each column is, of all of them together.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    shares: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse rows of another length than the head's."""
        assert len(self.shares) == len(self.head)
        assert all(len(row) == len(self.head) for row in self.rows)


@dataclass(frozen=True)
class Picture:
    """Hold a picture.

    Attributes
    ----------
    name : str
        Of its files, without their suffix.
    caption, alt : str
        What stands under it; what it shows, for who cannot see it.
    png : bytes
        At 300 dots an inch.
    width_mm : float
        As printed [mm].
    vector : bytes or None
        The same as SVG, where it was drawn.
    """

    name: str
    caption: str
    alt: str
    png: bytes
    width_mm: float = 170.0
    vector: bytes | None = None


Block = Paragraph | Bullets | Table | Picture


@dataclass(frozen=True)
class Chapter:
    """Hold a heading and what stands under it.

    Attributes
    ----------
    heading : str
    blocks : tuple of Block
    level : int
        1 for a plate of several, 2 for a chapter, 3 within one.
    """

    heading: str
    blocks: tuple[Block, ...]
    level: int = 2


@dataclass(frozen=True)
class Report:
    """Hold a report.

    Attributes
    ----------
    title, subtitle : str
    face : tuple of Paragraph
        What its first page says before all else: what is not settled, what is withheld.
    chapters : tuple of Chapter
    made : str
        When, ISO 8601.
    version : str
        Of the program.
    author : str
        Who made it.
    """

    title: str
    subtitle: str
    face: tuple[Paragraph, ...]
    chapters: tuple[Chapter, ...]
    made: str
    version: str
    author: str = ""

    def pictures(self) -> Iterator[Picture]:
        """Give its pictures, in order."""
        for chapter in self.chapters:
            for block in chapter.blocks:
                if isinstance(block, Picture):
                    yield block

    def foot(self) -> str:
        """Return what stands at the foot of every page."""
        return f"{self.subtitle}. {self.made[:10]}, wherestood {self.version}"
