"""Keeps the tiles that were asked for lately, so that two browsers, or one that forgets, do not have them drawn twice."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable


class TileShelf:
    """The last tiles by name, in memory. Safe for threads; two that ask for one tile at once may both draw it."""

    def __init__(self, *, most: int):
        self._most = most
        self._tiles: OrderedDict[Hashable, bytes] = OrderedDict()
        self._lock = threading.Lock()

    def tile(self, name: Hashable, draw: Callable[[], bytes]) -> bytes:
        """Return the tile of this name, drawing it where it is not kept."""
        with self._lock:
            kept = self._tiles.get(name)
            if kept is not None:
                self._tiles.move_to_end(name)
                return kept
        drawn = draw()
        with self._lock:
            self._tiles[name] = drawn
            while len(self._tiles) > self._most:
                self._tiles.popitem(last=False)
        return drawn
