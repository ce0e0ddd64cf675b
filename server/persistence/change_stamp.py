"""Whether a SQLite database has changed since it was last looked at, without reading any of it."""

from __future__ import annotations

import sqlite3
import threading

from sqlalchemy import Engine


class ChangeStamp:
    """A connection of its own that only asks for SQLite's data_version: it differs after any other connection has committed a change.

    For other databases, and for one in memory, there is no stamp. https://www.sqlite.org/pragma.html#pragma_data_version
    """

    def __init__(self, engine: Engine):
        self._file = engine.url.database if engine.dialect.name == "sqlite" else None
        self._connection: sqlite3.Connection | None = None
        self._lock = threading.Lock()

    def now(self) -> int | None:
        """Return the stamp of this moment; None where there is none. Two equal stamps mean that nothing changed in between."""
        if not self._file or self._file == ":memory:":
            return None
        with self._lock:
            try:
                if self._connection is None:
                    self._connection = sqlite3.connect(self._file, check_same_thread=False, isolation_level=None)
                return int(self._connection.execute("PRAGMA data_version").fetchone()[0])
            except sqlite3.Error:
                return None

    def close(self) -> None:
        """Close the connection; the next stamp opens another, whose stamps start anew."""
        with self._lock:
            if self._connection is not None:
                self._connection.close()
                self._connection = None
