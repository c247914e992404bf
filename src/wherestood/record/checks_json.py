"""Publish what the checks of a fix found, and what was proposed."""

from __future__ import annotations

from typing import Any

from wherestood.fix.checked import Advice, Agreement, HeldBack, LeftOut
from wherestood.fix.result import Alternative, Fix, ProposedTold
from wherestood.record.camera_json import LONLAT_DECIMALS, camera_form, station_form
from wherestood.record.plain import plain, rounded

__all__ = ["checks_form", "left_out_form", "proposed_form"]


def left_out_form(one: LeftOut) -> dict[str, Any]:
    """Return what the fix would be without a group."""
    return {
        "name": one.name,
        "ids": list(one.ids),
        "moved_m": rounded(one.moved_m, 1),
        "moved_east_m": rounded(one.east_m, 1),
        "moved_north_m": rounded(one.north_m, 1),
        "expected_m": rounded(one.expected_m, 1),
        "moved_sds": rounded(one.moved_sds, 2),
        "area_ratio": rounded(one.area_ratio, 3),
        "area_m2": rounded(one.area_m2, 0),
        "near_share": rounded(one.near_share, 4),
        "lon": rounded(one.lon_deg, LONLAT_DECIMALS),
        "lat": rounded(one.lat_deg, LONLAT_DECIMALS),
        "agrees": rounded(one.agrees, 2),
    }


def checks_form(fix: Fix) -> dict[str, Any]:
    """Return what all other checks found."""
    checks = fix.checks
    less = checks.without_statements
    return {
        "agreement": [_agreement(one) for one in checks.agreement],
        "without_statements": left_out_form(less) if less else None,
        "held_back": [_held_back(one) for one in checks.held_back],
        "conflict": plain(checks.conflict),
        "indeterminate": plain(checks.indeterminate),
        "advice": [_advice(one) for one in checks.advice],
        "missing_ground": plain(checks.missing_ground),
    }


def proposed_form(one: ProposedTold) -> dict[str, Any]:
    """Return what the evidence says of a proposed position."""
    return {
        "name": one.proposed.name,
        "lon": one.proposed.lon_deg,
        "lat": one.proposed.lat_deg,
        "doubt_m": one.proposed.doubt_m,
        "bearing_deg": one.proposed.bearing_deg,
        "reason": one.proposed.reason,
        "verdict": one.verdict,
        "log_ratio": plain(one.log_ratio),
        "bearing_off_deg": rounded(one.bearing_off_deg, 2),
        "bearing_off_sds": plain(one.bearing_off_sds),
        "because": [
            {"id": name, "log_ratio": plain(worse)} for name, worse in one.because
        ],
        "apart_m": rounded(one.apart_m, 1),
        "answer": _answer(one.answer) if one.answer else None,
    }


def _answer(place: Alternative) -> dict[str, Any]:
    return {
        "station": station_form(place.station),
        "camera": camera_form(place.camera),
        "probability": rounded(place.probability, 6),
        "evidence": plain(place.evidence),
    }


def _agreement(one: Agreement) -> dict[str, Any]:
    return {
        "name": one.name,
        "ids": list(one.ids),
        "log_odds": rounded(one.log_odds, 2),
        "apart_m": rounded(one.apart_m, 1),
        "apart_sds": rounded(one.apart_sds, 2),
        "alone_m2": rounded(one.alone_m2, 0),
    }


def _advice(one: Advice) -> dict[str, Any]:
    return {
        "what": one.what,
        "subjects": list(one.subjects),
        "to": rounded(one.to, 4),
        "area_before_m2": rounded(one.area_before_m2, 0),
        "area_after_m2": rounded(one.area_after_m2, 0),
        "lon": rounded(one.lon_deg, LONLAT_DECIMALS),
        "lat": rounded(one.lat_deg, LONLAT_DECIMALS),
        "height_m": rounded(one.height_m, 1),
        "distance_m": rounded(one.distance_m, 0),
        "bearing_deg": rounded(one.bearing_deg, 1),
    }


def _held_back(one: HeldBack) -> dict[str, Any]:
    return {
        "id": one.id,
        "feature": one.feature,
        "x_px": rounded(one.x_px, 2),
        "y_px": rounded(one.y_px, 2),
        "long_px": rounded(one.long_px, 2),
        "short_px": rounded(one.short_px, 2),
        "turn_deg": rounded(one.turn_deg, 1),
        "off_px": rounded(one.off_px, 2),
        "off_sds": rounded(one.off_sds, 2),
        "share_beyond": rounded(one.share_beyond, 4),
    }
