"""The check of a region: each finding on a small region that is otherwise in order, and none where all is in order."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pytest

from server.navigation import Airfield, Alignment, AlignmentKind, Checkpoint, PointKind, Position, Route, RoutePoint, variation
from server.persistence import Library, RegionRecord
from server.planning.load_region import load_region
from server.planning.region_check import CheckedRegion, check_region, checked_region
from server.planning.region_findings import TITLE_OF_CODE, FindingLevel, RegionFinding, SubjectKind
from server.planning.route_users import routes_in_use, routes_that_use
from server.radio import Beacon, BeaconKind, Component, ComponentKind, ComponentStatus, CoverageSector, Outage, ServiceClass
from server.settings import PROJECT_ROOT
from server.terrain import EmptyTerrain, Lattice, TerrainStore
from tests.builders import flat_ground
from tests.style.test_documents import codes_in

ON = date(2026, 7, 10)
WARNING, ADVICE = FindingLevel.WARNING, FindingLevel.ADVICE
REGION = RegionRecord(id=1, slug="skerry", name="Skerry", fictional=True, south_deg=42.0, north_deg=45.0, west_deg=-38.0, east_deg=-34.0)
GROUND = flat_ground(100.0)  # 328 ft
HERE = Position(lat_deg=43.5, lon_deg=-36.0)
NORTH_OF_HERE = Position(lat_deg=44.5, lon_deg=-36.0)  # 60 NM


def alignment_off(by_deg: float, year: int | None = 2025) -> Alignment:
    return Alignment(kind=AlignmentKind.MAGNETIC, declination_deg=variation(HERE, ON).deg + by_deg, year=year)


def part(kind: ComponentKind, service_class: ServiceClass | None = ServiceClass.L, **changes) -> Component:
    given = {"status": ComponentStatus.OPERATING, "service_class": service_class, "last_confirmed": date(2026, 5, 1), **changes}
    return Component(kind=kind, **given)


def vor_dme(**changes) -> Beacon:
    given = {
        "id": 1,
        "region_id": 1,
        "ident": "SKR",
        "name": "Skerry",
        "kind": BeaconKind.VOR_DME,
        "frequency_khz": 114_300,
        "channel": "90X",  # ICAO Annex 10 Vol I, Table A: 114.30 MHz pairs with 90X
        "position": HERE,
        "elevation_ft": 330.0,
        "alignment": alignment_off(0.5),
        "components": (part(ComponentKind.AZIMUTH), part(ComponentKind.DISTANCE)),
    }
    return Beacon(**{**given, **changes})


def ndb(**changes) -> Beacon:
    bearing = part(ComponentKind.BEARING, ServiceClass.MH)
    given = {"id": 2, "kind": BeaconKind.NDB, "frequency_khz": 373, "channel": "", "elevation_ft": None, "components": (bearing,)}
    return vor_dme(**{**given, "alignment": Alignment(kind=AlignmentKind.UNKNOWN), **changes})


def airfield(**changes) -> Airfield:
    return Airfield(**{"id": 3, "region_id": 1, "ident": "XNOR", "name": "Northfield", "position": HERE, "elevation_ft": 320.0, **changes})


def checkpoint(**changes) -> Checkpoint:
    return Checkpoint(**{"id": 4, "region_id": 1, "name": "Mill", "feature": "mill", "position": HERE, **changes})


def found(*things, ground=GROUND, on: date = ON, region: RegionRecord = REGION) -> tuple[RegionFinding, ...]:
    def of(kind: type) -> tuple:
        return tuple(thing for thing in things if isinstance(thing, kind))

    return check_region(region=region, beacons=of(Beacon), airfields=of(Airfield), checkpoints=of(Checkpoint), ground=ground, on=on)


def told(*things, **where) -> list[tuple[FindingLevel, str]]:
    return [(finding.level, finding.code) for finding in found(*things, **where)]


def test_a_region_in_order_gives_no_finding():
    assert found(vor_dme(), ndb(ident="MUL"), airfield(), checkpoint()) == ()


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"frequency_khz": 114_330}, [(WARNING, "frequency-out-of-band")]),
        ({"frequency_khz": 110_300, "channel": "40X"}, [(WARNING, "frequency-of-localizer")]),  # an odd tenth below 112 MHz is an ILS's
        ({"frequency_khz": None, "channel": ""}, [(WARNING, "frequency-unknown")]),
        ({"channel": "91X"}, [(WARNING, "channel-not-paired")]),
        ({"channel": ""}, [(ADVICE, "channel-missing")]),
        ({"ident": "SK1X"}, [(ADVICE, "ident-of-four")]),
        ({"alignment": alignment_off(1.9)}, []),
        ({"alignment": alignment_off(-2.1)}, [(ADVICE, "alignment-old")]),
        ({"alignment": alignment_off(7.9)}, [(ADVICE, "alignment-old")]),
        ({"alignment": alignment_off(8.1)}, [(WARNING, "alignment-far-from-variation")]),
        ({"alignment": alignment_off(0.0, year=None)}, [(ADVICE, "alignment-without-year")]),
        ({"alignment": Alignment(kind=AlignmentKind.TRUE, declination_deg=0.0)}, []),
        ({"alignment": Alignment(kind=AlignmentKind.GRID, declination_deg=40.0, year=2020)}, []),
        ({"alignment": Alignment(kind=AlignmentKind.UNKNOWN)}, [(WARNING, "alignment-unknown")]),
        ({"elevation_ft": 330.0 + 162.0}, []),  # 49 m above the terrain
        ({"elevation_ft": 330.0 + 166.0}, [(WARNING, "elevation-against-terrain")]),
        ({"elevation_ft": 330.0 - 168.0}, [(WARNING, "elevation-against-terrain")]),
        ({"elevation_ft": 300.0, "antenna_height_ft": 27.0}, [(WARNING, "antenna-below-ground")]),
        ({"elevation_ft": 300.0, "antenna_height_ft": 30.0}, []),
        ({"elevation_ft": None}, [(ADVICE, "elevation-unknown")]),
        ({"position": Position(lat_deg=45.99, lon_deg=-36.0)}, [(ADVICE, "outside-region"), (ADVICE, "terrain-unknown")]),
        ({"position": Position(lat_deg=46.1, lon_deg=-36.0)}, [(WARNING, "outside-region"), (ADVICE, "terrain-unknown")]),
        ({"components": (part(ComponentKind.AZIMUTH),)}, [(ADVICE, "parts-of-kind")]),
        ({"components": (part(ComponentKind.AZIMUTH, None), part(ComponentKind.DISTANCE, None))}, [(ADVICE, "class-unknown")]),
        (
            {
                "components": (
                    part(ComponentKind.AZIMUTH, None, coverage=(CoverageSector(from_radial_deg=0, to_radial_deg=360, range_nm=30),)),
                    part(ComponentKind.DISTANCE),
                )
            },
            [],
        ),
        (
            {"components": (part(ComponentKind.AZIMUTH, status=ComponentStatus.UNKNOWN), part(ComponentKind.DISTANCE))},
            [(ADVICE, "status-unknown")],
        ),
        (
            {"components": (part(ComponentKind.AZIMUTH, last_confirmed=None), part(ComponentKind.DISTANCE))},
            [(ADVICE, "never-confirmed")],
        ),
        (
            {"components": (part(ComponentKind.AZIMUTH, last_confirmed=date(2024, 7, 10)), part(ComponentKind.DISTANCE))},
            [],
        ),
        (
            {"components": (part(ComponentKind.AZIMUTH, last_confirmed=date(2024, 7, 9)), part(ComponentKind.DISTANCE))},
            [(ADVICE, "confirmed-long-ago")],
        ),
        (
            {"components": (part(ComponentKind.AZIMUTH, status=ComponentStatus.OUT_OF_SERVICE), part(ComponentKind.DISTANCE))},
            [(WARNING, "out-of-service")],
        ),
        (
            {"components": (part(ComponentKind.AZIMUTH, outages=(Outage(first_day=ON, last_day=ON),)), part(ComponentKind.DISTANCE))},
            [(WARNING, "out-of-service")],
        ),
        (
            {"components": (part(ComponentKind.AZIMUTH, outages=(Outage(last_day=date(2026, 7, 9)),)), part(ComponentKind.DISTANCE))},
            [],
        ),
        (
            {
                "components": (
                    part(ComponentKind.AZIMUTH, None, status=ComponentStatus.WITHDRAWN, last_confirmed=None),
                    part(ComponentKind.DISTANCE),
                ),
                "alignment": Alignment(kind=AlignmentKind.UNKNOWN),
            },
            [(ADVICE, "withdrawn")],
        ),
    ],
)
def test_one_thing_wrong_with_a_beacon_is_one_finding(changes, expected):
    if "position" in changes:  # there the variation is another
        local = variation(changes["position"], ON).deg
        changes = {**changes, "alignment": Alignment(kind=AlignmentKind.MAGNETIC, declination_deg=local, year=2025)}
    assert told(vor_dme(**changes), airfield()) == expected


def test_a_part_that_stands_elsewhere_is_held_against_the_ground_there():
    elsewhere = part(ComponentKind.DISTANCE, position=Position(lat_deg=43.51, lon_deg=-36.0), elevation_ft=900.0)
    (finding,) = found(vor_dme(components=(part(ComponentKind.AZIMUTH), elsewhere)))
    assert finding.code == "elevation-against-terrain"
    assert finding.words.startswith("The distance part's published elevation, 900 ft, is 572 ft above the terrain there, 328 ft")


@pytest.mark.parametrize(
    ("thing", "expected"),
    [
        (airfield(elevation_ft=500.0), [(WARNING, "elevation-against-terrain")]),
        (airfield(elevation_ft=None), [(ADVICE, "elevation-unknown")]),
        (airfield(position=Position(lat_deg=46.5, lon_deg=-36.0)), [(WARNING, "outside-region"), (ADVICE, "terrain-unknown")]),
        (checkpoint(position=Position(lat_deg=43.0, lon_deg=-38.5)), [(ADVICE, "outside-region"), (ADVICE, "terrain-unknown")]),
    ],
)
def test_one_thing_wrong_with_an_airfield_or_checkpoint_is_one_finding(thing, expected):
    assert told(vor_dme(), thing) == expected


def test_a_region_without_terrain_says_so_once():
    everything = found(vor_dme(), airfield(), checkpoint(), ground=EmptyTerrain())
    assert [(finding.code, finding.subject.kind) for finding in everything] == [("terrain-none", SubjectKind.REGION)]


def test_an_elevation_unknown_where_the_terrain_is_too_is_a_warning():
    assert (WARNING, "elevation-unknown") in told(vor_dme(elevation_ft=None, position=Position(lat_deg=46.0, lon_deg=-36.0)), airfield())


def test_a_region_without_a_box_has_no_outside():
    boxless = replace(REGION, south_deg=None, north_deg=None, west_deg=None, east_deg=None)
    assert "outside-region" not in dict(map(reversed, told(checkpoint(position=Position(lat_deg=0.0, lon_deg=10.0)), region=boxless)))


def other(**changes) -> Beacon:
    """A second station in order, on another channel, 60 NM north."""
    local = Alignment(kind=AlignmentKind.MAGNETIC, declination_deg=variation(NORTH_OF_HERE, ON).deg, year=2025)
    given = {"id": 9, "ident": "MUL", "name": "Mull", "position": NORTH_OF_HERE, "frequency_khz": 115_000, "channel": "97X"}
    return vor_dme(**{**given, "alignment": local, **changes})


def test_two_idents_of_one_kind_are_a_warning_and_of_one_airport_advice():
    assert told(vor_dme(), other(ident="SKR")) == [(WARNING, "ident-twice")]
    near = Position(lat_deg=43.6, lon_deg=-36.0)  # 6 NM
    assert told(vor_dme(), ndb(position=near)) == [(ADVICE, "ident-twice")]
    assert told(vor_dme(), ndb(position=NORTH_OF_HERE)) == [(WARNING, "ident-twice")]
    gone = (part(ComponentKind.BEARING, status=ComponentStatus.WITHDRAWN),)
    assert told(vor_dme(), ndb(position=NORTH_OF_HERE, components=gone)) == [(ADVICE, "withdrawn")]


def test_two_stations_of_one_kind_at_one_place_are_told_once():
    beside = Position(lat_deg=43.5 + 0.0015, lon_deg=-36.0)  # 0.09 NM, across the edge of a cell
    assert told(vor_dme(), other(position=beside, alignment=alignment_off(0.0))) == [(WARNING, "same-place")]
    farther = Position(lat_deg=43.5 + 0.0018, lon_deg=-36.0)  # 0.108 NM
    assert told(vor_dme(), other(position=farther, alignment=alignment_off(0.0))) == []


def channel_findings(apart_deg: float, **changes) -> list[RegionFinding]:
    """Two L stations on one channel, so far apart in latitude, on level ground at 100 m."""
    far = Position(lat_deg=42.0 + apart_deg, lon_deg=-36.0)
    ground = flat_ground(100.0, north=47.0)
    one = vor_dme(position=Position(lat_deg=42.0, lon_deg=-36.0))
    two = other(**{"position": far, "frequency_khz": 114_300, "channel": "90X", **changes})
    return [finding for finding in found(one, two, ground=ground) if finding.code == "same-channel-near"]


# By hand, from the textbook horizon 1.23 (sqrt(h1) + sqrt(h2)) NM with heights in feet (4/3 earth): an L volume is 40 NM up to 18,000 ft
# above the antenna (AIM 1-1-8), which stands at 330 + 26 ft (8 m where not published); 40 + 1.23 (sqrt(18,356) + sqrt(356)) = 229.9 NM.
# The formula of the sphere gives a little less than the parabola.
LEAST_NM = 229.9


def test_two_stations_on_one_channel_need_their_volume_and_the_radio_horizon():
    (near,) = channel_findings((LEAST_NM - 2.0) / 60.04)  # a minute of latitude near 44 N is 0.9997 NM
    assert (near.level, near.others[0].label) == (ADVICE, "MUL VOR/DME Mull")
    assert "service volumes and the radio horizon ask for 230 NM" in near.words or "ask for 229 NM" in near.words
    assert channel_findings((LEAST_NM + 2.0) / 59.9) == []


def test_two_volumes_that_meet_on_one_channel_are_a_warning():
    assert [finding.level for finding in channel_findings(1.3)] == [WARNING]  # 78 NM, and the volumes are 40 each
    assert [finding.level for finding in channel_findings(1.37)] == [ADVICE]  # 82 NM


def test_a_channel_shared_by_the_distance_alone_is_found_too():
    dme = (part(ComponentKind.DISTANCE),)
    (near,) = channel_findings(1.0, kind=BeaconKind.DME, components=dme)
    assert "is on channel 90X too, 60 NM away" in near.words


def test_a_station_that_is_twenty_decibels_weaker_at_the_edge_may_be_nearer():
    """ITU-R P.525: 20 dB are ten times the distance, so 0.01 W against the 100 W of a class are 40 dB, and 1 W 20 dB.

    The weaker one's own volume is then the one that is disturbed: T, 25 NM, up to 12,000 ft; by the textbook horizon
    25 + 1.23 (sqrt(12,356) + sqrt(356)) = 184.9 NM.
    """
    weak = (part(ComponentKind.AZIMUTH, ServiceClass.T, power_w=0.01),)
    least_nm = 184.9
    (near,) = channel_findings((least_nm - 2.0) / 60.04, kind=BeaconKind.VOR, channel="", components=weak)
    assert "ask for 185 NM" in near.words or "ask for 184 NM" in near.words
    assert channel_findings((least_nm + 2.0) / 59.9, kind=BeaconKind.VOR, channel="", components=weak) == []


def test_a_withdrawn_station_shares_nothing():
    gone = (part(ComponentKind.AZIMUTH, status=ComponentStatus.WITHDRAWN), part(ComponentKind.DISTANCE, status=ComponentStatus.WITHDRAWN))
    assert channel_findings(1.0, components=gone) == []


def test_two_ndbs_on_one_frequency_are_told_while_their_ranges_meet():
    one, near, far = ndb(ident="AA"), Position(lat_deg=44.3, lon_deg=-36.0), Position(lat_deg=44.4, lon_deg=-36.0)
    assert told(one, ndb(id=8, ident="BB", position=near)) == [(WARNING, "same-channel-near")]  # 48 NM, 25 each
    assert told(one, ndb(id=8, ident="BB", position=far)) == []


def test_findings_come_worst_first_and_in_the_order_of_the_lists():
    everything = found(vor_dme(elevation_ft=None), other(channel="91X"), airfield(elevation_ft=None))
    assert [(finding.level, finding.subject.kind) for finding in everything] == [
        (WARNING, SubjectKind.BEACON),
        (ADVICE, SubjectKind.BEACON),
        (ADVICE, SubjectKind.AIRFIELD),
    ]
    assert all(finding.words[0].isupper() and finding.what_to_do.endswith(".") for finding in everything)


def test_an_empty_region_gives_no_finding():
    assert found() == ()


def test_ground_loaded_as_land_that_may_be_sea_floor_is_told(tmp_path):
    """Regions loaded before anybody asked, and region files, keep their depths: whoever checks them must hear of it."""
    floor = np.full((201, 201), 40, dtype=np.int16)
    floor[:, 100:] = -400
    lattice = Lattice(north_lat_deg=44.0, west_lon_deg=-37.0, step_lat_deg=0.005, step_lon_deg=0.005, rows=201, columns=201)
    store = TerrainStore(tmp_path)
    ground = store.open(store.keep([floor], lattice=lattice))
    told = check_region(region=REGION, beacons=(), airfields=(), checkpoints=(), ground=ground, on=ON, low_ground=ground.doubtful)
    assert [finding.code for finding in told] == ["ground-below-zero"] and told[0].level is WARNING
    assert "50.2 % of the posts lie below zero, down to -400 m" in told[0].words  # 101 of 201 columns
    dry = store.open(store.keep([np.abs(floor)], lattice=lattice))
    assert dry.doubtful is None


def test_every_code_of_the_check_has_a_title():
    planning = PROJECT_ROOT / "server" / "planning"
    given = {code for file in planning.glob("region_check*.py") for code in codes_in(file)}
    assert len(given) > 20
    assert sorted(given - TITLE_OF_CODE.keys()) == []


@pytest.fixture(scope="module")
def sample(empty_database, tmp_path_factory):
    home = tmp_path_factory.mktemp("checked")
    (home / "a.sqlite3").write_bytes(empty_database.read_bytes())
    library, store = Library.open(f"sqlite:///{home / 'a.sqlite3'}"), TerrainStore(home / "terrain")
    load_region(library, store, PROJECT_ROOT / "sample_region")
    yield library, store
    library.close()


def checked_on(sample, day: date) -> CheckedRegion:
    return checked_region(*sample, "vessune", clock=lambda: datetime(day.year, day.month, day.day, 12, tzinfo=UTC))


def test_the_sample_region_is_found_to_have_what_it_was_made_to_show(sample):
    """DEVELOPERS.md section 7 names each case; nothing else is found, and each elevation was read from the ground."""
    checked = checked_on(sample, date(2026, 7, 10))
    assert [(finding.code, finding.subject.label.split()[0]) for finding in checked.findings] == [
        ("alignment-unknown", "BSS"),
        ("same-channel-near", "BSS"),
        ("out-of-service", "ZRV"),
        ("withdrawn", "FNE"),
        ("alignment-old", "HLU"),
        ("ident-twice", "MSK"),
        ("class-unknown", "PLR"),
        ("elevation-unknown", "TLI"),
        ("withdrawn", "YLM"),
    ]
    assert (checked.count(WARNING), checked.count(ADVICE)) == (3, 6)
    near = checked.findings[1]
    assert [route.name for route in checked.users(near)] == ["Marrusk to Sennary over the Korvane Range"]
    assert sum(len(group) for group in checked.groups().values()) == len(checked.findings)


def test_an_outage_is_found_on_its_days_only(sample):
    assert "out-of-service" not in {finding.code for finding in checked_on(sample, date(2026, 7, 20)).findings}


def test_thousands_of_stations_are_checked_in_seconds():
    """Twice as many as a large country has. A minute is far more than is needed, and half of what asking pair by pair took."""
    random = np.random.default_rng(1)
    many = [
        vor_dme(
            id=number,
            ident=f"{number:04d}",
            frequency_khz=112_000 + 50 * int(random.integers(0, 118)),
            position=Position(lat_deg=float(random.uniform(-60, 60)), lon_deg=float(random.uniform(-180, 180))),
        )
        for number in range(3_000)
    ]
    begun = time.perf_counter()
    assert len(found(*many)) > 3_000
    assert time.perf_counter() - begun < 60.0


def test_routes_are_turned_round_to_what_they_use(sample):
    library, _ = sample
    with library.read() as work:
        region = work.regions.by_slug("vessune")
        beacons = {beacon.ident: beacon.id for beacon in work.beacons.list(region.id)}
        airfields = {airfield.ident: airfield.id for airfield in work.airfields.list(region.id)}
    users = routes_that_use(library, region)
    assert {number for kind, number in users if kind is SubjectKind.BEACON} == {beacons[ident] for ident in ("ILV", "TSY", "ULR")}
    assert {number for kind, number in users if kind is SubjectKind.AIRFIELD} == {airfields["QMAR"], airfields["QSEN"]}


def test_a_route_uses_what_its_fixes_are_made_of_and_its_alternate_and_is_named_once():
    points = (
        RoutePoint(kind=PointKind.TWO_RADIALS, beacon_id=1, radial_deg=10.0, second_beacon_id=2, second_radial_deg=80.0),
        RoutePoint(kind=PointKind.RADIAL_DISTANCE, beacon_id=1, radial_deg=10.0, distance_nm=4.0),
        RoutePoint(kind=PointKind.CHECKPOINT, place_id=1),
        RoutePoint(kind=PointKind.BEACON, place_id=1),
        RoutePoint(kind=PointKind.POSITION, position=HERE),
    )
    route = Route(region_id=1, name="Round", departure_airfield_id=1, destination_airfield_id=1, alternate_airfield_id=7, points=points)
    assert routes_in_use([route]) == {
        (SubjectKind.AIRFIELD, 1): (route,),
        (SubjectKind.AIRFIELD, 7): (route,),
        (SubjectKind.BEACON, 1): (route,),
        (SubjectKind.BEACON, 2): (route,),
        (SubjectKind.CHECKPOINT, 1): (route,),
    }
