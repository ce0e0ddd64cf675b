"""Surveys of legs that were made lately. Whoever moves one point of a route has two new legs and all the others as they were."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Any

from server.radio import Ground, LegPath, LegSurvey

MOST_SURVEYS = 512
"""A survey is some tens of kilobytes."""

_SAME_NM = 7
"""Decimals of a mile to which two paths are one: the distances are sums, and differ in their last bits."""


@dataclass(frozen=True, kw_only=True, eq=False, slots=True)
class _Kept:
    survey: LegSurvey
    ground: Ground
    """Kept too, so that no other ground can come to its address."""


class SurveyMemory:
    """Keeps the last surveys by all that they depend on. Safe for threads; two that ask at once may both make one."""

    def __init__(self, *, most: int = MOST_SURVEYS):
        self._most = most
        self._kept: OrderedDict[Hashable, _Kept] = OrderedDict()
        self._lock = threading.Lock()

    def survey(self, make: Callable[..., LegSurvey], *, path: LegPath, ground: Ground, see: Any, **asked: Any) -> LegSurvey:
        """Return what ``make`` makes of these. A ground is known by being the same one, and so is the way to find the line of sight: an
        answer from tables never stands in for one by exact rays."""
        name = (id(ground), see, _told(path), tuple(asked.items()))
        with self._lock:
            kept = self._kept.get(name)
            if kept is not None:
                self._kept.move_to_end(name)
                return kept.survey
        made = make(path=path, ground=ground, see=see, **asked)
        with self._lock:
            self._kept[name] = _Kept(survey=made, ground=ground)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return made


def _told(path: LegPath) -> Hashable:
    profile = tuple((round(at_nm, _SAME_NM), round(feet, 6)) for at_nm, feet in path.profile)
    return path.start, path.end, round(path.distance_nm, _SAME_NM), profile
