"""Define what the pages ask of the server as a whole."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

__all__ = [
    "BaseMap",
    "DaybookTold",
    "Folder",
    "Folders",
    "HistoryEntry",
    "HistoryTold",
    "Limits",
    "MergeAsked",
    "NamedSize",
    "PersonGiven",
    "PlaceGiven",
    "SettingsChange",
    "SettingsTold",
    "State",
    "TakenBackTold",
    "Taking",
    "TallyTold",
]

Units = Literal["metric", "feet", "yards", "chains"]


class _Given(BaseModel):
    model_config = ConfigDict(extra="forbid")


class PersonGiven(_Given):
    """Say who writes from now on."""

    person: str = Field(min_length=1, max_length=200)


class BaseMap(_Given):
    """Name a base map that the person has set; none is needed."""

    kind: Literal["xyz", "wmts"]
    address: str = Field(
        max_length=2000,
        pattern=r"^https?://[^\s'\";<>]+$",
        description="With {z}, {x} and {y}, or of the capabilities document.",
    )
    credit: str = Field(default="", max_length=500)


class SettingsTold(_Given):
    """Hold what the daybook remembers of the pages."""

    units: Units = "metric"
    base_map: BaseMap | None = None
    guide_dismissed: bool = False
    zone_hours: float | None = Field(
        default=None,
        ge=-14.0,
        le=14.0,
        description="A zone whose time is told too, hours ahead of universal time.",
    )


class SettingsChange(_Given):
    """Change some of what is remembered; what is left out stays."""

    units: Units | None = None
    base_map: BaseMap | None = None
    guide_dismissed: bool | None = None
    zone_hours: float | None = Field(default=None, ge=-14.0, le=14.0)


class Limits(BaseModel):
    """Say how large a file may be."""

    upload_bytes: int
    pixels: int


class DaybookTold(BaseModel):
    """Tell of the open daybook."""

    folder: str
    name: str
    read_only: bool
    warnings: list[str]
    counts: dict[str, int] = Field(description="How many items stand, by table.")
    revision: int = Field(description="Number of the journal's last row.")


class State(BaseModel):
    """Tell what is open, and who writes."""

    version: str
    person: str
    daybook: DaybookTold | None
    demo_folder: str = Field(description="Where a demo daybook would be made.")
    demo_there: bool = Field(description="Whether there is one already.")
    limits: Limits
    settings: SettingsTold
    base_map_agreed: bool = Field(
        description="Whether somebody on this machine said that it may be asked."
    )


class PlaceGiven(_Given):
    """Name a folder of this machine."""

    folder: str = Field(min_length=1, max_length=4000)


class MergeAsked(_Given):
    """Name another copy of this daybook to be merged into it."""

    folder: str = Field(min_length=1, max_length=4000)
    dry_run: bool = Field(
        default=False, description="Whether only to say what would happen."
    )


class Folder(BaseModel):
    """Be a folder that may be chosen."""

    name: str
    folder: str
    is_daybook: bool


class Folders(BaseModel):
    """List the folders within one, to choose from."""

    folder: str
    above: str | None
    folders: list[Folder]


class NamedSize(BaseModel):
    """Be a plate size known by name [mm]."""

    name: str
    also: list[str]
    long_mm: float
    short_mm: float
    used: str


class Taking(_Given):
    """Say what is to be taken back, or done again."""

    act: str = Field(
        default="", description="Beginning of the act's id; the last if empty."
    )


class TakenBackTold(BaseModel):
    """Say what was taken back, or done again."""

    act: str
    person: str
    time: str
    why: str
    changes: int
    sentences: list[str]


class HistoryEntry(BaseModel):
    """Be one act, as a diary tells it."""

    act: str
    time: str
    person: str
    why: str
    sentences: list[str]


class TallyTold(BaseModel):
    """Count what was done."""

    runs: int
    runs_set_aside: int
    items: int
    set_aside: int
    withdrawn: int
    leads_without_result: int
    decisions: int
    sentence: str


class HistoryTold(BaseModel):
    """Tell what was done, the latest last."""

    entries: list[HistoryEntry]
    tally: TallyTold
    can_undo: str | None = Field(description="What undo would take back.")
    undo_act: str | None = Field(description="Which act that is.")
    can_redo: str | None = Field(description="What would be done again.")
    redo_act: str | None = Field(description="Which act that is.")
