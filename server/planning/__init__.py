"""Use cases: from a route to its log, from two airfields to a chain of beacons, from files to a region. Each owns its transaction."""

from server.planning.candidates import Candidate, leg_candidates
from server.planning.chain import ChainResult, build_chain
from server.planning.crest_work import CrestProgress, CrestWork
from server.planning.log import NavigationLog
from server.planning.materials import Clock, Materials, gather, utc_now
from server.planning.plan import HIGHEST_PLANNED_FT, PlannedRoute, plan, plan_route
from server.planning.reserves import RESERVE_RULES, ReserveRule, reserve_rule

__all__ = [
    "HIGHEST_PLANNED_FT",
    "RESERVE_RULES",
    "Candidate",
    "ChainResult",
    "Clock",
    "CrestProgress",
    "CrestWork",
    "Materials",
    "NavigationLog",
    "PlannedRoute",
    "ReserveRule",
    "build_chain",
    "gather",
    "leg_candidates",
    "plan",
    "plan_route",
    "reserve_rule",
    "utc_now",
]
