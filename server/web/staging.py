"""Keeps an uploaded file between the trial and the decision to load it, so that nobody has to send it twice."""

from __future__ import annotations

import re
import secrets
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

from server.errors import NotFound

KEPT_MINUTES = 60
_TOKEN = re.compile(r"[0-9a-f]{32}", re.ASCII)


@dataclass(frozen=True)
class StagedUploads:
    """A folder of waiting uploads, each under a random token. What is older than an hour is swept at the next upload."""

    folder: Path
    clock: Callable[[], datetime]

    def keep(self, content: bytes) -> str:
        """Keep this content and return its token."""
        self.folder.mkdir(parents=True, exist_ok=True)
        self._sweep()
        token = secrets.token_hex(16)
        (self.folder / token).write_bytes(content)
        return token

    def keep_stream(self, source: BinaryIO) -> str:
        """Keep what a stream holds from where it stands, without taking it all into memory, and return its token."""
        token = self.keep(b"")
        with (self.folder / token).open("wb") as target:
            shutil.copyfileobj(source, target)
        return token

    def open(self, token: str) -> BinaryIO:
        """Open what waits under this token, or raise NotFound. The caller closes it."""
        try:
            return self._file(token).open("rb")
        except FileNotFoundError:
            raise self._gone() from None

    def content(self, token: str) -> bytes:
        """Return what waits under this token, or raise NotFound."""
        try:
            return self._file(token).read_bytes()
        except FileNotFoundError:
            raise self._gone() from None

    def drop(self, token: str) -> None:
        """Forget what waits under this token."""
        self._file(token).unlink(missing_ok=True)

    def _file(self, token: str) -> Path:
        if not _TOKEN.fullmatch(token):
            raise self._gone()
        return self.folder / token

    def _gone(self) -> NotFound:
        return NotFound(
            f"The table you sent is no longer kept; it waits {KEPT_MINUTES} minutes. Choose the file again.", code="upload-gone"
        )

    def _sweep(self) -> None:
        oldest = self.clock().timestamp() - KEPT_MINUTES * 60
        for file in self.folder.iterdir():
            if _TOKEN.fullmatch(file.name) and file.stat().st_mtime < oldest:
                file.unlink(missing_ok=True)
