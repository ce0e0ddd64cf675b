"""A private PostgreSQL for the tests: made in a temporary folder, reached by a Unix socket only, gone at the end."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
import pytest


@contextmanager
def private_postgres() -> Iterator[Path]:
    """Run a PostgreSQL of its own and give the folder of its socket; skip the test where there is none to run."""
    programs = _programs()
    as_owner = _as_owner()
    folder = Path(tempfile.mkdtemp(prefix="pg"))  # short: a socket's path has 107 characters at most
    try:
        if as_owner:
            shutil.chown(folder, "postgres")
        data = folder / "data"
        _run(
            *as_owner,
            programs / "initdb",
            "--pgdata",
            data,
            "--username=beaconry",
            "--auth=trust",
            "--encoding=UTF8",
            "--locale=C",
            "--no-sync",
        )
        options = f"-c listen_addresses='' -c unix_socket_directories={folder} -c fsync=off"
        _run(*as_owner, programs / "pg_ctl", "--pgdata", data, "--wait", "--log", folder / "log", "--options", options, "start")
        try:
            yield folder
        finally:
            _run(*as_owner, programs / "pg_ctl", "--pgdata", data, "--mode=immediate", "stop")
    finally:
        shutil.rmtree(folder)


def make_database(socket_folder: Path, name: str, *, template: str = "template1") -> str:
    """Make a database in the private PostgreSQL and return its address."""
    with psycopg.connect(host=str(socket_folder), user="beaconry", dbname="postgres", autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name} TEMPLATE {template}")  # names are the tests' own
    return f"postgresql+psycopg://beaconry@/{name}?host={socket_folder}"


def _programs() -> Path:
    on_path = shutil.which("initdb")
    candidates = [Path(on_path).parent] if on_path else sorted(Path("/usr/lib/postgresql").glob("*/bin"))
    if not candidates or not (candidates[-1] / "initdb").is_file():
        pytest.skip("PostgreSQL's server programs (initdb, pg_ctl) are not installed")
    return candidates[-1]


def _as_owner() -> tuple[str, ...]:
    """PostgreSQL refuses to run as root; then it runs as its own user."""
    if os.geteuid() != 0:
        return ()
    try:
        pwd.getpwnam("postgres")
    except KeyError:
        pytest.skip("PostgreSQL cannot run as root, and there is no user called postgres")
    return ("runuser", "-u", "postgres", "--")


def _run(*words: str | Path) -> None:
    # Files, not pipes: the server keeps its parent's outputs open, and a pipe would never end.
    with tempfile.TemporaryFile() as output:
        done = subprocess.run([str(word) for word in words], stdout=output, stderr=output, stdin=subprocess.DEVNULL, cwd="/", check=False)
        output.seek(0)
        if done.returncode:
            pytest.fail(f"{words}: {output.read().decode(errors='replace')}")
