"""Each migration goes up, down and up again, and the last one leaves exactly the tables the code expects."""

from __future__ import annotations

import ast
import re
import shutil
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, inspect, text

from server.errors import ProjectError
from server.persistence import Library, RegionRecord, tables
from server.persistence.engine import Purpose, open_engine
from server.persistence.migration import migrations_config
from tests.databases import MIGRATIONS
from tests.persistence.things import a_checkpoint

SCRIPTS = ScriptDirectory.from_config(migrations_config(MIGRATIONS))
REVISIONS = tuple(script.revision for script in reversed(tuple(SCRIPTS.walk_revisions())))


@pytest.fixture
def engine(empty_url: str) -> Iterator[Engine]:
    engine = open_engine(empty_url)
    yield engine
    engine.dispose()


@contextmanager
def _migrating(engine: Engine) -> Iterator[Connection]:
    with engine.connect().execution_options(purpose=Purpose.MIGRATE) as connection, connection.begin():
        yield connection


def _shape(engine: Engine) -> dict[str, list[str]]:
    """Describe every table: columns, keys, rules and indexes, each as the database tells it, in an order of no meaning."""
    looker = inspect(engine)
    asked = (
        looker.get_columns,
        looker.get_foreign_keys,
        looker.get_check_constraints,
        looker.get_unique_constraints,
        looker.get_indexes,
        lambda table: [looker.get_pk_constraint(table)],
    )
    return {
        table: sorted(_told(item) for ask in asked for item in ask(table))
        for table in looker.get_table_names()
        if table != "alembic_version"
    }


def _told(item) -> str:
    """Write what the database tells without the addresses of Python objects."""
    if isinstance(item, dict):
        return "; ".join(f"{key}: {_told(value)}" for key, value in sorted(item.items()))
    if isinstance(item, list | tuple):
        return ", ".join(_told(value) for value in item)
    return str(item)


def test_there_is_one_line_of_revisions_and_each_says_what_it_is_for():
    assert len(SCRIPTS.get_heads()) == 1
    assert all(SCRIPTS.get_revision(revision).doc for revision in REVISIONS)


@pytest.mark.parametrize("revision", REVISIONS)
def test_a_migration_goes_up_and_down_and_up_again(engine: Engine, revision: str):
    before = SCRIPTS.get_revision(revision).down_revision or "base"
    with _migrating(engine) as connection:
        command.upgrade(migrations_config(MIGRATIONS, connection), before)
    below = _shape(engine)
    with _migrating(engine) as connection:
        command.upgrade(migrations_config(MIGRATIONS, connection), revision)
    above = _shape(engine)
    with _migrating(engine) as connection:
        command.downgrade(migrations_config(MIGRATIONS, connection), before)
    assert _shape(engine) == below
    with _migrating(engine) as connection:
        command.upgrade(migrations_config(MIGRATIONS, connection), revision)
    assert _shape(engine) == above != below


def test_the_migrated_tables_are_those_the_code_expects(engine: Engine):
    with _migrating(engine) as connection:
        command.upgrade(migrations_config(MIGRATIONS, connection), "head")
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": True})
        assert compare_metadata(context, tables.metadata) == []
    migrated = _shape(engine)
    with engine.begin() as connection:
        tables.metadata.drop_all(connection)
        tables.metadata.create_all(connection)
    assert _shape(engine) == migrated


def test_sqlite_keeps_removed_numbers_for_itself_in_migrated_tables_too(tmp_path: Path):
    """The one thing of a table that no inspector tells."""
    engine = open_engine(f"sqlite:///{tmp_path / 'x.sqlite3'}")
    with _migrating(engine) as connection:
        command.upgrade(migrations_config(MIGRATIONS, connection), "head")
        kept = connection.execute(text("SELECT name FROM sqlite_master WHERE type = 'table' AND sql LIKE '%AUTOINCREMENT%'"))
        expected = {table.name for table in tables.metadata.tables.values() if "id" in table.columns}
        assert set(kept.scalars()) == expected
    engine.dispose()


def test_every_constraint_has_a_name(engine: Engine):
    with _migrating(engine) as connection:
        command.upgrade(migrations_config(MIGRATIONS, connection), "head")
    looker = inspect(engine)
    for table in tables.metadata.tables:
        constraints = [
            *looker.get_foreign_keys(table),
            *looker.get_check_constraints(table),
            *looker.get_unique_constraints(table),
        ]
        if engine.dialect.name == "postgresql":  # SQLite does not tell the name of a key that counts up
            constraints.append(looker.get_pk_constraint(table))
        for constraint in constraints:
            assert re.fullmatch(rf"(pk|fk|ck|uq)_{table}(_\w+)?", constraint["name"] or ""), (table, constraint)


