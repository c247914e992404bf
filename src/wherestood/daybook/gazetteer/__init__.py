"""Take features of the ground in from other people's files, and offer them by date."""

from wherestood.daybook.gazetteer.entry import GazetteerEntry, NameRead
from wherestood.daybook.gazetteer.offer import Offer, offered_features
from wherestood.daybook.gazetteer.read import (
    Gazetteer,
    read_gazetteer,
    read_whole_gazetteer,
)
from wherestood.daybook.gazetteer.take import Taken, take_gazetteer

__all__ = [
    "Gazetteer",
    "GazetteerEntry",
    "NameRead",
    "Offer",
    "Taken",
    "offered_features",
    "read_gazetteer",
    "read_whole_gazetteer",
    "take_gazetteer",
]
