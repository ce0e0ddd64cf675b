"""The airway V230 from Friant (FRA) to Mina (MVA) over the Sierra Nevada, surveyed from both stations.

Sources: stations and classes from FAA NASR, 22 Jan 2026 (public domain); terrain NASA SRTM 3 arc-second (public domain); minimum en-route
altitude 14,300 ft and the stations of the segment from FAA CIFP. los_reference.csv, beside the terrain, was computed with another program
(straight rays every 2 NM, terrain every 60 m, first 200 m skipped), not published. Tolerance 0.3 NM for its spacing; 0.5 NM for MVA, whose
ridge stands 21 NM from it: what 60 m steps miss of the crest counts more than four times at 94 NM, and 50 ft there are 0.35 NM.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from server.navigation import Alignment, AlignmentKind, Position, distance_nm, position_along
from server.radio import (
    Beacon,
    BeaconKind,
    Cause,
    Component,
    ComponentKind,
    ComponentStatus,
    ReceptionState,
    ServiceClass,
    best_of,
    first_heard_nm,
    leg_received,
    lost_nm,
)
from server.terrain import TerrainStore
from tests.radio.radio_builders import EVERYWHERE, a_path, a_survey

MEA_FT = 14300.0


@pytest.fixture(scope="module")
def sierra(open_data, tmp_path_factory):
    """The ground of the sample, in a store of its own."""
    folder = open_data / "sierra_nevada" / "terrain"
    if not folder.is_dir():
        pytest.skip("the open data has no sierra_nevada terrain")
    store = TerrainStore(tmp_path_factory.mktemp("terrain"))
    return store.open(store.load(sorted(folder.glob("*.hgt.zip"))).fingerprint)


def nasr_vortac(open_data: Path, ident: str, *, volumes: bool) -> Beacon:
    """Build a station from its NASR row; without volumes only terrain decides."""
    table = open_data / "navaids_us_nasr" / "NAV_BASE.csv"
    if not table.is_file():
        pytest.skip("the open data has no navaids_us_nasr table")
    with table.open(encoding="latin-1", newline="") as lines:
        row = next(row for row in csv.DictReader(lines) if row["NAV_ID"] == ident and row["NAV_TYPE"] == "VORTAC")
    parts = {ComponentKind.AZIMUTH: row["ALT_CODE"], ComponentKind.DISTANCE: row["DME_SSV"]}
    return Beacon(
        region_id=1,
        ident=ident,
        name=row["NAME"],
        kind=BeaconKind.VORTAC,
        frequency_khz=round(float(row["FREQ"]) * 1000),
        position=Position(lat_deg=float(row["LAT_DECIMAL"]), lon_deg=float(row["LONG_DECIMAL"])),
        elevation_ft=float(row["ELEV"]),
        alignment=Alignment(kind=AlignmentKind.MAGNETIC, declination_deg=float(row["MAG_VARN"])),
        components=tuple(
            Component(
                kind=kind,
                status=ComponentStatus.OPERATING,
                service_class=ServiceClass(letters),
                coverage=() if volumes else EVERYWHERE,
            )
            for kind, letters in parts.items()
        ),
    )


def reference_edge_nm(open_data: Path, vor: str) -> float:
    """Distance from a station at which los_reference.csv says the needed altitude first passes the MEA, along V230 from FRA to MVA."""
    with (open_data / "sierra_nevada" / "los_reference.csv").open(newline="") as lines:
        rows = [row for row in csv.DictReader(lines) if row["airway"] == "V230" and row["vor"] == vor]
    points = sorted(
        {(float(row["dist_nm"]), float(row["min_los_alt_ft"])) for row in rows if row["from_ident"] in ("FRA", "CAINS", "RBRTS", "NIKOL")}
    )
    distances_nm, needed_ft = np.array(points).T
    k = int(np.flatnonzero(needed_ft > MEA_FT)[0])
    return float(np.interp(MEA_FT, needed_ft[k - 1 : k + 1], distances_nm[k - 1 : k + 1]))


def test_agrees_with_the_reference_sight_of_v230_that_friant_is_lost_and_mina_covers_the_rest(open_data, sierra):
    friant, mina = (nasr_vortac(open_data, ident, volumes=False) for ident in ("FRA", "MVA"))
    path = a_path(friant.position, mina.position, MEA_FT)
    behind, ahead = a_survey(path, sierra, friant), a_survey(path, sierra, mina)
    assert lost_nm(behind.stretches) == pytest.approx(reference_edge_nm(open_data, "FRA"), abs=0.3)
    assert lost_nm(behind.stretches) == pytest.approx(37.0, abs=1.5)  # as the data's own notes tell it
    assert leg_received(best_of(behind.stretches, ahead.stretches))
    middle = next(stretch for stretch in behind.stretches if stretch.to_nm > path.distance_nm / 2.0)
    assert middle.has(Cause.TERRAIN) and middle.findings[0].ridge is not None  # so a changeover half way fails


def test_agrees_with_the_reference_sight_of_mina_where_it_is_first_heard_beyond_cains(open_data, sierra):
    # CAINS to RBRTS, the segment that holds the edge: neither end is the station, so every point has a ray of its own
    mina = nasr_vortac(open_data, "MVA", volumes=False)
    with (open_data / "sierra_nevada" / "airway_segments.csv").open(newline="") as lines:
        row = next(
            row for row in csv.DictReader(lines) if (row["airway"], row["from_ident"], row["to_ident"]) == ("V230", "CAINS", "RBRTS")
        )
    start, end = (Position(lat_deg=float(row[f"{side}_lat"]), lon_deg=float(row[f"{side}_lon"])) for side in ("from", "to"))
    path = a_path(start, end, MEA_FT)
    heard_nm = first_heard_nm(a_survey(path, sierra, mina).stretches)
    heard_at = position_along(start, end, heard_nm)
    assert distance_nm(mina.position, heard_at) == pytest.approx(reference_edge_nm(open_data, "MVA"), abs=0.5)


def test_friant_would_need_more_than_22000_ft_where_the_airway_asks_for_14300(open_data, sierra):
    friant = nasr_vortac(open_data, "FRA", volumes=False)
    mina = nasr_vortac(open_data, "MVA", volumes=False)
    survey = a_survey(a_path(friant.position, mina.position, MEA_FT), sierra, friant)
    needed_ft = np.interp(57.39, survey.sample_nm, survey.lowest_altitude_ft)
    assert needed_ft == pytest.approx(22133.0, abs=250.0)  # los_reference.csv, RBRTS-NIKOL, sample 3; 1 % for its 60 m steps


def test_the_published_classes_leave_the_middle_of_v230_outside_both_volumes(open_data, sierra):
    # FRA is class L: 40 NM. MVA is VH: 70 NM at this height, 6,400 ft over the antenna. An airway may be flown beyond the volumes, as
    # its MEA was flight-checked; the volumes alone do not promise it.
    friant, mina = (nasr_vortac(open_data, ident, volumes=True) for ident in ("FRA", "MVA"))
    length_nm = distance_nm(friant.position, mina.position)
    path = a_path(friant.position, mina.position, MEA_FT)
    behind, ahead = a_survey(path, sierra, friant), a_survey(path, sierra, mina)
    best = best_of(behind.stretches, ahead.stretches)
    gap = next(stretch for stretch in best if stretch.state is ReceptionState.NOT_PROMISED and not stretch.has(Cause.OVERHEAD_CONE))
    assert gap.from_nm == pytest.approx(reference_edge_nm(open_data, "FRA"), abs=0.3)
    assert gap.to_nm == pytest.approx(length_nm - 70.0, abs=0.01)
    assert gap.has(Cause.TERRAIN) and gap.has(Cause.OUTSIDE_VOLUME)
