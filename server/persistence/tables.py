"""The tables of the database, the same on SQLite and PostgreSQL.

What must hold whatever the code does stands here as a named constraint. A change here needs a migration: tests/migrations compares.
Parts of a thing (a beacon's components, a route's points) are keyed by their owner and their place in its list, counted from 0.
"""

from __future__ import annotations

from datetime import UTC
from enum import StrEnum
from typing import Any

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    Date,
    DateTime,
    Double,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    TypeDecorator,
    text,
)

from server.navigation.aircraft import FuelUnit, SpeedKind, SpeedUnit
from server.navigation.alignment import AlignmentKind
from server.navigation.route import NorthReference, PointKind
from server.radio.beacon import BeaconKind, ComponentKind, ComponentStatus, ServiceClass

metadata = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    }
)


class UtcDateTime(TypeDecorator):
    """A moment, in UTC. PostgreSQL keeps the zone; SQLite keeps ISO text that is UTC by this rule. Comes back aware on both."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value, dialect):
        if value is None:
            return None
        moment = value.astimezone(UTC)
        return moment.replace(tzinfo=None) if dialect.name == "sqlite" else moment

    def process_result_value(self, value, dialect):
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


def _number() -> Column:
    """The key of a thing: a number the database gives."""
    return Column("id", Integer, primary_key=True)


NUMBERS_NEVER_COME_BACK: dict[str, Any] = {"sqlite_autoincrement": True}
"""SQLite would give the number of a removed thing to the next one, and an old link would open the wrong page. PostgreSQL never does."""


def _place_in_list(name: str = "number") -> Column:
    return Column(name, Integer, primary_key=True, autoincrement=False)


def _words(name: str) -> Column:
    return Column(name, Text, nullable=False)


def _measure(name: str, *, nullable: bool = True) -> Column:
    return Column(name, Double, nullable=nullable)


def _owner(name: str, table: str, *, key: bool = False) -> Column:
    """The thing this row is a part of, and vanishes with."""
    return Column(name, ForeignKey(f"{table}.id", ondelete="CASCADE"), nullable=False, primary_key=key)


def _used(name: str, table: str, *, nullable: bool = True) -> Column:
    """A thing this row needs, and which therefore cannot be removed."""
    return Column(name, ForeignKey(f"{table}.id", ondelete="RESTRICT"), nullable=nullable, index=True)


def _leg_choice() -> tuple[Column, ...]:
    """What the user chose for the leg onward from here."""
    return (_measure("onward_altitude_ft"), _measure("onward_changeover_nm"), _words("onward_changeover_reason"))


def _position(*, nullable: bool = False) -> tuple:
    whole = (CheckConstraint("(lat_deg IS NULL) = (lon_deg IS NULL)", name="position_whole"),) if nullable else ()
    return (
        _measure("lat_deg", nullable=nullable),
        _measure("lon_deg", nullable=nullable),
        CheckConstraint("lat_deg BETWEEN -90 AND 90", name="latitude"),
        CheckConstraint("lon_deg >= -180 AND lon_deg < 180", name="longitude"),
        *whole,
    )


def _one_of(column: str, words: type[StrEnum]) -> CheckConstraint:
    listed = ", ".join(f"'{word.value}'" for word in words)
    return CheckConstraint(f"{column} IN ({listed})", name=f"{column}_known")


def _found_by(table: str, *, ident: bool) -> tuple:
    """Indexes for the lists, the map's box, and the key a row has in the file it came from."""
    own_key = text("external_key <> ''")
    return (
        Index(f"ix_{table}_region_id_{'ident' if ident else 'name'}", "region_id", "ident" if ident else "name"),
        Index(f"ix_{table}_region_id_lat_deg_lon_deg", "region_id", "lat_deg", "lon_deg"),
        Index(
            f"uq_{table}_region_id_external_key",
            "region_id",
            "external_key",
            unique=True,
            sqlite_where=own_key,
            postgresql_where=own_key,
        ),
    )


region = Table(
    "region",
    metadata,
    _number(),
    Column("slug", Text, nullable=False, unique=True),
    _words("name"),
    Column("fictional", Boolean, nullable=False),
    _words("notice"),
    _words("ground_fingerprint"),
    _measure("south_deg"),
    _measure("north_deg"),
    _measure("west_deg"),
    _measure("east_deg"),
    _measure("standard_parallel_1_deg"),
    _measure("standard_parallel_2_deg"),
    _measure("central_meridian_deg"),
    _measure("central_parallel_deg"),
    _words("sea_geojson"),
    _words("level_rule"),
    _words("source"),
    CheckConstraint("slug <> ''", name="slug_given"),
    CheckConstraint("south_deg BETWEEN -90 AND 90", name="south"),
    CheckConstraint("north_deg BETWEEN -90 AND 90", name="north"),
    CheckConstraint("south_deg <= north_deg", name="south_below_north"),
    CheckConstraint("west_deg BETWEEN -180 AND 180", name="west"),
    CheckConstraint("east_deg BETWEEN -180 AND 180", name="east"),
    **NUMBERS_NEVER_COME_BACK,
)