@pytest.mark.parametrize("path", sorted((MIGRATIONS / "versions").glob("*.py")), ids=lambda path: path.stem)
def test_a_migration_imports_none_of_our_code(path: Path):
    """It must still mean the same when the code has moved on."""
    imported = {
        name
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in ([node.module] if isinstance(node, ast.ImportFrom) else [alias.name for alias in node.names])
    }
    assert {(name or "").split(".")[0] for name in imported} <= {"alembic", "sqlalchemy"}


def test_a_new_database_gets_all_revisions_and_a_ready_one_none(empty_url: str, open_library: Callable[[str], Library]):
    library = open_library(empty_url)
    assert library.migrate(MIGRATIONS) == REVISIONS
    with library.begin() as work:
        kept = work.regions.add(RegionRecord(slug="north", name="North", fictional=True))
    assert library.migrate(MIGRATIONS) == ()
    with library.read() as work:
        assert work.regions.list() == (kept,)


def test_starts_at_the_same_time_migrate_once(empty_url: str, open_library: Callable[[str], Library]):
    libraries = [open_library(empty_url) for _ in range(6)]
    start = threading.Barrier(len(libraries))

    def migrate(library: Library) -> tuple[str, ...]:
        start.wait()
        return library.migrate(MIGRATIONS)

    with ThreadPoolExecutor(len(libraries)) as threads:
        applied = sorted(threads.map(migrate, libraries))
    assert applied == [()] * (len(libraries) - 1) + [REVISIONS]


def test_a_database_newer_than_the_code_is_refused_in_words(empty_url: str, open_library: Callable[[str], Library]):
    library = open_library(empty_url)
    library.migrate(MIGRATIONS)
    engine = open_engine(empty_url)
    with engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    engine.dispose()
    with pytest.raises(ProjectError, match=r"made by a newer Beaconry \(its revision 9999 is not known here\). Update Beaconry") as refusal:
        library.migrate(MIGRATIONS)
    assert refusal.value.code == "database-newer"


def test_the_next_migration_is_begun_from_the_template_and_finds_nothing_to_do(tmp_path: Path):
    folder = tmp_path / "migrations"
    shutil.copytree(MIGRATIONS, folder, ignore=shutil.ignore_patterns("__pycache__"))
    engine = open_engine(f"sqlite:///{tmp_path / 'x.sqlite3'}")
    with _migrating(engine) as connection:
        config = migrations_config(folder, connection)
        command.upgrade(config, "head")
        made = command.revision(config, "Do something.", autogenerate=True, rev_id="9999")
        assert made.module.__doc__.strip() == f"Do something.\n\nRevision 9999, after {REVISIONS[-1]}."
        tables_before = inspect(connection).get_table_names()
        command.upgrade(config, "head")
        assert inspect(connection).get_table_names() == tables_before
    engine.dispose()


def _folder_with(tmp_path: Path, *, name: str, body: str) -> Path:
    """Copy the migrations and add one after the last."""
    folder = tmp_path / "migrations 100%"
    (folder / "versions").mkdir(parents=True)
    for path in (MIGRATIONS / "env.py", *(MIGRATIONS / "versions").glob("*.py")):
        (folder / path.relative_to(MIGRATIONS)).write_text(path.read_text())
    head = f'"""{name}"""\nfrom alembic import op\nrevision, down_revision = "9999", "{REVISIONS[-1]}"\n'
    (folder / "versions" / "9999.py").write_text(f"{head}\ndef upgrade():\n    {body}\n\ndef downgrade():\n    pass\n")
    return folder


def test_a_migration_that_fails_changes_nothing(empty_url: str, tmp_path: Path, open_library: Callable[[str], Library]):
    body = 'op.drop_table("wind_layer"); op.execute("SELECT 1 FROM nowhere")'
    library = open_library(empty_url)
    with pytest.raises(ProjectError, match=r"The database cannot be used: .*nowhere"):
        library.migrate(_folder_with(tmp_path, name="Fails.", body=body))
    engine = open_engine(empty_url)
    assert inspect(engine).get_table_names() == []
    engine.dispose()


