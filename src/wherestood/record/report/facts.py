"""Hold what a report is made of, whoever gathers it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from wherestood.record.page import Section
from wherestood.record.report.content import Picture

__all__ = [
    "ConclusionFacts",
    "DoneFacts",
    "EvidenceFacts",
    "PlateFacts",
    "ReportFacts",
    "SeenFacts",
]


@dataclass(frozen=True)
class ConclusionFacts:
    """Hold what a person concluded.

    Attributes
    ----------
    conclusion, words, decided_by, decided : str
        What, why in their words, who, when.
    conditions : str
        On what conditions.
    about : str
        The fix or proposed position it is about.
    """

    conclusion: str
    words: str
    decided_by: str
    decided: str
    conditions: str = ""
    about: str = ""


@dataclass(frozen=True)
class SeenFacts:
    """Hold something seen on a plate.

    Attributes
    ----------
    letter, what, taken_to_be, identified_by : str
    points_px : tuple of (x, y)
        Of its mark, or the middle of its crop; empty where nobody marked it [px].
    shape : str
        ``point``, ``line`` or ``outline``.
    """

    letter: str
    what: str
    taken_to_be: str = ""
    identified_by: str = ""
    points_px: tuple[tuple[float, float], ...] = ()
    shape: str = "point"


@dataclass(frozen=True)
class EvidenceFacts:
    """Hold one item of evidence.

    Attributes
    ----------
    id, kind, says, source : str
        ``source`` is UNKNOWN where nobody said.
    told : str
        What the answer says of it; empty where it says nothing.
    """

    id: str
    kind: str
    says: str
    source: str
    told: str = ""


@dataclass(frozen=True)
class DoneFacts:
    """Hold one act of the history.

    Attributes
    ----------
    time, person, why : str
    sentences : tuple of str
    """

    time: str
    person: str
    why: str
    sentences: tuple[str, ...]


@dataclass(frozen=True)
class PlateFacts:
    """Hold what a report tells of one plate.

    Attributes
    ----------
    key, title : str
    catalogue : tuple of (str, str)
        What the holder's catalogue says, by what it is.
    form : mapping or None
        The fix in its published form; None where there is none, or none may be told.
    fix_key : str
    sections : tuple of Section
        The fix's page of words.
    conclusion : ConclusionFacts or None
    earlier : tuple of ConclusionFacts
        Conclusions that were replaced, the earliest first.
    seen : tuple of SeenFacts
    evidence, set_aside : tuple of EvidenceFacts
        What counted; what was set aside, ``told`` then says why.
    not_found, still_open : tuple of str
        Leads that ended with nothing; those that have not ended.
    sources : tuple of str
    dates : tuple of Section
    rights : tuple of tuple of str
        In what, holder, licence, credit, terms.
    files : tuple of tuple of str
        What, name, how it was taken or used, checksum.
    history : tuple of DoneFacts
    pictures : tuple of Picture
        By name: ``plate`` the keyed plate, ``map``, ``comparison``, ``view``, others.
    missing : tuple of str
        Why pictures are not there.
    published : str
        In a public copy, where it was as far as it may be told.
    withheld : tuple of str
        In a public copy, what stays out, and why.
    """

    key: str
    title: str
    catalogue: tuple[tuple[str, str], ...] = ()
    form: Mapping[str, Any] | None = None
    fix_key: str = ""
    sections: tuple[Section, ...] = ()
    conclusion: ConclusionFacts | None = None
    earlier: tuple[ConclusionFacts, ...] = ()
    seen: tuple[SeenFacts, ...] = ()
    evidence: tuple[EvidenceFacts, ...] = ()
    set_aside: tuple[EvidenceFacts, ...] = ()
    not_found: tuple[str, ...] = ()
    still_open: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    dates: tuple[Section, ...] = ()
    rights: tuple[tuple[str, str, str, str, str], ...] = ()
    files: tuple[tuple[str, str, str, str], ...] = ()
    history: tuple[DoneFacts, ...] = ()
    pictures: tuple[Picture, ...] = ()
    missing: tuple[str, ...] = ()
    published: str = ""
    withheld: tuple[str, ...] = ()

    @property
    def verdict(self) -> str:
        """Return the fix's verdict; empty where none is told."""
        return str(self.form["verdict"]) if self.form else ""

    def picture(self, name: str) -> Picture | None:
        """Return a picture by its name; None if there is none."""
        return next((one for one in self.pictures if one.name == name), None)


@dataclass(frozen=True)
class ReportFacts:
    """Hold what a report is made of.

    Attributes
    ----------
    plates : tuple of PlateFacts
    made : str
        When, ISO 8601.
    version : str
        Of the program.
    issue : int or None
        Its number, where it is a frozen issue.
    public : bool
        Whether it is a copy for the public.
    author, collection : str
        Who makes it; what the plates belong to.
    paragraph_length : int
        Longest catalogue paragraph [characters].
    errata : tuple of str
        What earlier issues had wrong.
    given : mapping
        What else a person wants on its face, by what it is.
    """

    plates: tuple[PlateFacts, ...]
    made: str
    version: str
    issue: int | None = None
    public: bool = False
    author: str = ""
    collection: str = ""
    paragraph_length: int = 600
    errata: tuple[str, ...] = ()
    given: Mapping[str, str] = field(default_factory=dict)
