"""What we write as tables we read back as equal values, whatever words and numbers they hold."""

from __future__ import annotations

from datetime import date

from hypothesis import given, settings
from hypothesis import strategies as st

from server.exchange import read_airfields, read_beacons, read_checkpoints, write_airfields, write_beacons, write_checkpoints
from server.navigation import Airfield, Alignment, AlignmentKind, Checkpoint, Position, Runway
from server.radio import (
    Beacon,
    BeaconKind,
    Component,
    ComponentKind,
    ComponentStatus,
    CoverageSector,
    Outage,
    ServiceClass,
    UnusableSector,
    channel_for_vor_khz,
)

K, P, S = BeaconKind, ComponentKind, ServiceClass
PARTS = {
    K.VOR: (P.AZIMUTH,),
    K.VOR_DME: (P.AZIMUTH, P.DISTANCE),
    K.VORTAC: (P.AZIMUTH, P.DISTANCE),
    K.TACAN: (P.AZIMUTH, P.DISTANCE),
    K.DME: (P.DISTANCE,),
    K.NDB: (P.BEARING,),
    K.NDB_DME: (P.BEARING, P.DISTANCE),
}
CLASSES = {P.AZIMUTH: (S.T, S.L, S.H, S.VL, S.VH), P.DISTANCE: (S.T, S.L, S.H, S.DL, S.DH), P.BEARING: (S.LOCATOR, S.MH, S.NDB_H, S.HH)}

letters = st.characters(exclude_categories=["Cs", "Cc"])
words = st.text(letters | st.sampled_from('",;()\\=\n'), max_size=20).map(str.strip)
lines = st.text(letters | st.sampled_from('",;()\\= '), max_size=20).map(lambda text: " ".join(text.split()))
names = lines.filter(bool)
idents = st.text("ABCMNRX0159E", min_size=1, max_size=4)


def between(low: float, high: float) -> st.SearchStrategy[float]:
    """Any number in the range, but for those so near to zero that 20 decimals do not hold them."""
    return st.floats(low, high, allow_nan=False).filter(lambda number: number == 0.0 or abs(number) > 1e-4)


positions = st.builds(Position, lat_deg=between(0.001, 89.0) | between(-89.0, -0.001), lon_deg=between(-180.0, 179.999))
elevations = st.none() | between(-1_000.0, 20_000.0)
days = st.none() | st.dates()
radials = between(0.0, 360.0)
keys = st.builds("{}:{}".format, st.sampled_from(["club", "ourairports", "nasr"]), st.uuids())


def few(values: st.SearchStrategy) -> st.SearchStrategy[tuple]:
    return st.lists(values, max_size=3).map(tuple)


coverage_sectors = st.builds(
    CoverageSector,
    from_radial_deg=radials,
    to_radial_deg=radials,
    range_nm=between(0.0, 500.0),
    lowest_altitude_ft=elevations,
    highest_altitude_ft=elevations,
)
unusable_sectors = st.builds(
    UnusableSector,
    from_radial_deg=radials,
    to_radial_deg=radials,
    beyond_nm=st.none() | between(0.0, 500.0),
    within_nm=st.none() | between(0.0, 500.0),
    below_altitude_ft=elevations,
    source=words,
)


@st.composite
def outages(draw) -> Outage:
    first, last = draw(days), draw(days)
    if first and last and last < first:
        first, last = last, first
    return Outage(first_day=first, last_day=last, reason=draw(words))


@st.composite
def components(draw, kind: ComponentKind) -> Component:
    return Component(
        kind=kind,
        status=draw(st.sampled_from(ComponentStatus)),
        service_class=draw(st.none() | st.sampled_from(CLASSES[kind])),
        position=draw(st.none() | positions) if kind is not P.DISTANCE else None,
        elevation_ft=draw(elevations),
        coverage=draw(few(coverage_sectors)),
        unusable=draw(few(unusable_sectors)),
        outages=draw(few(outages())),
        power_w=draw(st.none() | between(0.0, 10_000.0)),
        last_confirmed=draw(days),
        source=draw(words),
    )


@st.composite
def alignments(draw) -> Alignment:
    kind = draw(st.sampled_from(AlignmentKind))
    declination = {AlignmentKind.TRUE: 0.0, AlignmentKind.UNKNOWN: None}.get(kind, draw(between(-180.0, 180.0)))
    return Alignment(kind=kind, declination_deg=declination, year=draw(st.none() | st.integers(1900, 2100)), source=draw(words))


