"""How the numbers of the fuel plan come about, beside working.py for those of a leg. Titles are the labels of the fuel table."""

from __future__ import annotations

from server.navigation.aircraft import FuelMeasure
from server.planning.log import FuelPlan, NavigationLog
from server.sheets import figures
from server.sheets.working import Derivation, hundredth, tenth


def working_of_flight(log: NavigationLog, labels: tuple[tuple[str, str], ...]) -> tuple[Derivation, ...]:
    """Derive the rows of the fuel table, given as (label, amount); what was simply given has no working."""
    if log.fuel is None or log.aircraft is None:
        return ()
    steps = _steps(log, log.fuel, log.aircraft.fuel_measure)
    derived: list[Derivation] = []
    for label, amount in labels:
        told = next((each for start, each in steps.items() if label.startswith(start)), ())
        if told:
            derived.append(Derivation(key=f"fuel-{len(derived) + 1}", title=label, result=amount, steps=told))
    return tuple(derived)


def _steps(log: NavigationLog, fuel: FuelPlan, measure: FuelMeasure) -> dict[str, tuple[str, ...]]:
    unit = measure.unit.value

    def shown(litres: float) -> str:
        return hundredth(measure.amount(litres))

    legs = " + ".join(shown(leg.fuel_l or 0.0) for leg in log.legs)
    flow = f"{shown(fuel.cruise_l_per_h)} {unit} an hour, the cruise flow of the last leg"
    needed = [fuel.taxi_l, fuel.trip_l, fuel.alternate_l, fuel.extra_l, fuel.reserve_l]
    sums = " + ".join(shown(part) for part in needed if part)
    usable_l = fuel.on_board_l - fuel.taxi_l
    steps: dict[str, tuple[str, ...]] = {
        "Trip": (f"Leg by leg: {legs} = {shown(fuel.trip_l)} {unit}.",),
        "Reserve": (f"{fuel.reserve_minutes:.0f} / 60 × {flow}: {shown(fuel.reserve_l)} {unit}.",),
        "Needed in all": (f"{sums} = {shown(fuel.needed_l)} {unit}.",),
        "Left above": (f"{shown(fuel.on_board_l)} − {shown(fuel.needed_l)} = {shown(fuel.margin_l)} {unit}.",),
        "Left on landing": (f"{shown(fuel.on_board_l)} − {shown(fuel.taxi_l)} − {shown(fuel.trip_l)} = {shown(fuel.landing_l)} {unit}.",),
        "Endurance": (f"{shown(usable_l)} {unit} after taxi, at {flow}: {tenth(fuel.endurance_min)} min.",),
    }
    if log.alternate is not None and log.alternate.groundspeed_kt:
        way = log.alternate
        time = f"{hundredth(way.distance_nm)} NM / {tenth(way.groundspeed_kt or 0.0)} kt × 60 = {tenth(way.time_min or 0.0)} min"
        steps["Alternate"] = (
            f"Straight from the destination: steer {figures.course(way.heading_magnetic_deg)}M, {time}.",
            f"{tenth(way.time_min or 0.0)} min / 60 × {flow}: {shown(fuel.alternate_l)} {unit}.",
        )
        left = shown(fuel.landing_at_alternate_l)
        steps["Left at the alternate"] = (f"{shown(fuel.landing_l)} − {shown(fuel.alternate_l)} = {left} {unit}.",)
    return steps
