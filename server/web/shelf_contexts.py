"""What the pages of beacons, airfields and checkpoints show: one frozen context for each template."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from server.navigation import Airfield, AlignmentKind, Checkpoint, Route
from server.planning import region_book
from server.radio import Beacon, BeaconKind, ComponentKind, ComponentStatus, ServiceClass
from server.web.forms import FormText
from server.web.pages import Page


@dataclass(frozen=True, kw_only=True)
class ListPage(Page):
    """One page of a shelf."""

    browse: region_book.Browse
    """What the page shows, and how much there is."""
    search: str
    """What was searched for."""
    path: str
    """Address of the shelf."""


@dataclass(frozen=True, kw_only=True)
class BeaconList(ListPage):
    template: ClassVar[str] = "beacon_list.html"
    kind: str
    """The kind the list is narrowed to, or empty."""
    kinds: tuple[BeaconKind, ...] = tuple(BeaconKind)
    """All kinds, for the filter."""


@dataclass(frozen=True, kw_only=True)
class AirfieldList(ListPage):
    template: ClassVar[str] = "airfield_list.html"


@dataclass(frozen=True, kw_only=True)
class CheckpointList(ListPage):
    template: ClassVar[str] = "checkpoint_list.html"


@dataclass(frozen=True, kw_only=True)
class BeaconCard(Page):
    template: ClassVar[str] = "beacon_card.html"
    beacon: Beacon
    variation_deg: float
    """Local variation at the station today, east positive."""
    today: str
    """The day of that variation."""
    doubts: tuple[str, ...]
    """What a person should look at again."""
    letters: tuple[tuple[str, str], ...]
    """Each character of the ident with its Morse marks."""
    signals: str
    """The Morse ident in time, for a browser to play: "start length; ..." in milliseconds; empty where it has no Morse."""
    path: str
    """Address of this card."""
    routes: tuple[Route, ...]
    """The routes that use it."""


@dataclass(frozen=True, kw_only=True)
class AirfieldCard(Page):
    template: ClassVar[str] = "airfield_card.html"
    airfield: Airfield
    variation_deg: float
    """Local variation there today, east positive."""
    doubts: tuple[str, ...]
    """What a person should look at again."""
    path: str
    """Address of this card."""
    routes: tuple[Route, ...]
    """The routes that use it."""


@dataclass(frozen=True, kw_only=True)
class CheckpointCard(Page):
    template: ClassVar[str] = "checkpoint_card.html"
    checkpoint: Checkpoint
    doubts: tuple[str, ...]
    """What a person should look at again."""
    path: str
    """Address of this card."""
    routes: tuple[Route, ...]
    """The routes that use it."""


@dataclass(frozen=True, kw_only=True)
class FormPage(Page):
    """A form with what stands in it."""

    form: FormText
    action: str
    """Where the form is sent."""
    back: str
    """Where to go without saving."""


@dataclass(frozen=True, kw_only=True)
class BeaconFormPage(FormPage):
    template: ClassVar[str] = "beacon_form.html"
    kinds: tuple[BeaconKind, ...] = tuple(BeaconKind)
    parts: tuple[ComponentKind, ...] = tuple(ComponentKind)
    statuses: tuple[ComponentStatus, ...] = tuple(ComponentStatus)
    classes: tuple[ServiceClass, ...] = tuple(ServiceClass)
    alignments: tuple[AlignmentKind, ...] = tuple(AlignmentKind)


@dataclass(frozen=True, kw_only=True)
class AirfieldFormPage(FormPage):
    template: ClassVar[str] = "airfield_form.html"


@dataclass(frozen=True, kw_only=True)
class CheckpointFormPage(FormPage):
    template: ClassVar[str] = "checkpoint_form.html"


@dataclass(frozen=True, kw_only=True)
class RemovePage(Page):
    """Asks once more before something is removed."""

    template: ClassVar[str] = "remove.html"
    what: str
    """What would be removed, with its kind."""
    action: str
    """Where the answer is sent."""
    back: str
    """Where to go without removing."""
