"""Bringing a database to the shape this code expects. Alembic is configured here; there is no alembic.ini."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from alembic.script.revision import ResolutionError
from sqlalchemy import Connection, Engine, text

from server.errors import ProjectError
from server.persistence.engine import Purpose

LOCK_NUMBER = 3_203_601
"""Any fixed number: PostgreSQL's advisory lock that lets one process migrate at a time."""


def migrations_config(folder: Path, connection: Connection | None = None) -> Config:
    """Return Alembic's configuration for a folder of migrations, bound to an open connection if one is given."""
    config = Config()
    config.set_main_option("script_location", str(folder).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def upgrade_to_latest(engine: Engine, folder: Path) -> tuple[str, ...]:
    """Apply the migrations a database lacks, all in one transaction, and return their revisions in order.

    Several processes may do this at once: the first one migrates, the others wait and then find nothing to do.
    """
    with engine.connect().execution_options(purpose=Purpose.MIGRATE) as connection, connection.begin():
        if engine.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:number)"), {"number": LOCK_NUMBER})
        config = migrations_config(folder, connection)
        missing = _missing_revisions(config, connection)
        if missing:
            command.upgrade(config, "head")
            _check_references(connection)
        return missing


def _missing_revisions(config: Config, connection: Connection) -> tuple[str, ...]:
    scripts = ScriptDirectory.from_config(config)
    present = MigrationContext.configure(connection).get_current_heads()
    try:
        ahead = tuple(script.revision for script in scripts.iterate_revisions("heads", present or "base"))
    except ResolutionError as unknown:
        raise ProjectError(
            f"The database was made by a newer Beaconry (its revision {', '.join(present)} is not known here). "
            "Update Beaconry, or name another database.",
            code="database-newer",
        ) from unknown
    return tuple(reversed(ahead))


def _check_references(connection: Connection) -> None:
    """SQLite only: foreign keys were off during the migration, so see that none was broken."""
    if connection.dialect.name == "sqlite" and connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
        raise ProjectError("A migration left a reference to something that is gone. Nothing was changed.", code="migration-failed")
