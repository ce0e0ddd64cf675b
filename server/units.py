"""Every unit conversion of the project, once.

Knows numbers only. A name says both units: ``metres_from_feet(x)``.
"""

METRES_PER_NAUTICAL_MILE = 1852.0  # exact, International Hydrographic Conference 1929
METRES_PER_FOOT = 0.3048  # exact, international foot, 1959
METRES_PER_US_SURVEY_FOOT = 1200.0 / 3937.0  # exact, US survey foot
METRES_PER_STATUTE_MILE = 1609.344  # exact, international mile
LITRES_PER_US_GALLON = 3.785411784  # exact, 231 cubic inches
METRES_PER_SECOND_PER_KNOT = 1852.0 / 3600.0
KELVIN_AT_ZERO_CELSIUS = 273.15
HECTOPASCALS_PER_INCH_OF_MERCURY = 33.8638866667  # conventional inch of mercury, 0 degC


def metres_from_feet(feet):
    """Convert international feet to metres."""
    return feet * METRES_PER_FOOT


def feet_from_metres(metres):
    """Convert metres to international feet."""
    return metres / METRES_PER_FOOT


def metres_from_nautical_miles(nautical_miles):
    """Convert nautical miles to metres."""
    return nautical_miles * METRES_PER_NAUTICAL_MILE


def nautical_miles_from_metres(metres):
    """Convert metres to nautical miles."""
    return metres / METRES_PER_NAUTICAL_MILE


def litres_from_us_gallons(gallons):
    """Convert US gallons to litres."""
    return gallons * LITRES_PER_US_GALLON


def us_gallons_from_litres(litres):
    """Convert litres to US gallons."""
    return litres / LITRES_PER_US_GALLON


def knots_from_miles_per_hour(miles_per_hour):
    """Convert statute miles an hour to knots."""
    return miles_per_hour * (METRES_PER_STATUTE_MILE / METRES_PER_NAUTICAL_MILE)


def miles_per_hour_from_knots(knots):
    """Convert knots to statute miles an hour."""
    return knots * (METRES_PER_NAUTICAL_MILE / METRES_PER_STATUTE_MILE)