def test_a_migration_that_breaks_a_reference_is_undone(tmp_path: Path, open_library: Callable[[str], Library]):
    """SQLite migrates with foreign keys off, so that rebuilding a table does not empty those that point to it."""
    library = open_library(f"sqlite:///{tmp_path / 'x.sqlite3'}")
    library.migrate(MIGRATIONS)
    with library.begin() as work:
        region = work.regions.add(RegionRecord(slug="north", name="North", fictional=True))
        work.checkpoints.add(a_checkpoint(region.id))
    with pytest.raises(ProjectError, match=r"A migration left a reference to something that is gone. Nothing was changed"):
        library.migrate(_folder_with(tmp_path, name="Breaks.", body='op.execute("DELETE FROM region")'))
    with library.read() as work:
        assert work.regions.list() == (region,)
        assert work.checkpoints.count(region.id) == 1


AIRCRAFT_OF_0001 = (
    "INSERT INTO aircraft (registration, type_name, cruise_speed_kt, cruise_speed_kind, cruise_fuel_l_per_h, climb_speed_kt,"
    " climb_rate_ft_per_min, climb_fuel_l_per_h, descent_rate_ft_per_min, taxi_fuel_l, usable_fuel_l, fuel_unit, remarks)"
    " VALUES ('X-OLD', '', 100, 'TAS', 30, 70, 600, 40, 500, 4, 150, 'US gal', 'kept')"
)


def test_aircraft_and_their_compass_cards_are_kept_by_the_migration_that_brings_tables(engine: Engine):
    with _migrating(engine) as connection:
        command.upgrade(migrations_config(MIGRATIONS, connection), "0001")
        connection.execute(text(AIRCRAFT_OF_0001))
        connection.execute(text("INSERT INTO compass_entry (aircraft_id, number, magnetic_deg, steer_deg) VALUES (1, 0, 90, 92)"))
    with _migrating(engine) as connection:
        command.upgrade(migrations_config(MIGRATIONS, connection), "0002")
        kept = connection.execute(text("SELECT registration, fuel_unit, speed_unit, fuel_density_kg_per_l, remarks FROM aircraft"))
        assert kept.all() == [("X-OLD", "US gal", "kt", None, "kept")]
        connection.execute(text("UPDATE aircraft SET fuel_unit = 'kg', fuel_density_kg_per_l = 0.72"))
    with _migrating(engine) as connection:
        command.downgrade(migrations_config(MIGRATIONS, connection), "0001")
        assert connection.execute(text("SELECT fuel_unit, usable_fuel_l FROM aircraft")).all() == [("L", 150.0)]
        assert connection.execute(text("SELECT steer_deg FROM compass_entry")).all() == [(92.0,)]


FLIGHT_OF_0002 = (
    "INSERT INTO region (slug, name, fictional, notice, ground_fingerprint, sea_geojson, level_rule, source)"
    " VALUES ('north', 'North', TRUE, '', '', '', 'ICAO', '')",
    "INSERT INTO airfield (region_id, ident, name, lat_deg, lon_deg, time_zone, closed, remarks, source, external_key, search_text)"
    " VALUES (1, 'XAAA', 'Alpha', 43, -36, '', FALSE, '', '', '', '')",
    "INSERT INTO route (region_id, name, departure_airfield_id, destination_airfield_id, altitude_ft, reserve_rule, remarks, version)"
    " VALUES (1, 'Kept', 1, 1, 7500, 'icao-day', '', 3)",
    "INSERT INTO route_point (route_id, number, kind, name, lat_deg, lon_deg) VALUES (1, 0, 'position', 'Turn', 43.2, -36.1)",
    "INSERT INTO wind_layer (route_id, number, altitude_ft, from_deg, speed_kt, reference) VALUES (1, 0, 5000, 270, 15, 'T')",
)


def test_routes_their_points_and_winds_are_kept_by_the_migration_that_brings_choices(engine: Engine):
    kept = (
        "SELECT r.name, r.version, p.name, w.speed_kt"
        " FROM route r JOIN route_point p ON p.route_id = r.id JOIN wind_layer w ON w.route_id = r.id"
    )
    with _migrating(engine) as connection:
        command.upgrade(migrations_config(MIGRATIONS, connection), "0002")
        for statement in FLIGHT_OF_0002:
            connection.execute(text(statement))
    with _migrating(engine) as connection:
        command.upgrade(migrations_config(MIGRATIONS, connection), "0003")
        assert connection.execute(text(kept)).all() == [("Kept", 3, "Turn", 15.0)]
        chosen = "SELECT qnh_hpa, winds_source, cruise_power, level_rule, alternate_airfield_id, onward_changeover_reason FROM route"
        assert connection.execute(text(chosen)).all() == [(None, "", "", "", None, "")]
    with _migrating(engine) as connection:
        command.downgrade(migrations_config(MIGRATIONS, connection), "0002")
        assert connection.execute(text(kept)).all() == [("Kept", 3, "Turn", 15.0)]
