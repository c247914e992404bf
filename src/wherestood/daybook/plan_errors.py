"""Part the errors of what was traced from plans, as one plate's camera feels them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from sqlalchemy.orm import Session

from wherestood.daybook.tables import Feature, Plan
from wherestood.errors import PlanError

__all__ = ["TracedErrors", "errors_of_traced"]

#: No error is nothing: what evidence rests on must be above 0 [m].
_LEAST_M = 0.01


@dataclass(frozen=True)
class TracedErrors:
    """Hold standard errors of features traced from pinned plans.

    Attributes
    ----------
    own_m : dict of str to float
        Each feature's own, along one axis, by its id [m].
    shared_m : dict of str to float
        That of the shift shared by all of a plan, by the plan's id [m].
    """

    own_m: dict[str, float] = field(default_factory=dict)
    shared_m: dict[str, float] = field(default_factory=dict)


def errors_of_traced(session: Session, features: Sequence[Feature]) -> TracedErrors:
    """Return the errors of the features that one plate speaks of.

    Features that were not traced, and those of a plan that is not pinned any more, keep
    what their rows say.
    """
    found = TracedErrors()
    by_plan: dict[str, list[Feature]] = {}
    for feature in features:
        if feature.plan_id is not None and feature.traced:
            by_plan.setdefault(feature.plan_id, []).append(feature)
    if not by_plan:
        return found
    # Loaded where it is needed alone: numerics take a while.
    from wherestood.daybook.plan_pins import pinned_plan
    from wherestood.plans.error_parts import parts_for_camera

    for plan_id, traced in by_plan.items():
        try:
            pinned = pinned_plan(session.get_one(Plan, plan_id))
        except PlanError:
            continue
        records = [feature.traced or {} for feature in traced]
        parts = parts_for_camera(
            pinned.pinning,
            [record["points_px"] for record in records],
            [float(record["drawn_sd_m"]) for record in records],
        )
        found.shared_m[plan_id] = max(round(parts.shared_m, 3), _LEAST_M)
        for feature, own_m in zip(traced, parts.own_m, strict=True):
            found.own_m[feature.id] = max(round(float(own_m), 3), _LEAST_M)
    return found
