"""Say in words for the field what a near and a far thing tell of where to stand."""

from __future__ import annotations

import math

from wherestood.record.doubt import distance_in_words
from wherestood.visit.parallax import READING_SD_DEG, ParallaxPair

__all__ = ["pair_heading", "pair_sentences"]

#: Less is told as in line [deg].
_IN_LINE_DEG = 0.05


def pair_heading(pair: ParallaxPair) -> str:
    """Return which two things a pair is of, the far one first."""
    return f"{pair.far.name} against {pair.near.name}"


def pair_sentences(pair: ParallaxPair, gap_sd_rad: float) -> list[str]:
    """Return what a pair tells, in words for the field.

    Parameters
    ----------
    pair : ParallaxPair
    gap_sd_rad : float
        How far its gap may be otherwise, as the camera's place is known [rad].

    Notes
    -----
    Where the picture has both things marked its gap is what to look for, and how
    surely a place is found by it goes by how well both gaps are read; elsewhere the
    gap is worked out, and what the map has wrong comes in.
    """
    far = f"{pair.far.name} ({distance_in_words(pair.far_m)} off)"
    near = f"{pair.near.name} ({distance_in_words(pair.near_m)} off)"
    worked_out = _at(pair.gap_rad)
    known = f"give or take {math.degrees(gap_sd_rad):.1f} as the place is known"
    if pair.picture_rad is not None and pair.picture_sd_rad is not None:
        read = max(math.degrees(pair.picture_sd_rad), READING_SD_DEG)
        sure_deg = math.hypot(read, READING_SD_DEG)
        told = [
            f"On the picture {far} shows {_at(pair.picture_rad)} {near}, give or take "
            f"{read:.1f}: stand where it shows so.",
            f"By the map and the answer it would be {worked_out} it, {known}; the "
            "picture is right.",
        ]
        by = "read to a tenth of a degree"
    else:
        sure_deg = math.degrees(pair.sd_rad)
        told = [
            f"From the likeliest spot {far} shows {worked_out} {near}, {known}. Where "
            "the picture shows another gap, the picture is right."
        ]
        by = "as the two are known"
    return [
        *told,
        "If it shows farther right than it should, go left; if farther left, go right. "
        f"A finger's width at arm's length is {pair.m_per_finger:.2g} m to go; one "
        f"metre is {1.0 / pair.m_per_deg:.2g} degrees, {pair.px_per_m:.0f} px on the "
        f"scan. Good to {max(sure_deg * pair.m_per_deg, 0.01):.2g} m, {by}.",
    ]


def _at(gap_rad: float) -> str:
    """Return how a far thing shows to a near one."""
    gap_deg = math.degrees(gap_rad)
    if abs(gap_deg) < _IN_LINE_DEG:
        return "exactly in line with"
    return f"{abs(gap_deg):.1f} degrees {'right' if gap_deg > 0.0 else 'left'} of"