@st.composite
def beacons(draw) -> Beacon:
    kind = draw(st.sampled_from(BeaconKind))
    of_ndb = kind in (K.NDB, K.NDB_DME)
    frequency = draw(st.none() | (st.integers(190, 535) if of_ndb else st.integers(2160, 2359).map(lambda step: step * 50)))
    return Beacon(
        region_id=7,
        ident=draw(idents),
        name=draw(names),
        kind=kind,
        frequency_khz=frequency,
        channel="" if frequency is None or of_ndb else channel_for_vor_khz(frequency),
        position=draw(positions),
        elevation_ft=draw(elevations),
        antenna_height_ft=draw(st.none() | between(0.0, 500.0)),
        alignment=draw(alignments()),
        components=tuple(draw(components(part)) for part in PARTS[kind] if draw(st.booleans())),
        voice=draw(st.none() | st.booleans()),
        remarks=draw(words),
        source=draw(words),
        external_key=draw(keys),
    )


airfields = st.builds(
    Airfield,
    region_id=st.just(7),
    ident=st.text("ABX015-E", min_size=1, max_size=9).map(lambda text: "X" + text),
    name=names,
    position=positions,
    elevation_ft=elevations,
    runways=few(
        st.builds(
            Runway,
            designator=st.sampled_from(["09/27", "14", "01L/19R", "N/S"]),
            length_m=st.none() | between(0.0, 9_000.0),
            surface=words,
        )
    ),
    time_zone=st.sampled_from(["", "Atlantic/Azores", "UTC"]),
    closed=st.booleans(),
    remarks=words,
    source=words,
    external_key=keys,
)
checkpoints = st.builds(
    Checkpoint,
    region_id=st.just(7),
    name=names,
    feature=lines,
    position=positions,
    elevation_ft=elevations,
    remarks=words,
    source=words,
    external_key=keys,
)
often = settings(max_examples=80, deadline=None)


@often
@given(st.lists(beacons(), min_size=1, max_size=4))
def test_beacons_come_back_equal(written: list[Beacon]):
    reading = read_beacons(write_beacons(written), region_id=7, name="beacons.csv")
    assert reading.refused == ()
    assert list(reading.rows) == written
    assert write_beacons(reading.rows) == write_beacons(written)


@often
@given(st.lists(airfields, min_size=1, max_size=4))
def test_airfields_come_back_equal(written: list[Airfield]):
    reading = read_airfields(write_airfields(written), region_id=7, name="airfields.csv")
    assert reading.refused == ()
    assert list(reading.rows) == written


@often
@given(st.lists(checkpoints, min_size=1, max_size=4))
def test_checkpoints_come_back_equal(written: list[Checkpoint]):
    reading = read_checkpoints(write_checkpoints(written), region_id=7, name="checkpoints.csv")
    assert reading.refused == ()
    assert list(reading.rows) == written


@often
@given(st.binary(max_size=300) | st.text(max_size=300).map(lambda text: text.encode("utf-8", "replace")))
def test_any_bytes_after_a_header_are_taken_or_refused_row_by_row(rest: bytes):
    content = b"ident,name,kind,frequency_khz,lat_deg,lon_deg\nAAA,Alpha,VOR,113400,43,-36\n" + rest.decode("utf-8", "replace").encode()
    reading = read_beacons(content, region_id=1, name="beacons.csv")
    assert reading.row_count >= 1
    assert len(reading.rows) >= 1
    assert all(row.reason and row.line_number >= 2 for row in reading.refused)


def test_a_day_stays_a_day():
    part = Component(kind=P.BEARING, last_confirmed=date(2026, 5, 1))
    beacon = Beacon(
        region_id=7,
        ident="NAN",
        name="=1+1",
        kind=K.NDB,
        frequency_khz=373,
        position=Position(lat_deg=43.1, lon_deg=-36.2),
        alignment=Alignment(kind=AlignmentKind.UNKNOWN),
        components=(part,),
        external_key="club:1",
    )
    written = write_beacons([beacon])
    assert b'"NAN","=1+1"' in written
    assert b'"2026-05-01"' in written
    assert read_beacons(written, region_id=7, name="b").rows == (beacon,)
