"""Fuel reserve rules, by name. Figures only; the pilot chooses the rule that applies."""

from __future__ import annotations

from dataclasses import dataclass

from server.errors import InputProblem


@dataclass(frozen=True, kw_only=True, slots=True)
class ReserveRule:
    """A reserve of so many minutes at cruise fuel flow, and the rule it comes from."""

    key: str
    name: str
    minutes: float


# Minutes: 14 CFR 91.151(a); ICAO Annex 6 Part II 2.2.3.6 (from memory); EU NCO.OP.125 as amended by (EU) 2021/1296, whose final reserve is
# counted at holding speed: at cruise flow, as here, it is on the safe side.
RESERVE_RULES: tuple[ReserveRule, ...] = (
    ReserveRule(key="us-day", name="14 CFR 91.151, VFR by day: 30 min", minutes=30.0),
    ReserveRule(key="us-night", name="14 CFR 91.151, VFR by night: 45 min", minutes=45.0),
    ReserveRule(key="icao-day", name="ICAO Annex 6 Part II, VFR by day: 30 min", minutes=30.0),
    ReserveRule(key="icao-night", name="ICAO Annex 6 Part II, VFR by night: 45 min", minutes=45.0),
    ReserveRule(key="eu-day", name="EU NCO.OP.125, VFR by day: 30 min", minutes=30.0),
    ReserveRule(key="eu-night", name="EU NCO.OP.125, VFR by night: 45 min", minutes=45.0),
    ReserveRule(key="hour", name="own rule, one hour: 60 min", minutes=60.0),
)


def reserve_rule(key: str) -> ReserveRule:
    """Return the rule of this key, or raise InputProblem that lists the keys."""
    for rule in RESERVE_RULES:
        if rule.key == key:
            return rule
    keys = ", ".join(rule.key for rule in RESERVE_RULES)
    raise InputProblem(f'There is no reserve rule "{key}". Choose one of: {keys}.', code="reserve-rule-unknown", place="reserve_rule")
