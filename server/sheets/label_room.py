"""Finds room for labels on a drawing: a label takes the first of its places that covers nothing drawn before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np


@dataclass(frozen=True, kw_only=True, slots=True)
class Box:
    """A rectangle in drawing units, y downwards."""

    left: float
    top: float
    right: float
    bottom: float

    def inside(self, other: Box) -> bool:
        return self.left >= other.left and self.right <= other.right and self.top >= other.top and self.bottom <= other.bottom


@dataclass(kw_only=True)
class LabelRoom:
    """What is taken so far. Its answers depend only on the order of the calls, so the same drawing comes out every time."""

    frame: Box
    _edges: np.ndarray = field(default_factory=lambda: np.empty((256, 4)))
    _taken: int = 0

    def add(self, box: Box) -> None:
        """Mark a box as taken."""
        if self._taken == len(self._edges):
            self._edges = np.concatenate([self._edges, np.empty_like(self._edges)])
        self._edges[self._taken] = box.left, box.top, box.right, box.bottom
        self._taken += 1

    def free(self, box: Box) -> bool:
        """Whether a box lies in the frame and covers nothing that is taken."""
        if not box.inside(self.frame):
            return False
        left, top, right, bottom = self._edges[: self._taken].T
        return not ((left < box.right) & (box.left < right) & (top < box.bottom) & (box.top < bottom)).any()

    def take(self, x: float, y: float, *, half: float) -> None:
        """Mark a square round a symbol as taken."""
        self.add(Box(left=x - half, top=y - half, right=x + half, bottom=y + half))

    def take_line(self, points: Sequence[tuple[float, float]], *, half: float) -> None:
        """Mark a line as taken, by squares along it."""
        for (x1, y1), (x2, y2) in pairwise(points):
            steps = max(1, int(max(abs(x2 - x1), abs(y2 - y1)) / half))
            for step in range(steps + 1):
                self.take(x1 + (x2 - x1) * step / steps, y1 + (y2 - y1) * step / steps, half=half)

    def place(self, x: float, y: float, *, width: float, height: float, gap: float, must: bool) -> Box | None:
        """Return where a label beside (x, y) goes, or None where there is no room. One that must be shown takes its best place anyway."""
        candidates = [self._beside(x, y, width, height, gap * reach, across, down) for reach in (1.0, 2.2, 4.0) for across, down in _SIDES]
        inside = [box for box in candidates if box.inside(self.frame)]
        free = next((box for box in inside if self.free(box)), None)
        chosen = free or ((inside or candidates)[0] if must else None)
        if chosen is not None:
            self.add(chosen)
        return chosen

    def place_along(self, points: Sequence[tuple[float, float]], *, width: float, height: float, gap: float) -> Box | None:
        """Return where a label goes above or below a line, as near to the line's middle as there is room, or None."""
        middle = len(points) // 2
        for index in sorted(range(len(points)), key=lambda at: abs(at - middle)):
            for down in (-1, 1):
                box = self._beside(*points[index], width, height, gap, 0, down)
                if self.free(box):
                    self.add(box)
                    return box
        return None

    @staticmethod
    def _beside(x: float, y: float, width: float, height: float, gap: float, across: int, down: int) -> Box:
        left = x + gap if across > 0 else x - gap - width if across < 0 else x - width / 2.0
        top = y + gap if down > 0 else y - gap - height if down < 0 else y - height / 2.0
        return Box(left=left, top=top, right=left + width, bottom=top + height)


_SIDES = ((1, -1), (1, 1), (-1, -1), (-1, 1), (1, 0), (-1, 0), (0, 1), (0, -1))
