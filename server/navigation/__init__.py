"""Navigation: pure functions of position, direction, wind, air and time. No file, clock, database, setting or request."""

from server.navigation.aircraft import Aircraft, CompassCardEntry, FuelUnit, SpeedKind
from server.navigation.alignment import Alignment, AlignmentKind
from server.navigation.atmosphere import (
    SEA_LEVEL_PRESSURE_HPA,
    calibrated_airspeed_kt,
    density_altitude_ft,
    isa_density_kg_m3,
    isa_pressure_hpa,
    isa_temperature_c,
    pressure_altitude_ft,
    sound_speed_kt,
    true_airspeed_kt,
)
from server.navigation.bearings import (
    difference_deg,
    fold_deg,
    magnetic_from_true_deg,
    reciprocal_deg,
    three_digits,
    true_from_magnetic_deg,
)
from server.navigation.compass import compass_heading_deg
from server.navigation.coordinates import format_dm, parse_latitude, parse_longitude, parse_number, parse_position
from server.navigation.fixes import (
    TwoRadialFix,
    cone_radius_nm,
    ground_range_nm,
    radial_distance_fix,
    slant_range_nm,
    two_radial_fix,
)
from server.navigation.geodesy import (
    Geodesic,
    OffsetFromLeg,
    Track,
    bearings_and_distances,
    destination,
    destinations,
    distance_and_offset_from_leg,
    distance_nm,
    inverse,
    points_along,
    position_along,
    track,
)
from server.navigation.ident import morse, morse_duration_s, normalise_ident
from server.navigation.levels import LevelAdvice, LevelRule, cruising_level_advice
from server.navigation.magnetism import Variation, decimal_year, variation, variations_deg
from server.navigation.places import Airfield, Checkpoint, Runway
from server.navigation.position import Position
from server.navigation.projection import ConicProjection
from server.navigation.radials import Declination, Radial, declination_used, radial_from, true_bearing_of_radial
from server.navigation.route import NorthReference, PointKind, Route, RoutePoint, WindLayer
from server.navigation.wind import Wind, WindCorrection, wind_at, wind_correction, wind_from_heading

__all__ = [
    "SEA_LEVEL_PRESSURE_HPA",
    "Aircraft",
    "Airfield",
    "Alignment",
    "AlignmentKind",
    "Checkpoint",
    "CompassCardEntry",
    "ConicProjection",
    "Declination",
    "FuelUnit",
    "Geodesic",
    "LevelAdvice",
    "LevelRule",
    "NorthReference",
    "OffsetFromLeg",
    "PointKind",
    "Position",
    "Radial",
    "Route",
    "RoutePoint",
    "Runway",
    "SpeedKind",
    "Track",
    "TwoRadialFix",
    "Variation",
    "Wind",
    "WindCorrection",
    "WindLayer",
    "bearings_and_distances",
    "calibrated_airspeed_kt",
    "compass_heading_deg",
    "cone_radius_nm",
    "cruising_level_advice",
    "decimal_year",
    "declination_used",
    "density_altitude_ft",
    "destination",
    "destinations",
    "difference_deg",
    "distance_and_offset_from_leg",
    "distance_nm",
    "fold_deg",
    "format_dm",
    "ground_range_nm",
    "inverse",
    "isa_density_kg_m3",
    "isa_pressure_hpa",
    "isa_temperature_c",
    "magnetic_from_true_deg",
    "morse",
    "morse_duration_s",
    "normalise_ident",
    "parse_latitude",
    "parse_longitude",
    "parse_number",
    "parse_position",
    "points_along",
    "position_along",
    "pressure_altitude_ft",
    "radial_distance_fix",
    "radial_from",
    "reciprocal_deg",
    "slant_range_nm",
    "sound_speed_kt",
    "three_digits",
    "track",
    "true_airspeed_kt",
    "true_bearing_of_radial",
    "true_from_magnetic_deg",
    "two_radial_fix",
    "variation",
    "variations_deg",
    "wind_at",
    "wind_correction",
    "wind_from_heading",
]
