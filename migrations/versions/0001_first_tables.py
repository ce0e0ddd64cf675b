"""Make the first tables: regions with their beacons, airfields, checkpoints, routes and loads; aircraft.

Revision 0001, the first.
"""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "aircraft",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("registration", sa.Text(), nullable=False),
        sa.Column("type_name", sa.Text(), nullable=False),
        sa.Column("cruise_speed_kt", sa.Double(), nullable=False),
        sa.Column("cruise_speed_kind", sa.Text(), nullable=False),
        sa.Column("cruise_fuel_l_per_h", sa.Double(), nullable=False),
        sa.Column("climb_speed_kt", sa.Double(), nullable=False),
        sa.Column("climb_rate_ft_per_min", sa.Double(), nullable=False),
        sa.Column("climb_fuel_l_per_h", sa.Double(), nullable=False),
        sa.Column("descent_rate_ft_per_min", sa.Double(), nullable=False),
        sa.Column("taxi_fuel_l", sa.Double(), nullable=False),
        sa.Column("usable_fuel_l", sa.Double(), nullable=False),
        sa.Column("fuel_unit", sa.Text(), nullable=False),
        sa.Column("remarks", sa.Text(), nullable=False),
        sa.CheckConstraint("cruise_speed_kind IN ('TAS', 'CAS')", name=op.f("ck_aircraft_cruise_speed_kind_known")),
        sa.CheckConstraint("fuel_unit IN ('L', 'US gal')", name=op.f("ck_aircraft_fuel_unit_known")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_aircraft")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "region",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("slug", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("fictional", sa.Boolean(), nullable=False),
        sa.Column("notice", sa.Text(), nullable=False),
        sa.Column("ground_fingerprint", sa.Text(), nullable=False),
        sa.Column("south_deg", sa.Double(), nullable=True),
        sa.Column("north_deg", sa.Double(), nullable=True),
        sa.Column("west_deg", sa.Double(), nullable=True),
        sa.Column("east_deg", sa.Double(), nullable=True),
        sa.Column("standard_parallel_1_deg", sa.Double(), nullable=True),
        sa.Column("standard_parallel_2_deg", sa.Double(), nullable=True),
        sa.Column("central_meridian_deg", sa.Double(), nullable=True),
        sa.Column("central_parallel_deg", sa.Double(), nullable=True),
        sa.Column("sea_geojson", sa.Text(), nullable=False),
        sa.Column("level_rule", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.CheckConstraint("slug <> ''", name=op.f("ck_region_slug_given")),
        sa.CheckConstraint("east_deg BETWEEN -180 AND 180", name=op.f("ck_region_east")),
        sa.CheckConstraint("north_deg BETWEEN -90 AND 90", name=op.f("ck_region_north")),
        sa.CheckConstraint("south_deg <= north_deg", name=op.f("ck_region_south_below_north")),
        sa.CheckConstraint("south_deg BETWEEN -90 AND 90", name=op.f("ck_region_south")),
        sa.CheckConstraint("west_deg BETWEEN -180 AND 180", name=op.f("ck_region_west")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_region")),
        sa.UniqueConstraint("slug", name=op.f("uq_region_slug")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "airfield",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("region_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ident", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("lat_deg", sa.Double(), nullable=False),
        sa.Column("lon_deg", sa.Double(), nullable=False),
        sa.Column("elevation_ft", sa.Double(), nullable=True),
        sa.Column("time_zone", sa.Text(), nullable=False),
        sa.Column("closed", sa.Boolean(), nullable=False),
        sa.Column("remarks", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("external_key", sa.Text(), nullable=False),
        sa.Column("search_text", sa.Text(), nullable=False),
        sa.CheckConstraint("lat_deg BETWEEN -90 AND 90", name=op.f("ck_airfield_latitude")),
        sa.CheckConstraint("lon_deg >= -180 AND lon_deg < 180", name=op.f("ck_airfield_longitude")),
        sa.ForeignKeyConstraint(["region_id"], ["region.id"], name=op.f("fk_airfield_region_id_region"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_airfield")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_airfield_region_id_ident", "airfield", ["region_id", "ident"], unique=False)
    op.create_index("ix_airfield_region_id_lat_deg_lon_deg", "airfield", ["region_id", "lat_deg", "lon_deg"], unique=False)
    op.create_index(
        "uq_airfield_region_id_external_key",
        "airfield",
        ["region_id", "external_key"],
        unique=True,
        sqlite_where=sa.text("external_key <> ''"),
        postgresql_where=sa.text("external_key <> ''"),
    )
    op.create_table(
        "beacon",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("region_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ident", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("frequency_khz", sa.Integer(), nullable=True),
        sa.Column("channel", sa.Text(), nullable=False),
        sa.Column("lat_deg", sa.Double(), nullable=False),
        sa.Column("lon_deg", sa.Double(), nullable=False),
        sa.Column("elevation_ft", sa.Double(), nullable=True),
        sa.Column("antenna_height_ft", sa.Double(), nullable=True),
        sa.Column("alignment_kind", sa.Text(), nullable=False),
        sa.Column("declination_deg", sa.Double(), nullable=True),
        sa.Column("alignment_year", sa.Integer(), nullable=True),
        sa.Column("alignment_source", sa.Text(), nullable=False),
        sa.Column("voice", sa.Boolean(), nullable=True),
        sa.Column("remarks", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("external_key", sa.Text(), nullable=False),
        sa.Column("search_text", sa.Text(), nullable=False),
        sa.CheckConstraint("alignment_kind IN ('magnetic', 'true', 'grid', 'unknown')", name=op.f("ck_beacon_alignment_kind_known")),
        sa.CheckConstraint("kind IN ('VOR', 'VOR/DME', 'VORTAC', 'TACAN', 'DME', 'NDB', 'NDB/DME')", name=op.f("ck_beacon_kind_known")),
        sa.CheckConstraint("lat_deg BETWEEN -90 AND 90", name=op.f("ck_beacon_latitude")),
        sa.CheckConstraint("lon_deg >= -180 AND lon_deg < 180", name=op.f("ck_beacon_longitude")),
        sa.ForeignKeyConstraint(["region_id"], ["region.id"], name=op.f("fk_beacon_region_id_region"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_beacon")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_beacon_region_id_ident", "beacon", ["region_id", "ident"], unique=False)
    op.create_index("ix_beacon_region_id_lat_deg_lon_deg", "beacon", ["region_id", "lat_deg", "lon_deg"], unique=False)
    op.create_index(
        "uq_beacon_region_id_external_key",
        "beacon",
        ["region_id", "external_key"],
        unique=True,
        sqlite_where=sa.text("external_key <> ''"),
        postgresql_where=sa.text("external_key <> ''"),
    )
    op.create_table(
        "checkpoint",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("region_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("feature", sa.Text(), nullable=False),
        sa.Column("lat_deg", sa.Double(), nullable=False),
        sa.Column("lon_deg", sa.Double(), nullable=False),
        sa.Column("elevation_ft", sa.Double(), nullable=True),
        sa.Column("remarks", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("external_key", sa.Text(), nullable=False),
        sa.Column("search_text", sa.Text(), nullable=False),
        sa.CheckConstraint("lat_deg BETWEEN -90 AND 90", name=op.f("ck_checkpoint_latitude")),
        sa.CheckConstraint("lon_deg >= -180 AND lon_deg < 180", name=op.f("ck_checkpoint_longitude")),
        sa.ForeignKeyConstraint(["region_id"], ["region.id"], name=op.f("fk_checkpoint_region_id_region"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_checkpoint")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_checkpoint_region_id_lat_deg_lon_deg", "checkpoint", ["region_id", "lat_deg", "lon_deg"], unique=False)
    op.create_index("ix_checkpoint_region_id_name", "checkpoint", ["region_id", "name"], unique=False)
    op.create_index(
        "uq_checkpoint_region_id_external_key",
        "checkpoint",
        ["region_id", "external_key"],
        unique=True,
        sqlite_where=sa.text("external_key <> ''"),
        postgresql_where=sa.text("external_key <> ''"),
    )
    op.create_table(
        "compass_entry",
        sa.Column("aircraft_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("magnetic_deg", sa.Double(), nullable=False),
        sa.Column("steer_deg", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(["aircraft_id"], ["aircraft.id"], name=op.f("fk_compass_entry_aircraft_id_aircraft"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("aircraft_id", "number", name=op.f("pk_compass_entry")),
    )
    op.create_table(
        "load",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("region_id", sa.Integer(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("source_name", sa.Text(), nullable=False),
        sa.Column("content_sha256", sa.Text(), nullable=False),
        sa.Column("loaded_at_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("taken", sa.Integer(), nullable=False),
        sa.Column("refused", sa.Integer(), nullable=False),
        sa.Column("added", sa.Integer(), nullable=False),
        sa.Column("changed", sa.Integer(), nullable=False),
        sa.Column("gone", sa.Integer(), nullable=False),
        sa.CheckConstraint("taken >= 0 AND refused >= 0 AND added >= 0 AND changed >= 0 AND gone >= 0", name=op.f("ck_load_counts")),
        sa.ForeignKeyConstraint(["region_id"], ["region.id"], name=op.f("fk_load_region_id_region"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_load")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_load_region_id"), "load", ["region_id"], unique=False)
    op.create_table(
        "beacon_component",
        sa.Column("beacon_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("status", sa.Text(), nullable=False),
        sa.Column("service_class", sa.Text(), nullable=True),
        sa.Column("lat_deg", sa.Double(), nullable=True),
        sa.Column("lon_deg", sa.Double(), nullable=True),
        sa.Column("elevation_ft", sa.Double(), nullable=True),
        sa.Column("power_w", sa.Double(), nullable=True),
        sa.Column("last_confirmed", sa.Date(), nullable=True),
        sa.Column("source", sa.Text(), nullable=False),
        sa.CheckConstraint("kind IN ('azimuth', 'distance', 'bearing')", name=op.f("ck_beacon_component_kind_known")),
        sa.CheckConstraint(
            "service_class IN ('T', 'L', 'H', 'VL', 'VH', 'DL', 'DH', 'locator', 'MH', 'NDB H', 'HH')",
            name=op.f("ck_beacon_component_service_class_known"),
        ),
        sa.CheckConstraint(
            "status IN ('operating', 'out of service', 'withdrawn', 'unknown')", name=op.f("ck_beacon_component_status_known")
        ),
        sa.CheckConstraint("(lat_deg IS NULL) = (lon_deg IS NULL)", name=op.f("ck_beacon_component_position_whole")),
        sa.CheckConstraint("lat_deg BETWEEN -90 AND 90", name=op.f("ck_beacon_component_latitude")),
        sa.CheckConstraint("lon_deg >= -180 AND lon_deg < 180", name=op.f("ck_beacon_component_longitude")),
        sa.ForeignKeyConstraint(["beacon_id"], ["beacon.id"], name=op.f("fk_beacon_component_beacon_id_beacon"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("beacon_id", "number", name=op.f("pk_beacon_component")),
    )
    op.create_table(
        "route",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("region_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("departure_airfield_id", sa.Integer(), nullable=False),
        sa.Column("destination_airfield_id", sa.Integer(), nullable=False),
        sa.Column("altitude_ft", sa.Double(), nullable=True),
        sa.Column("departure_utc", sa.DateTime(timezone=True), nullable=True),
        sa.Column("aircraft_id", sa.Integer(), nullable=True),
        sa.Column("isa_deviation_c", sa.Double(), nullable=True),
        sa.Column("fuel_on_board_l", sa.Double(), nullable=True),
        sa.Column("reserve_rule", sa.Text(), nullable=False),
        sa.Column("remarks", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("version >= 1", name=op.f("ck_route_version")),
        sa.ForeignKeyConstraint(["aircraft_id"], ["aircraft.id"], name=op.f("fk_route_aircraft_id_aircraft"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["departure_airfield_id"], ["airfield.id"], name=op.f("fk_route_departure_airfield_id_airfield"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["destination_airfield_id"], ["airfield.id"], name=op.f("fk_route_destination_airfield_id_airfield"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["region_id"], ["region.id"], name=op.f("fk_route_region_id_region"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_route")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_route_aircraft_id"), "route", ["aircraft_id"], unique=False)
    op.create_index(op.f("ix_route_departure_airfield_id"), "route", ["departure_airfield_id"], unique=False)
    op.create_index(op.f("ix_route_destination_airfield_id"), "route", ["destination_airfield_id"], unique=False)
    op.create_index(op.f("ix_route_region_id"), "route", ["region_id"], unique=False)
    op.create_table(
        "runway",
        sa.Column("airfield_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("designator", sa.Text(), nullable=False),
        sa.Column("length_m", sa.Double(), nullable=True),
        sa.Column("surface", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["airfield_id"], ["airfield.id"], name=op.f("fk_runway_airfield_id_airfield"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("airfield_id", "number", name=op.f("pk_runway")),
    )
    op.create_table(
        "coverage_sector",
        sa.Column("beacon_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("component_number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("from_radial_deg", sa.Double(), nullable=False),
        sa.Column("to_radial_deg", sa.Double(), nullable=False),
        sa.Column("range_nm", sa.Double(), nullable=False),
        sa.Column("lowest_altitude_ft", sa.Double(), nullable=True),
        sa.Column("highest_altitude_ft", sa.Double(), nullable=True),
        sa.ForeignKeyConstraint(
            ["beacon_id", "component_number"],
            ["beacon_component.beacon_id", "beacon_component.number"],
            name=op.f("fk_coverage_sector_beacon_id_component_number_beacon_component"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("beacon_id", "component_number", "number", name=op.f("pk_coverage_sector")),
    )
    op.create_table(
        "outage",
        sa.Column("beacon_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("component_number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("first_day", sa.Date(), nullable=True),
        sa.Column("last_day", sa.Date(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["beacon_id", "component_number"],
            ["beacon_component.beacon_id", "beacon_component.number"],
            name=op.f("fk_outage_beacon_id_component_number_beacon_component"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("beacon_id", "component_number", "number", name=op.f("pk_outage")),
    )
    op.create_table(
        "route_point",
        sa.Column("route_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("place_airfield_id", sa.Integer(), nullable=True),
        sa.Column("place_beacon_id", sa.Integer(), nullable=True),
        sa.Column("place_checkpoint_id", sa.Integer(), nullable=True),
        sa.Column("lat_deg", sa.Double(), nullable=True),
        sa.Column("lon_deg", sa.Double(), nullable=True),
        sa.Column("beacon_id", sa.Integer(), nullable=True),
        sa.Column("radial_deg", sa.Double(), nullable=True),
        sa.Column("distance_nm", sa.Double(), nullable=True),
        sa.Column("second_beacon_id", sa.Integer(), nullable=True),
        sa.Column("second_radial_deg", sa.Double(), nullable=True),
        sa.CheckConstraint(
            "(place_airfield_id IS NOT NULL) = (kind = 'airfield')"
            " AND (place_beacon_id IS NOT NULL) = (kind = 'beacon')"
            " AND (place_checkpoint_id IS NOT NULL) = (kind = 'checkpoint')",
            name=op.f("ck_route_point_place_fits_kind"),
        ),
        sa.CheckConstraint(
            "kind IN ('airfield', 'beacon', 'checkpoint', 'radial-distance', 'two-radials', 'position')",
            name=op.f("ck_route_point_kind_known"),
        ),
        sa.CheckConstraint("(lat_deg IS NULL) = (lon_deg IS NULL)", name=op.f("ck_route_point_position_whole")),
        sa.CheckConstraint("lat_deg BETWEEN -90 AND 90", name=op.f("ck_route_point_latitude")),
        sa.CheckConstraint("lon_deg >= -180 AND lon_deg < 180", name=op.f("ck_route_point_longitude")),
        sa.ForeignKeyConstraint(["beacon_id"], ["beacon.id"], name=op.f("fk_route_point_beacon_id_beacon"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["place_airfield_id"], ["airfield.id"], name=op.f("fk_route_point_place_airfield_id_airfield"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["place_beacon_id"], ["beacon.id"], name=op.f("fk_route_point_place_beacon_id_beacon"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["place_checkpoint_id"], ["checkpoint.id"], name=op.f("fk_route_point_place_checkpoint_id_checkpoint"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["route_id"], ["route.id"], name=op.f("fk_route_point_route_id_route"), ondelete="CASCADE"),
        sa.ForeignKeyConstraint(
            ["second_beacon_id"], ["beacon.id"], name=op.f("fk_route_point_second_beacon_id_beacon"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("route_id", "number", name=op.f("pk_route_point")),
    )
    op.create_index(op.f("ix_route_point_beacon_id"), "route_point", ["beacon_id"], unique=False)
    op.create_index(op.f("ix_route_point_place_airfield_id"), "route_point", ["place_airfield_id"], unique=False)
    op.create_index(op.f("ix_route_point_place_beacon_id"), "route_point", ["place_beacon_id"], unique=False)
    op.create_index(op.f("ix_route_point_place_checkpoint_id"), "route_point", ["place_checkpoint_id"], unique=False)
    op.create_index(op.f("ix_route_point_second_beacon_id"), "route_point", ["second_beacon_id"], unique=False)
    op.create_table(
        "unusable_sector",
        sa.Column("beacon_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("component_number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("from_radial_deg", sa.Double(), nullable=False),
        sa.Column("to_radial_deg", sa.Double(), nullable=False),
        sa.Column("beyond_nm", sa.Double(), nullable=True),
        sa.Column("within_nm", sa.Double(), nullable=True),
        sa.Column("below_altitude_ft", sa.Double(), nullable=True),
        sa.Column("source", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["beacon_id", "component_number"],
            ["beacon_component.beacon_id", "beacon_component.number"],
            name=op.f("fk_unusable_sector_beacon_id_component_number_beacon_component"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("beacon_id", "component_number", "number", name=op.f("pk_unusable_sector")),
    )
    op.create_table(
        "wind_layer",
        sa.Column("route_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("altitude_ft", sa.Double(), nullable=False),
        sa.Column("from_deg", sa.Double(), nullable=False),
        sa.Column("speed_kt", sa.Double(), nullable=False),
        sa.Column("reference", sa.Text(), nullable=False),
        sa.CheckConstraint("reference IN ('T', 'M')", name=op.f("ck_wind_layer_reference_known")),
        sa.ForeignKeyConstraint(["route_id"], ["route.id"], name=op.f("fk_wind_layer_route_id_route"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("route_id", "number", name=op.f("pk_wind_layer")),
    )


def downgrade() -> None:
    op.drop_table("wind_layer")
    op.drop_table("unusable_sector")
    op.drop_table("route_point")
    op.drop_table("outage")
    op.drop_table("coverage_sector")
    op.drop_table("runway")
    op.drop_table("route")
    op.drop_table("beacon_component")
    op.drop_table("load")
    op.drop_table("compass_entry")
    op.drop_table("checkpoint")
    op.drop_table("beacon")
    op.drop_table("airfield")
    op.drop_table("region")
    op.drop_table("aircraft")
