"""Offer the search for the one station of several plates to a notebook."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shapely.geometry import MultiPolygon

from wherestood.errors import InputError
from wherestood.evidence.given import check_names, require_something
from wherestood.evidence.items import (
    Checked,
    Complaint,
    Evidence,
    Item,
    as_checked,
    check_evidence,
)
from wherestood.evidence.items.tie import TieMark
from wherestood.evidence.joined import joined_skyline, without_skyline
from wherestood.evidence.placed import known_heights
from wherestood.fix.area import Area, read_area
from wherestood.fix.camera_facts import told_by_camera
from wherestood.fix.panorama_result import Panorama
from wherestood.fix.result import (
    Alternative,
    CameraAnswer,
    Proposed,
    StationAnswer,
    Verdict,
)
from wherestood.fix.settings import LocateSettings
from wherestood.notebook import (
    PAGE_WIDTH,
    LocatedPlate,
    Picture,
    making_now,
    settings_for,
)
from wherestood.plate.scan import Plate
from wherestood.plate.skyline import Skyline, TracedRidge, write_skyline_csv
from wherestood.progress import SILENT, Progress
from wherestood.record.atomic import folder_at_the_end, write_text_atomically
from wherestood.record.comparison import comparison_figure
from wherestood.record.inputs import FileRecord, FixInputs, Making
from wherestood.record.joined_picture import JoinedPicture, join_plates
from wherestood.record.kept_evidence import EVIDENCE_FILE, keep_panorama_evidence
from wherestood.record.map import map_figure
from wherestood.record.page import page_text
from wherestood.record.panorama_json import panorama_to_json, write_panorama
from wherestood.record.panorama_words import (
    panorama_words,
    plate_names,
    with_all_evidence,
)
from wherestood.terrain.model import Terrain

if TYPE_CHECKING:
    from wherestood.fix.panorama_problem import PanoramaPlate

__all__ = ["PANORAMA_OUTPUTS", "LocatedPanorama", "locate_panorama", "machine_ties"]

#: Files that every panorama leaves; each plate adds a skyline and a comparison.
PANORAMA_OUTPUTS = ("fix.json", "words.txt", "panorama.png", "map.png")
_OWN = "*-skyline.csv", "*-comparison.png"


@dataclass(frozen=True)
class LocatedPanorama:
    """Hold the fix of a panorama together with what it was made from.

    Attributes
    ----------
    answer : Panorama
        Everything that was found.
    inputs : tuple of FixInputs
        Everything it rests on, one a plate in the order given.
    ties : tuple of TieMark
        Things seen on two plates, as they were used.
    """

    answer: Panorama
    inputs: tuple[FixInputs, ...]
    ties: tuple[TieMark, ...] = ()

    @property
    def complaints(self) -> tuple[Complaint, ...]:
        """Return what is wrong with evidence that was left out."""
        return tuple(one for inputs in self.inputs for one in inputs.complaints)

    @property
    def verdict(self) -> Verdict:
        """Return ``located``, ``several places`` or ``not determined``."""
        return self.answer.fixes[0].verdict

    @property
    def station(self) -> StationAnswer:
        """Return longitude, latitude and height with their standard errors."""
        return self.answer.fixes[0].station

    @property
    def cameras(self) -> tuple[CameraAnswer, ...]:
        """Return how the camera was held for each plate, in the order given."""
        return tuple(fix.camera for fix in self.answer.fixes)

    @property
    def order(self) -> tuple[str, ...]:
        """Return the plates' names as they hang, left to right."""
        names = plate_names(self.inputs)
        return tuple(names[k] for k in self.answer.order)

    @property
    def alternatives(self) -> tuple[Alternative, ...]:
        """Return the other places, likeliest first, as the first plate sees them."""
        return self.answer.fixes[0].alternatives

    @property
    def elsewhere(self) -> float:
        """Return the probability of none of these places."""
        return self.answer.fixes[0].elsewhere

    def region(self, probability: float) -> MultiPolygon:
        """Return the smallest region that holds 0.5, 0.9 or 0.99 [deg]."""
        regions = self.answer.fixes[0].regions
        if probability not in regions:
            raise InputError(
                f"There is no region for a probability of {probability!r}.",
                f"Choose one of: {', '.join(f'{p:g}' for p in sorted(regions))}.",
            )
        return regions[probability]

    def comparison(self, plate: int = 1) -> Picture:
        """Draw one plate against the ground.

        Parameters
        ----------
        plate : int
            Which, from 1 on in the order given.
        """
        if not 1 <= plate <= len(self.inputs):
            raise InputError(
                f"There is no plate {plate!r} in this panorama.",
                f"Choose one from 1 to {len(self.inputs)}.",
            )
        return Picture(
            comparison_figure(self.answer.fixes[plate - 1], self.inputs[plate - 1])
        )

    def one(self, number: int) -> LocatedPlate:
        """Return the answer as one plate sees it, from 0 on in the order given."""
        return LocatedPlate(self.answer.fixes[number], self.inputs[number])

    def joined(self) -> JoinedPicture:
        """Return the plates joined in one cylindrical picture."""
        return join_plates([one.plate for one in self.inputs], self.cameras)

    def map(self) -> Picture:
        """Draw the answer on a map."""
        middle = self.answer.order[len(self.inputs) // 2]
        others = [k for k in self.answer.order if k != middle]
        fixes = self.answer.fixes
        shown = with_all_evidence(
            fixes[middle], self.inputs[middle], fixes, self.inputs
        )
        beside = [(fixes[k], self.inputs[k]) for k in others]
        return Picture(map_figure(*shown, beside))

    def words(self) -> str:
        """Return the answer in plain words."""
        return page_text(panorama_words(self.answer, self.inputs))

    def published(self) -> dict[str, Any]:
        """Return the fix in its published form."""
        return panorama_to_json(self.answer, self.inputs, making_now())

    def save(self, folder: str | Path) -> tuple[Path, ...]:
        """Write the fix, its pictures and the skylines used, all or none.

        Returns
        -------
        tuple of Path
            The files written.
        """
        target = Path(folder)
        making = making_now()
        names = plate_names(self.inputs)
        written = list(PANORAMA_OUTPUTS)
        with folder_at_the_end(target, *_OWN, EVIDENCE_FILE) as passing:
            told = keep_panorama_evidence(self.inputs, names, self.ties, passing)
            kept = FileRecord.of(told) if told else None
            written += [told.name] if told else []
            inputs = []
            for number, (name, one) in enumerate(zip(names, self.inputs, strict=True)):
                line = passing / f"{name}-skyline.csv"
                ridges = [TracedRidge(r.id, r.line, r.trust) for r in one.ridges]
                write_skyline_csv(one.skyline, line, ridges)
                shown = f"{name}-comparison.png"
                self.comparison(number + 1).save(passing / shown)
                written += [line.name, shown]
                file = FileRecord.of(line)
                inputs.append(replace(one, skyline_file=file, evidence_file=kept))
            write_panorama(passing / "fix.json", self.answer, inputs, making)
            write_text_atomically(passing / "words.txt", self._page(making))
            self.joined().save(passing / "panorama.png")
            self.map().save(passing / "map.png")
        return tuple(target / name for name in written)

    def _page(self, making: Making) -> str:
        """Return the page of words as its file holds it."""
        head = " + ".join(plate_names(self.inputs))
        made = f"Written {making.made} by wherestood {making.version}."
        words = page_text(panorama_words(self.answer, self.inputs), PAGE_WIDTH)
        return f"{head}\n{made}\n\n{words}"


def locate_panorama(
    plates: Sequence[Plate],
    land: Terrain,
    evidence: Sequence[Evidence | Checked | Sequence[Skyline | Item]],
    *,
    within: Area | str | Path,
    ties: Sequence[TieMark] | None = None,
    names: Sequence[str] | None = None,
    each_own_lens: bool = False,
    settings: LocateSettings | None = None,
    proposed: Sequence[Proposed] = (),
    progress: Progress | None = None,
    **changed: Any,
) -> LocatedPanorama:
    """Find the station from which several plates were taken.

    Parameters
    ----------
    plates : sequence of Plate
        Two or more, in any order: how they hang is worked out.
    land : Terrain
        The ground; it may be opened whole.
    evidence : sequence
        What is known of each plate, in the same order, as `wherestood.locate` takes
        it.
    within : Area, str or Path
        Ground searched: an area, or anything ``read_area`` reads.
    ties : sequence of TieMark, optional
        Things seen on two plates, named as the plates are; looked for by machine
        where left out.
    names : sequence of str, optional
        What the plates are called, each otherwise; as their scans where left out.
    each_own_lens : bool
        Whether the plates were exposed through different lenses.
    settings, proposed, progress, changed
        As `wherestood.locate` takes them.

    Returns
    -------
    LocatedPanorama

    Raises
    ------
    InputError
        If plates and evidence do not match, or nothing can be used.
    """
    from wherestood.fix.panorama_problem import PanoramaPlate

    if len(plates) != len(evidence):
        raise InputError(
            f"{len(plates)} plates are given, and evidence of {len(evidence)}.",
            "Give one list of evidence for each plate, empty where nothing is known.",
        )
    area = within if isinstance(within, Area) else read_area(within)
    full = settings_for(plates[0], land, settings, changed)
    called = list(names) if names is not None else _names(plates)
    checked = [
        _checked(plate, land, one) for plate, one in zip(plates, evidence, strict=True)
    ]
    # Some plate must tell something; a plate of which nothing is known may hang too.
    require_something(_all_of(checked))
    for one, _ in checked:
        full = told_by_camera(full, one.camera, changed)
    if ties is None:
        ties = machine_ties(plates, progress or SILENT, called)
    used = tuple(ties)
    asked: list[PanoramaPlate] = []
    inputs = []
    for name, plate, (one, complaints) in zip(called, plates, checked, strict=True):
        skyline = joined_skyline(one.skylines)
        asked.append(PanoramaPlate(name, plate, skyline, one))
        shown = skyline if skyline is not None else without_skyline(plate)
        inputs.append(
            FixInputs(
                plate,
                land,
                shown,
                area,
                full,
                ridges=one.ridge_lines,
                evidence=one,
                complaints=complaints,
                called=name if names is not None else "",
            )
        )
    lens = not each_own_lens
    answer = _search(asked, land, area, full, used, lens, proposed, progress)
    return LocatedPanorama(answer, tuple(inputs), used)


def _search(
    plates: Sequence[PanoramaPlate],
    land: Terrain,
    area: Area,
    settings: LocateSettings,
    ties: Sequence[TieMark],
    one_lens: bool,
    proposed: Sequence[Proposed],
    progress: Progress | None,
) -> Panorama:
    """Load the search only when it is wanted: its kernels take a while."""
    from wherestood.fix.locate_panorama import locate_panorama as search

    return search(
        plates,
        land,
        area,
        settings=settings,
        ties=ties,
        one_lens=one_lens,
        proposed=proposed,
        progress=progress,
    )


def machine_ties(
    plates: Sequence[Plate],
    progress: Progress = SILENT,
    names: Sequence[str] | None = None,
) -> tuple[TieMark, ...]:
    """Look for things that show on two plates.

    Parameters
    ----------
    plates, progress, names
        As `locate_panorama` takes them.

    Returns
    -------
    tuple of TieMark
        With the trust that such matches deserve.
    """
    from wherestood.plate.matching import MATCH_TRUST, find_matches

    called = names if names is not None else _names(plates)
    found = []
    for match in find_matches(plates, progress):
        pair = called[match.first], called[match.second]
        for number, (at, there) in enumerate(
            zip(match.first_px.tolist(), match.second_px.tolist(), strict=True), start=1
        ):
            found.append(
                TieMark(
                    id=f"tie {pair[0]} to {pair[1]}, {number}",
                    plates=pair,
                    first_px=(at[0], at[1]),
                    second_px=(there[0], there[1]),
                    sd_px=match.sd_px,
                    trust=MATCH_TRUST,
                    source="matched by machine",
                )
            )
    return tuple(found)


def _names(plates: Sequence[Plate]) -> list[str]:
    return [Path(str(plate.path)).stem for plate in plates]


def _checked(
    plate: Plate,
    land: Terrain,
    evidence: Evidence | Checked | Sequence[Skyline | Item],
) -> tuple[Evidence, tuple[Complaint, ...]]:
    """Return what can be used of a plate's evidence, and complaints of the rest."""
    before = as_checked(evidence)
    check_names(before.evidence)
    checked = check_evidence(
        before.evidence,
        width_px=plate.width_px,
        height_px=plate.height_px,
        has_height=known_heights(land),
    )
    return checked.evidence, (*before.complaints, *checked.complaints)


def _all_of(checked: Sequence[tuple[Evidence, Any]]) -> Evidence:
    """Return the evidence of the first plate that has any."""
    for evidence, _ in checked:
        if any(True for _ in evidence.items()):
            return evidence
    return Evidence()
