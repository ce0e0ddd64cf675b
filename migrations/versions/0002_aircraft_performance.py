"""Keep the climb, cruise and descent tables of an aircraft, its speed unit, and fuel in kilograms with its density.

Revision 0002, after 0001.
"""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

VOLUMES = "fuel_unit IN ('L', 'US gal')"


def _aircraft(*columns: sa.Column | sa.CheckConstraint, fuel_units: str = VOLUMES) -> sa.Table:
    """The table as it stands, for SQLite, which rebuilds a table to change a rule and does not tell the old ones."""
    return sa.Table(
        "aircraft",
        sa.MetaData(),
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
        *columns,
        sa.CheckConstraint("cruise_speed_kind IN ('TAS', 'CAS')", name=op.f("ck_aircraft_cruise_speed_kind_known")),
        sa.CheckConstraint(fuel_units, name=op.f("ck_aircraft_fuel_unit_known")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_aircraft")),
        sqlite_autoincrement=True,
    )


def upgrade() -> None:
    op.add_column("aircraft", sa.Column("speed_unit", sa.Text(), nullable=True))
    op.add_column("aircraft", sa.Column("fuel_density_kg_per_l", sa.Double(), nullable=True))
    op.add_column("aircraft", sa.Column("climb_percent_per_warm_c", sa.Double(), nullable=True))
    op.execute("UPDATE aircraft SET speed_unit = 'kt'")
    standing = _aircraft(
        sa.Column("speed_unit", sa.Text(), nullable=True),
        sa.Column("fuel_density_kg_per_l", sa.Double(), nullable=True),
        sa.Column("climb_percent_per_warm_c", sa.Double(), nullable=True),
    )
    with op.batch_alter_table("aircraft", copy_from=standing) as aircraft:
        aircraft.alter_column("speed_unit", existing_type=sa.Text(), nullable=False)
        aircraft.drop_constraint(op.f("ck_aircraft_fuel_unit_known"), type_="check")
        aircraft.create_check_constraint(op.f("ck_aircraft_fuel_unit_known"), "fuel_unit IN ('L', 'US gal', 'kg')")
        aircraft.create_check_constraint(op.f("ck_aircraft_speed_unit_known"), "speed_unit IN ('kt', 'mph')")
        aircraft.create_check_constraint(
            op.f("ck_aircraft_density_for_kilograms"), "fuel_unit <> 'kg' OR fuel_density_kg_per_l IS NOT NULL"
        )
    op.create_table(
        "cruise_row",
        sa.Column("aircraft_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("power", sa.Text(), nullable=False),
        sa.Column("pressure_altitude_ft", sa.Double(), nullable=False),
        sa.Column("isa_deviation_c", sa.Double(), nullable=False),
        sa.Column("tas_kt", sa.Double(), nullable=False),
        sa.Column("fuel_l_per_h", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(["aircraft_id"], ["aircraft.id"], name=op.f("fk_cruise_row_aircraft_id_aircraft"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("aircraft_id", "number", name=op.f("pk_cruise_row")),
    )
    for table in ("climb_row", "descent_row"):
        op.create_table(
            table,
            sa.Column("aircraft_id", sa.Integer(), autoincrement=False, nullable=False),
            sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
            sa.Column("pressure_altitude_ft", sa.Double(), nullable=False),
            sa.Column("time_min", sa.Double(), nullable=False),
            sa.Column("fuel_l", sa.Double(), nullable=False),
            sa.Column("air_distance_nm", sa.Double(), nullable=False),
            sa.ForeignKeyConstraint(["aircraft_id"], ["aircraft.id"], name=op.f(f"fk_{table}_aircraft_id_aircraft"), ondelete="CASCADE"),
            sa.PrimaryKeyConstraint("aircraft_id", "number", name=op.f(f"pk_{table}")),
        )


def downgrade() -> None:
    """Kilograms and miles an hour were only how figures are shown: litres and knots are kept. The tables are lost."""
    op.drop_table("descent_row")
    op.drop_table("climb_row")
    op.drop_table("cruise_row")
    op.execute("UPDATE aircraft SET fuel_unit = 'L' WHERE fuel_unit = 'kg'")
    standing = _aircraft(
        sa.Column("speed_unit", sa.Text(), nullable=False),
        sa.Column("fuel_density_kg_per_l", sa.Double(), nullable=True),
        sa.Column("climb_percent_per_warm_c", sa.Double(), nullable=True),
        sa.CheckConstraint("speed_unit IN ('kt', 'mph')", name=op.f("ck_aircraft_speed_unit_known")),
        sa.CheckConstraint("fuel_unit <> 'kg' OR fuel_density_kg_per_l IS NOT NULL", name=op.f("ck_aircraft_density_for_kilograms")),
        fuel_units="fuel_unit IN ('L', 'US gal', 'kg')",
    )
    with op.batch_alter_table("aircraft", copy_from=standing) as aircraft:
        aircraft.drop_constraint(op.f("ck_aircraft_density_for_kilograms"), type_="check")
        aircraft.drop_constraint(op.f("ck_aircraft_speed_unit_known"), type_="check")
        aircraft.drop_constraint(op.f("ck_aircraft_fuel_unit_known"), type_="check")
        aircraft.create_check_constraint(op.f("ck_aircraft_fuel_unit_known"), VOLUMES)
        aircraft.drop_column("climb_percent_per_warm_c")
        aircraft.drop_column("fuel_density_kg_per_l")
        aircraft.drop_column("speed_unit")