beacon = Table(
    "beacon",
    metadata,
    _number(),
    _owner("region_id", "region"),
    _words("ident"),
    _words("name"),
    _words("kind"),
    Column("frequency_khz", Integer),
    _words("channel"),
    *_position(),
    _measure("elevation_ft"),
    _measure("antenna_height_ft"),
    _words("alignment_kind"),
    _measure("declination_deg"),
    Column("alignment_year", Integer),
    _words("alignment_source"),
    Column("voice", Boolean),
    _words("remarks"),
    _words("source"),
    _words("external_key"),
    _words("search_text"),
    _one_of("kind", BeaconKind),
    _one_of("alignment_kind", AlignmentKind),
    *_found_by("beacon", ident=True),
    **NUMBERS_NEVER_COME_BACK,
)

beacon_component = Table(
    "beacon_component",
    metadata,
    _owner("beacon_id", "beacon", key=True),
    _place_in_list(),
    _words("kind"),
    _words("status"),
    Column("service_class", Text),
    *_position(nullable=True),
    _measure("elevation_ft"),
    _measure("power_w"),
    Column("restrictions", Text),  # NULL: none are published
    Column("last_confirmed", Date),
    _words("source"),
    _one_of("kind", ComponentKind),
    _one_of("status", ComponentStatus),
    _one_of("service_class", ServiceClass),
)


def _part_of_component(name: str, *columns) -> Table:
    return Table(
        name,
        metadata,
        _place_in_list("beacon_id"),
        _place_in_list("component_number"),
        _place_in_list(),
        *columns,
        ForeignKeyConstraint(
            ["beacon_id", "component_number"], ["beacon_component.beacon_id", "beacon_component.number"], ondelete="CASCADE"
        ),
    )


coverage_sector = _part_of_component(
    "coverage_sector",
    _measure("from_radial_deg", nullable=False),
    _measure("to_radial_deg", nullable=False),
    _measure("range_nm", nullable=False),
    _measure("lowest_altitude_ft"),
    _measure("highest_altitude_ft"),
)

unusable_sector = _part_of_component(
    "unusable_sector",
    _measure("from_radial_deg", nullable=False),
    _measure("to_radial_deg", nullable=False),
    _measure("beyond_nm"),
    _measure("within_nm"),
    _measure("below_altitude_ft"),
    _words("source"),
)

outage = _part_of_component("outage", Column("first_day", Date), Column("last_day", Date), _words("reason"))

airfield = Table(
    "airfield",
    metadata,
    _number(),
    _owner("region_id", "region"),
    _words("ident"),
    _words("name"),
    *_position(),
    _measure("elevation_ft"),
    _words("time_zone"),
    Column("closed", Boolean, nullable=False),
    _words("remarks"),
    _words("source"),
    _words("external_key"),
    _words("search_text"),
    *_found_by("airfield", ident=True),
    **NUMBERS_NEVER_COME_BACK,
)

runway = Table(
    "runway",
    metadata,
    _owner("airfield_id", "airfield", key=True),
    _place_in_list(),
    _words("designator"),
    _measure("length_m"),
    _words("surface"),
)

checkpoint = Table(
    "checkpoint",
    metadata,
    _number(),
    _owner("region_id", "region"),
    _words("name"),
    _words("feature"),
    *_position(),
    _measure("elevation_ft"),
    _words("remarks"),
    _words("source"),
    _words("external_key"),
    _words("search_text"),
    *_found_by("checkpoint", ident=False),
    **NUMBERS_NEVER_COME_BACK,
)

aircraft = Table(
    "aircraft",
    metadata,
    _number(),
    _words("registration"),
    _words("type_name"),
    _measure("cruise_speed_kt", nullable=False),
    _words("cruise_speed_kind"),
    _measure("cruise_fuel_l_per_h", nullable=False),
    _measure("climb_speed_kt", nullable=False),
    _measure("climb_rate_ft_per_min", nullable=False),
    _measure("climb_fuel_l_per_h", nullable=False),
    _measure("descent_rate_ft_per_min", nullable=False),
    _measure("taxi_fuel_l", nullable=False),
    _measure("usable_fuel_l", nullable=False),
    _words("fuel_unit"),
    _words("remarks"),
    _words("speed_unit"),
    _measure("fuel_density_kg_per_l"),
    _measure("climb_percent_per_warm_c"),
    _one_of("cruise_speed_kind", SpeedKind),
    _one_of("fuel_unit", FuelUnit),
    _one_of("speed_unit", SpeedUnit),
    CheckConstraint("fuel_unit <> 'kg' OR fuel_density_kg_per_l IS NOT NULL", name="density_for_kilograms"),
    **NUMBERS_NEVER_COME_BACK,
)

