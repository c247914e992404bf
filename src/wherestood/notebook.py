"""Offer the search for a station to a notebook."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

from shapely.geometry import MultiPolygon

from wherestood.errors import InputError
from wherestood.evidence.given import check_names, require_something
from wherestood.evidence.items import (
    Checked,
    Complaint,
    Evidence,
    Item,
    RidgeLine,
    as_checked,
)
from wherestood.evidence.joined import joined_skyline, without_skyline
from wherestood.evidence.margin import checked_on
from wherestood.evidence.placed import known_heights
from wherestood.evidence.traced_lines import machine_ridges
from wherestood.fix.area import Area, read_area
from wherestood.fix.camera_facts import plate_told, told_by_camera
from wherestood.fix.result import (
    Alternative,
    CameraAnswer,
    Fix,
    Proposed,
    StationAnswer,
    Verdict,
)
from wherestood.fix.settings import LocateSettings
from wherestood.ground.mapping import Doubts, Mapping
from wherestood.plate.scan import Plate
from wherestood.plate.skyline import (
    Skyline,
    TracedRidge,
    write_skyline_csv,
)
from wherestood.progress import Progress
from wherestood.record.advice_words import advice_in_words
from wherestood.record.against import AGAINST, against, save_against
from wherestood.record.atomic import folder_at_the_end, write_text_atomically
from wherestood.record.checks_plot import checks_figure, has_checks
from wherestood.record.comparison import comparison_figure
from wherestood.record.fix_json import fix_to_json, write_fix
from wherestood.record.inputs import FileRecord, FixInputs, Making
from wherestood.record.kept_evidence import EVIDENCE_FILE, keep_evidence
from wherestood.record.map import map_figure
from wherestood.record.mapping_json import mapping_of_fix
from wherestood.record.page import page_text
from wherestood.record.picture import Picture
from wherestood.record.places import comparison_name, drawn_places
from wherestood.record.side_by_side import can_compare
from wherestood.record.two_answers import TwoAnswers, proposed_called, two_answers
from wherestood.record.words import plain_words
from wherestood.terrain.model import Terrain

__all__ = [
    "OUTPUTS",
    "RIVALS",
    "LocatedPlate",
    "Picture",
    "TwoAnswers",
    "locate",
    "machine_ridges",
    "making_now",
    "ridges_of",
    "settings_for",
]

OUTPUTS = ("fix.json", "words.txt", "comparison.png", "map.png", "skyline.csv")
RIVALS = "comparison-[2-9].png"  # of which there may be none
CHECKS, TWO_ANSWERS = "checks.png", "proposed.png"  # where there is what to draw
PAGE_WIDTH = 88  # characters


@dataclass(frozen=True)
class LocatedPlate:
    """Hold a fix together with what it was made from.

    Attributes
    ----------
    answer : Fix
        Everything that was found.
    inputs : FixInputs
        Everything it rests on.
    """

    answer: Fix
    inputs: FixInputs

    @property
    def complaints(self) -> tuple[Complaint, ...]:
        """Return what is wrong with evidence that was left out."""
        return self.inputs.complaints

    @property
    def verdict(self) -> Verdict:
        """Return ``located``, ``several places`` or ``not determined``."""
        return self.answer.verdict

    @property
    def station(self) -> StationAnswer:
        """Return longitude, latitude and height with their standard errors."""
        return self.answer.station

    @property
    def camera(self) -> CameraAnswer:
        """Return how the camera was held."""
        return self.answer.camera

    @property
    def alternatives(self) -> tuple[Alternative, ...]:
        """Return the other places, likeliest first."""
        return self.answer.alternatives

    @property
    def elsewhere(self) -> float:
        """Return the probability of none of these places."""
        return self.answer.elsewhere

    def region(self, probability: float) -> MultiPolygon:
        """Return the smallest region that holds a share of the probability.

        Parameters
        ----------
        probability : float
            One of 0.5, 0.9 and 0.99.

        Returns
        -------
        MultiPolygon
            WGS 84 longitude and latitude [deg].
        """
        if probability not in self.answer.regions:
            known = ", ".join(f"{p:g}" for p in sorted(self.answer.regions))
            raise InputError(
                f"There is no region for a probability of {probability!r}.",
                f"Choose one of: {known}.",
            )
        return self.answer.regions[probability]

    def comparison(self, place: int = 1) -> Picture:
        """Draw the plate against the ground, through the camera of one place.

        Parameters
        ----------
        place : int
            1 for the likeliest, from 2 on for the others in their order.
        """
        try:
            return Picture(comparison_figure(self.answer, self.inputs, place))
        except ValueError as error:
            count = 1 + len(self.answer.alternatives)
            raise InputError(
                f"There is no comparison for place {place!r}: {error}.",
                f"Choose a place from 1 to {count}.",
            ) from error

    def map(self) -> Picture:
        """Draw the answer on a map."""
        return Picture(map_figure(self.answer, self.inputs))

    def checks(self) -> Picture:
        """Draw how the answer stands up: what it is without each part, what agrees."""
        if not has_checks(self.answer):
            raise InputError(
                "There is nothing to check the answer by: it rests on one item alone.",
                "Give more evidence, or hold a mark back.",
            )
        return Picture(checks_figure(self.answer, self.inputs))

    def advice(self) -> list[str]:
        """Return what would shrink the region most, the best first, in words."""
        return advice_in_words(self.answer, self.inputs)

    def compare(self, first: str | int = 1, second: str | int = 2) -> TwoAnswers:
        """Set two proposed positions, by name or number, on the same evidence."""
        return two_answers(self.answer, self.inputs, first, second)

    def against(self, which: str | int = 1) -> Picture:
        """Draw the horizons of the answer and of a proposed position over the plate."""
        return against(self.answer, self.inputs, proposed_called(self.answer, which))

    def on_ground(self, place: int = 0, doubts: Doubts | None = None) -> Mapping:
        """Return what goes from the plate to the map, and back.

        Parameters
        ----------
        place : int
            Holds if the camera stood at this place, 1 the likeliest; 0 over all.
        doubts : Doubts, optional
            How far readings and the ground may be off.

        Returns
        -------
        Mapping
            For `wherestood.ground.points`, `drawn`, `on_plate`, `sizes`, `worth`,
            `viewshed` and `whole_plate`.
        """
        form, land = self.published(), self.inputs.terrain
        return mapping_of_fix(form, land, doubts).at_place(place)

    def _save_checks(self, folder: Path) -> list[str]:
        """Write the pictures of checks and of answers compared; return their names."""
        names = []
        if has_checks(self.answer):
            self.checks().save(folder / CHECKS)
            names.append(CHECKS)
        pair = self.answer.proposed[:2]
        if len(pair) == 2 and can_compare(*pair):
            self.compare().picture().save(folder / TWO_ANSWERS)
            names.append(TWO_ANSWERS)
        return names + save_against(self.answer, self.inputs, folder)

    def words(self) -> str:
        """Return the answer in plain words."""
        return page_text(plain_words(self.answer, self.inputs))

    def published(self) -> dict[str, Any]:
        """Return the fix in its published form."""
        return fix_to_json(self.answer, self.inputs, making_now())

    def save(self, folder: str | Path) -> tuple[Path, ...]:
        """Write the fix, its pictures and the skyline used, all or none.

        Returns
        -------
        tuple of Path
            The files written.
        """
        target = Path(folder)
        making = making_now()
        names = [comparison_name(place) for place in drawn_places(self.answer)]
        old = (RIVALS, EVIDENCE_FILE, CHECKS, TWO_ANSWERS, AGAINST)
        with folder_at_the_end(target, *old) as passing:
            kept = passing / "skyline.csv"
            ridges = [
                TracedRidge(ridge.id, ridge.line, ridge.trust)
                for ridge in self.inputs.ridges
            ]
            write_skyline_csv(self.inputs.skyline, kept, ridges)
            told = keep_evidence(self.inputs, passing)
            inputs = replace(
                self.inputs,
                skyline_file=FileRecord.of(kept),
                evidence_file=FileRecord.of(told) if told else None,
            )
            write_fix(passing / "fix.json", self.answer, inputs, making)
            write_text_atomically(passing / "words.txt", self._page(making))
            for name, place in zip(names, drawn_places(self.answer), strict=True):
                self.comparison(place).save(passing / name)
            self.map().save(passing / "map.png")
            drawn = self._save_checks(passing)
        more = [EVIDENCE_FILE, *drawn] if told else drawn
        return tuple(target / name for name in (*OUTPUTS, *more, *names[1:]))

    def _page(self, making: Making) -> str:
        """Return the page of words as its file holds it."""
        words = page_text(plain_words(self.answer, self.inputs), PAGE_WIDTH)
        made = f"Written {making.made} by wherestood {making.version}."
        return f"{Path(self.inputs.plate.path).stem}\n{made}\n\n{words}"


def locate(
    plate: Plate,
    land: Terrain,
    evidence: Evidence | Checked | Sequence[Skyline | Item],
    *,
    within: Area | str | Path,
    settings: LocateSettings | None = None,
    proposed: Sequence[Proposed] = (),
    progress: Progress | None = None,
    **changed: Any,
) -> LocatedPlate:
    """Find where a plate was taken.

    Parameters
    ----------
    plate : Plate
        The plate.
    land : Terrain
        The ground; it may be opened whole.
    evidence : sequence
        What is known: a skyline (`trace_skyline`), ridge lines (`machine_ridges`),
        marks, in lines and whatever else `wherestood.evidence.items` holds; or all
        of it as `wherestood.evidence.file.read_evidence` returns it.
    within : Area, str or Path
        Ground searched: an area, or anything ``read_area`` reads.
    settings : LocateSettings, optional
        Everything that may be set.
    proposed : sequence of Proposed
        Positions that somebody proposed: tested, and no evidence.
    progress : Progress, optional
        Told how far the search has come.
    **changed
        Single settings by name, such as ``near_enough_m=50``.

    Returns
    -------
    LocatedPlate

    Raises
    ------
    InputError
        If there is no evidence that can be used, or a setting is not known.
    """
    area = within if isinstance(within, Area) else read_area(within)
    full = settings_for(plate, land, settings, changed)
    before = as_checked(evidence)
    known = before.evidence
    plate, faults = plate_told(plate, known.camera)
    check_names(known)
    checked = checked_on(plate, known, known_heights(land))
    used = checked.evidence
    skyline = joined_skyline(used.skylines)
    require_something(used)
    full = told_by_camera(full, used.camera, changed)
    answer = _search(plate, land, skyline, used, area, full, proposed, progress)
    shown = skyline if skyline is not None else without_skyline(plate)
    inputs = FixInputs(
        plate,
        land,
        shown,
        area,
        full,
        ridges=used.ridge_lines,
        evidence=used,
        complaints=(*before.complaints, *faults, *checked.complaints),
    )
    return LocatedPlate(answer, inputs)


def ridges_of(traced: Sequence[TracedRidge]) -> tuple[RidgeLine, ...]:
    """Return the ridge lines of a skyline file as evidence."""
    return tuple(
        RidgeLine(id=one.name, line=one.line, trust=one.trust, source=one.line.source)
        for one in traced
    )


def _search(
    plate: Plate,
    land: Terrain,
    skyline: Skyline | None,
    evidence: Evidence,
    area: Area,
    settings: LocateSettings,
    proposed: Sequence[Proposed],
    progress: Progress | None,
) -> Fix:
    """Load the search only when it is wanted: its kernels take a while."""
    from wherestood.fix.locate import locate as search

    return search(
        plate,
        land,
        skyline,
        area,
        settings=settings,
        evidence=evidence,
        proposed=proposed,
        progress=progress,
    )


def settings_for(
    plate: Plate,
    land: Terrain,
    settings: LocateSettings | None,
    changed: dict[str, Any],
) -> LocateSettings:
    """Return the settings, with what the plate and the ground already say."""
    known = {field.name for field in fields(LocateSettings)}
    if unknown := sorted(set(changed) - known):
        raise InputError(
            f"The setting {unknown[0]!r} is not known.",
            f"Choose from: {', '.join(sorted(known))}.",
        )
    if settings is not None:
        return replace(settings, **changed)
    said = {
        "trimmed": plate.trimmed,
        "surface": land.surface,
        "refraction": land.refraction,
    }
    return LocateSettings(**{**said, **changed})


def making_now() -> Making:
    """Say when and by what version a record is made."""
    now = datetime.now(UTC).replace(microsecond=0)
    return Making(now.isoformat(), version("wherestood"))
