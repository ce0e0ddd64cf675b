"""Keep what is chosen for each leg, QNH, validity of the winds, temperatures, power, alternate, extra fuel, level rule and corridor.

Revision 0003, after 0002.
"""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

WORDS = {"route": ("onward_changeover_reason", "winds_source", "cruise_power", "level_rule"), "route_point": ("onward_changeover_reason",)}
"""New texts, which are never NULL."""

MEASURES = {
    "route": ("onward_altitude_ft", "onward_changeover_nm", "qnh_hpa", "extra_fuel_l", "corridor_nm"),
    "route_point": ("onward_altitude_ft", "onward_changeover_nm"),
}


def _named(table: str, column: str, other: str, rule: str = "RESTRICT") -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint([column], [f"{other}.id"], name=op.f(f"fk_{table}_{column}_{other}"), ondelete=rule)


def _added(table: str, *, text_nullable: bool) -> list[sa.Column]:
    return [
        *(sa.Column(name, sa.Text(), nullable=text_nullable) for name in WORDS[table]),
        *(sa.Column(name, sa.Double(), nullable=True) for name in MEASURES[table]),
    ]


def _added_to_route(*, text_nullable: bool) -> list[sa.Column]:
    return [
        *_added("route", text_nullable=text_nullable),
        sa.Column("winds_from_utc", sa.DateTime(timezone=True), nullable=True),
        sa.Column("winds_to_utc", sa.DateTime(timezone=True), nullable=True),
        sa.Column("alternate_airfield_id", sa.Integer(), nullable=True),
    ]


def _route(*more: sa.Column | sa.ForeignKeyConstraint | sa.Index) -> sa.Table:
    """The table as it stands, for SQLite, which rebuilds a table to change a rule and does not tell the old ones."""
    return sa.Table(
        "route",
        sa.MetaData(),
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
        *more,
        sa.CheckConstraint("version >= 1", name=op.f("ck_route_version")),
        _named("route", "aircraft_id", "aircraft"),
        _named("route", "departure_airfield_id", "airfield"),
        _named("route", "destination_airfield_id", "airfield"),
        _named("route", "region_id", "region", "CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_route")),
        *(
            sa.Index(op.f(f"ix_route_{name}"), name)
            for name in ("aircraft_id", "departure_airfield_id", "destination_airfield_id", "region_id")
        ),
        sqlite_autoincrement=True,
    )


def _route_point(*more: sa.Column) -> sa.Table:
    return sa.Table(
        "route_point",
        sa.MetaData(),
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
        *more,
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
        _named("route_point", "beacon_id", "beacon"),
        _named("route_point", "place_airfield_id", "airfield"),
        _named("route_point", "place_beacon_id", "beacon"),
        _named("route_point", "place_checkpoint_id", "checkpoint"),
        _named("route_point", "route_id", "route", "CASCADE"),
        _named("route_point", "second_beacon_id", "beacon"),
        sa.PrimaryKeyConstraint("route_id", "number", name=op.f("pk_route_point")),
        *(
            sa.Index(op.f(f"ix_route_point_{name}"), name)
            for name in ("beacon_id", "place_airfield_id", "place_beacon_id", "place_checkpoint_id", "second_beacon_id")
        ),
    )


def upgrade() -> None:
    op.add_column("wind_layer", sa.Column("temperature_c", sa.Double(), nullable=True))
    for column in _added_to_route(text_nullable=True):
        op.add_column("route", column)
    for column in _added("route_point", text_nullable=True):
        op.add_column("route_point", column)
    for table, names in WORDS.items():
        for name in names:
            op.execute(f"UPDATE {table} SET {name} = ''")
    with op.batch_alter_table("route", copy_from=_route(*_added_to_route(text_nullable=True))) as route:
        for name in WORDS["route"]:
            route.alter_column(name, existing_type=sa.Text(), nullable=False)
        route.create_foreign_key(
            op.f("fk_route_alternate_airfield_id_airfield"), "airfield", ["alternate_airfield_id"], ["id"], ondelete="RESTRICT"
        )
        route.create_index(op.f("ix_route_alternate_airfield_id"), ["alternate_airfield_id"])
    with op.batch_alter_table("route_point", copy_from=_route_point(*_added("route_point", text_nullable=True))) as route_point:
        for name in WORDS["route_point"]:
            route_point.alter_column(name, existing_type=sa.Text(), nullable=False)


def downgrade() -> None:
    """What was chosen is lost; the routes stay."""
    foreign_key = _named("route", "alternate_airfield_id", "airfield")
    index = sa.Index(op.f("ix_route_alternate_airfield_id"), "alternate_airfield_id")
    with op.batch_alter_table("route_point", copy_from=_route_point(*_added("route_point", text_nullable=False))) as route_point:
        for column in _added("route_point", text_nullable=False):
            route_point.drop_column(column.name)
    with op.batch_alter_table("route", copy_from=_route(*_added_to_route(text_nullable=False), foreign_key, index)) as route:
        route.drop_index(op.f("ix_route_alternate_airfield_id"))
        route.drop_constraint(op.f("fk_route_alternate_airfield_id_airfield"), type_="foreignkey")
        for column in _added_to_route(text_nullable=False):
            route.drop_column(column.name)
    with op.batch_alter_table("wind_layer") as wind_layer:
        wind_layer.drop_column("temperature_c")
