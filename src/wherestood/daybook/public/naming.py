"""Find in words what would name a place that is not told."""

from __future__ import annotations

import re
from collections.abc import Iterable

from sqlalchemy import select

from wherestood.daybook.index_words import folded
from wherestood.daybook.journal import DaybookSession
from wherestood.daybook.precision import restricted_plates, tied_features
from wherestood.daybook.tables import Feature, FeatureName, Plate

__all__ = ["Naming", "naming_of_restricted"]

_SHORTEST = 4  # letters of a Latin word that names a place; a shorter one is in many
#: Words of places that name none. Common practice.
_COMMON = {
    "above", "along", "below", "bridge", "church", "from", "hill", "house", "lake",
    "looking", "main", "mill", "mount", "mountain", "near", "north", "over", "park",
    "path", "river", "road", "south", "station", "street", "taken", "the", "town",
    "toward", "towards", "upper", "valley", "view", "village", "west", "east", "with",
}  # fmt: skip
_PARTS = re.compile(r"[,;/()]")
_WORD = re.compile(r"[^\W_]+")


class Naming:
    """Hold what names a place: whole names, and words of them that name something.

    Parameters
    ----------
    texts : iterable of str
        The place's words, and names of what stands there.

    Notes
    -----
    A name is looked for as a run of letters, so that inflected and joined forms are
    found, and names in scripts that write no spaces. Too much is found rather than
    too little. A name of which all words are common is found by any of them.
    """

    def __init__(self, texts: Iterable[str]) -> None:
        self._runs: set[str] = set()
        self._words: set[str] = set()
        for text in texts:
            for part in _PARTS.split(text):
                self._take(_WORD.findall(folded(part)))

    def _take(self, words: list[str]) -> None:
        telling = [word for word in words if word not in _COMMON]
        for word in (*(telling or words), "".join(words)):
            if len(word) >= _SHORTEST or not word.isascii():
                self._runs.add(word)
        if words and not any(word in self._runs for word in words):
            self._words.update(telling or words)

    def found_in(self, text: str) -> bool:
        """Tell whether a text names the place."""
        words = _WORD.findall(folded(text))
        joined = "".join(words)
        return any(run in joined for run in self._runs if run) or any(
            word in self._words for word in words
        )


def naming_of_restricted(session: DaybookSession) -> dict[str, Naming]:
    """Return what names the place of each restricted plate, by the plate's id.

    Its own words, and the names and keys of all features that are tied to it.
    """
    limits = restricted_plates(session)
    told = {plate for plate, limit in limits.items() if not limit.is_exact}
    if not told:
        return {}
    names: dict[str, list[str]] = {
        one: [key] for one, key in session.execute(select(Feature.id, Feature.key))
    }
    wanted = select(FeatureName.feature_id, FeatureName.name)
    for named, name in session.execute(wanted):
        names.setdefault(named, []).append(name)
    found: dict[str, list[str]] = {plate: [] for plate in told}
    for plate, words in session.execute(select(Plate.id, Plate.place_words)):
        if plate in told and words:
            found[plate].append(words)
    for plate, feature in tied_features(session):
        if plate in told:
            found[plate] += names.get(feature, ())
    return {plate: Naming(texts) for plate, texts in found.items()}
