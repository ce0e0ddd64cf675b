"""Radio: will a beacon be received. Channels, service volumes, limits, line of sight over terrain. No file, clock or database."""

from server.radio.band import NO_DOUBT, STANDARD_DOUBT, SightBand, SightDoubt, sight_band
from server.radio.beacon import (
    Beacon,
    BeaconKind,
    Component,
    ComponentKind,
    ComponentStatus,
    CoverageSector,
    Outage,
    ServiceClass,
    UnusableSector,
)
from server.radio.channels import DmePair, channel_for_vor_khz, dme_pair, is_vor_khz, parse_channel, vor_khz_for_channel
from server.radio.checks import NIGHT_RANGE_NM
from server.radio.coverage import STATES, ChosenHeight, Coverage, HeardPart, coverage_of, folded, heard_at
from server.radio.crest_table import CrestTable, build_table
from server.radio.diffraction import Polarisation
from server.radio.field_strength import Emission, FieldStrength, Margins, emission_of, margins_along, predicted
from server.radio.fix_cover import LEAST_CUT_DEG, FixCover, fix_cover_of
from server.radio.ground import UNKNOWN_BELOW_M, GridWindow, Ground
from server.radio.horizon import STANDARD_K, radio_horizon_nm
from server.radio.leg_view import LegPath
from server.radio.limits import in_arc, off_the_air_on, outage_on, restrictions_not_read, status_findings, unusable_at
from server.radio.reception import Cause, Finding, ReceptionState, Ridge, Stretch
from server.radio.service_volume import greatest_range_nm, published_reach_nm, service_bands, smallest_class, volume_range_nm, volume_state
from server.radio.sight import Antenna, SightLine, SightTable, lowest_altitudes, place_antenna, sight_line
from server.radio.sights import TableSights
from server.radio.stretches import (
    Change,
    ChangeKind,
    best_of,
    changes_of,
    first_heard_nm,
    leg_received,
    leg_usable,
    lost_nm,
    severity,
    state_apart_from_cone,
    worst_state,
)
from server.radio.survey import LegSurvey, antenna_of, survey_leg

__all__ = [
    "LEAST_CUT_DEG",
    "NIGHT_RANGE_NM",
    "NO_DOUBT",
    "STANDARD_DOUBT",
    "STANDARD_K",
    "STATES",
    "UNKNOWN_BELOW_M",
    "Antenna",
    "Beacon",
    "BeaconKind",
    "Cause",
    "Change",
    "ChangeKind",
    "ChosenHeight",
    "Component",
    "ComponentKind",
    "ComponentStatus",
    "Coverage",
    "CoverageSector",
    "CrestTable",
    "DmePair",
    "Emission",
    "FieldStrength",
    "Finding",
    "FixCover",
    "GridWindow",
    "Ground",
    "HeardPart",
    "LegPath",
    "LegSurvey",
    "Margins",
    "Outage",
    "Polarisation",
    "ReceptionState",
    "Ridge",
    "ServiceClass",
    "SightBand",
    "SightDoubt",
    "SightLine",
    "SightTable",
    "Stretch",
    "TableSights",
    "UnusableSector",
    "antenna_of",
    "best_of",
    "build_table",
    "changes_of",
    "channel_for_vor_khz",
    "coverage_of",
    "dme_pair",
    "emission_of",
    "first_heard_nm",
    "fix_cover_of",
    "folded",
    "greatest_range_nm",
    "heard_at",
    "in_arc",
    "is_vor_khz",
    "leg_received",
    "leg_usable",
    "lost_nm",
    "lowest_altitudes",
    "margins_along",
    "off_the_air_on",
    "outage_on",
    "parse_channel",
    "place_antenna",
    "predicted",
    "published_reach_nm",
    "radio_horizon_nm",
    "restrictions_not_read",
    "service_bands",
    "severity",
    "sight_band",
    "sight_line",
    "smallest_class",
    "state_apart_from_cone",
    "status_findings",
    "survey_leg",
    "unusable_at",
    "volume_range_nm",
    "volume_state",
    "vor_khz_for_channel",
    "worst_state",
]
