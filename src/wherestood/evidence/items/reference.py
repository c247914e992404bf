"""Refer to the features and marks that an item speaks of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from wherestood.evidence.items.feature import Feature

__all__ = ["At", "FeatureReference", "Identity", "id_of", "identities_of"]

#: Where on a feature something is: its foot, its top, or the water's edge there.
At = Literal["ground", "top", "water"]
FeatureReference = Feature | str


@dataclass(frozen=True)
class Identity:
    """Say that a thing seen may be a feature.

    Attributes
    ----------
    feature : Feature or str
        The feature, or its id.
    weight : float
        How likely, against the other features it may be.
    """

    feature: FeatureReference
    weight: float = 1.0

    @property
    def feature_id(self) -> str:
        """Return the id of the feature."""
        return id_of(self.feature)


def id_of(reference: object) -> str:
    """Return the id of a feature, or mark, or of its name itself."""
    return str(getattr(reference, "id", reference))


def identities_of(given: object) -> tuple[Identity, ...]:
    """Put one feature, several, or features with weights in the usual form."""
    if isinstance(given, Identity):
        return (given,)
    if isinstance(given, Feature | str):
        return (Identity(given),)
    if isinstance(given, Mapping):
        return tuple(Identity(key, float(weight)) for key, weight in given.items())
    assert isinstance(given, list | tuple)
    return tuple(one for part in given for one in identities_of(part))