compass_entry = Table(
    "compass_entry",
    metadata,
    _owner("aircraft_id", "aircraft", key=True),
    _place_in_list(),
    _measure("magnetic_deg", nullable=False),
    _measure("steer_deg", nullable=False),
)

cruise_row = Table(
    "cruise_row",
    metadata,
    _owner("aircraft_id", "aircraft", key=True),
    _place_in_list(),
    _words("power"),
    _measure("pressure_altitude_ft", nullable=False),
    _measure("isa_deviation_c", nullable=False),
    _measure("tas_kt", nullable=False),
    _measure("fuel_l_per_h", nullable=False),
)


def _level_change_rows(name: str) -> Table:
    return Table(
        name,
        metadata,
        _owner("aircraft_id", "aircraft", key=True),
        _place_in_list(),
        _measure("pressure_altitude_ft", nullable=False),
        _measure("time_min", nullable=False),
        _measure("fuel_l", nullable=False),
        _measure("air_distance_nm", nullable=False),
    )


climb_row = _level_change_rows("climb_row")
descent_row = _level_change_rows("descent_row")

route = Table(
    "route",
    metadata,
    _number(),
    Column("region_id", ForeignKey("region.id", ondelete="CASCADE"), nullable=False, index=True),
    _words("name"),
    _used("departure_airfield_id", "airfield", nullable=False),
    _used("destination_airfield_id", "airfield", nullable=False),
    _measure("altitude_ft"),
    Column("departure_utc", UtcDateTime),
    _used("aircraft_id", "aircraft"),
    _measure("isa_deviation_c"),
    _measure("fuel_on_board_l"),
    _words("reserve_rule"),
    _words("remarks"),
    Column("version", Integer, nullable=False),
    *_leg_choice(),
    _measure("qnh_hpa"),
    _words("winds_source"),
    Column("winds_from_utc", UtcDateTime),
    Column("winds_to_utc", UtcDateTime),
    _words("cruise_power"),
    _used("alternate_airfield_id", "airfield"),
    _measure("extra_fuel_l"),
    _words("level_rule"),
    _measure("corridor_nm"),
    CheckConstraint("version >= 1", name="version"),
    **NUMBERS_NEVER_COME_BACK,
)

route_point = Table(
    "route_point",
    metadata,
    _owner("route_id", "route", key=True),
    _place_in_list(),
    _words("kind"),
    _words("name"),
    _used("place_airfield_id", "airfield"),
    _used("place_beacon_id", "beacon"),
    _used("place_checkpoint_id", "checkpoint"),
    *_position(nullable=True),
    _used("beacon_id", "beacon"),
    _measure("radial_deg"),
    _measure("distance_nm"),
    _used("second_beacon_id", "beacon"),
    _measure("second_radial_deg"),
    *_leg_choice(),
    _one_of("kind", PointKind),
    CheckConstraint(
        "(place_airfield_id IS NOT NULL) = (kind = 'airfield')"
        " AND (place_beacon_id IS NOT NULL) = (kind = 'beacon')"
        " AND (place_checkpoint_id IS NOT NULL) = (kind = 'checkpoint')",
        name="place_fits_kind",
    ),
)

wind_layer = Table(
    "wind_layer",
    metadata,
    _owner("route_id", "route", key=True),
    _place_in_list(),
    _measure("altitude_ft", nullable=False),
    _measure("from_deg", nullable=False),
    _measure("speed_kt", nullable=False),
    _words("reference"),
    _measure("temperature_c"),
    _one_of("reference", NorthReference),
)

load = Table(
    "load",
    metadata,
    _number(),
    Column("region_id", ForeignKey("region.id", ondelete="CASCADE"), nullable=False, index=True),
    _words("what"),
    _words("source_name"),
    _words("content_sha256"),
    Column("loaded_at_utc", UtcDateTime, nullable=False),
    Column("taken", Integer, nullable=False),
    Column("refused", Integer, nullable=False),
    Column("added", Integer, nullable=False),
    Column("changed", Integer, nullable=False),
    Column("gone", Integer, nullable=False),
    CheckConstraint("taken >= 0 AND refused >= 0 AND added >= 0 AND changed >= 0 AND gone >= 0", name="counts"),
    **NUMBERS_NEVER_COME_BACK,
)

begun_route = Table(
    "begun_route",
    metadata,
    Column("key", Text, primary_key=True),
    Column("route_id", ForeignKey("route.id", ondelete="CASCADE"), nullable=False, index=True),
)
"""Under which key of its page a route was begun: a page that sends its first message twice gets one route."""
