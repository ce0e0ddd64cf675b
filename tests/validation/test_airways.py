"""The validation against airways: on real ground, on ground of a hand's size, and on folders that cannot be used.

The small ground: sea level with one wall from north to south. Stations, airways and idents on it are invented.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest

from server.navigation import Position, distance_nm
from server.units import feet_from_metres, metres_from_nautical_miles
from tests.terrain.files import level_tile, write_tile
from tests.validation.airways import main

LAT_DEG = 43.5
STATION_LON_DEG, WALL_LON_DEG, VOID_LON_DEG = -35.9, -35.5, -35.1
WALL_M = 1500
ANTENNA_M = 8.0  # on its site at sea level, as assumed where no height is published
SEGMENT_COLUMNS = (
    *("airway", "mea_fwd_ft", "mea_opp_ft", "mea_note", "prev_vor", "next_vor"),
    *(f"{side}_{what}" for side in ("from", "to") for what in ("ident", "type", "icao", "lat", "lon")),
)
BEACONS = (
    "ident,icao,kind,class,lat,lon,dme_elev_ft\n"
    f"AAA,ZZ,VOR-DME,VDLW,{LAT_DEG},{STATION_LON_DEG},0\n"
    f"AAA,YY,VORTAC,VTH,-{LAT_DEG},{STATION_LON_DEG},0\n"  # the same ident, on the other half of the earth
    f"OFF,ZZ,VOR,V  W,{LAT_DEG},-30,0\n"
    "DME,ZZ,DME, DHW,,,0\n"
)


def a_segment(
    from_lon_deg: float = -35.40, to_lon_deg: float = -35.39, mea_ft: str = "3000", prev_vor: str = "AAA", **changes: str
) -> dict:
    """A segment along the parallel of the station, by default less than a mile long and behind the wall."""
    row = dict.fromkeys(SEGMENT_COLUMNS, "") | {
        "airway": "V1",
        "from_ident": "EAST",
        "to_ident": "WEST",
        "from_type": "FIX",
        "to_type": "FIX",
    }
    row |= {"from_lat": str(LAT_DEG), "to_lat": str(LAT_DEG), "from_lon": str(from_lon_deg), "to_lon": str(to_lon_deg)}
    return row | {"mea_fwd_ft": mea_ft, "prev_vor": prev_vor} | changes


def write_segments(folder: Path, *rows: dict) -> None:
    with (folder / "airway_segments.csv").open("w", newline="") as lines:
        writer = csv.DictWriter(lines, SEGMENT_COLUMNS)
        writer.writeheader()
        writer.writerows(rows)


@pytest.fixture(scope="module")
def terrain(tmp_path_factory) -> Path:
    """One 3-second tile at sea level with a wall, and a void line behind it."""
    posts = level_tile(0)
    posts[:, round((WALL_LON_DEG + 36.0) * 1200)] = WALL_M
    posts[:, round((VOID_LON_DEG + 36.0) * 1200)] = -32768
    return write_tile(tmp_path_factory.mktemp("ground"), "N43W036", posts, ".hgt.zip").parent


@pytest.fixture
def folder(tmp_path: Path, terrain: Path) -> Path:
    (tmp_path / "terrain").symlink_to(terrain)
    (tmp_path / "beacons.csv").write_text(BEACONS)
    write_segments(tmp_path, a_segment())
    return tmp_path


def validated(folder: Path, capsys) -> tuple[dict, str]:
    """Run the program on a folder that can be used: its figures and its words."""
    assert main([str(folder)]) == 0
    words = capsys.readouterr().out.rstrip("\n").splitlines()
    return json.loads(words[-1]), "\n".join(words[:-1])


def states(figures: dict) -> tuple[int, int, int, int]:
    return tuple(figures[state] for state in ("received", "marginal", "not_received", "inconclusive"))


def over_the_wall_ft(lon_deg: float) -> float:
    """Altitude of the ray that grazes the wall, on an earth of 4/3 radius: heights above a chord follow h0 + slope d + d^2 / 2R
    (ITU-R P.452)."""
    radius_m = 4.0 / 3.0 * 6_371_000.0
    wall_m, point_m = (
        metres_from_nautical_miles(
            distance_nm(Position(lat_deg=LAT_DEG, lon_deg=STATION_LON_DEG), Position(lat_deg=LAT_DEG, lon_deg=each_deg))
        )
        for each_deg in (WALL_LON_DEG, lon_deg)
    )
    slope = (WALL_M - ANTENNA_M) / wall_m - wall_m / (2.0 * radius_m)
    return feet_from_metres(ANTENNA_M + slope * point_m + point_m**2 / (2.0 * radius_m))


def test_agrees_with_the_reference_sight_over_the_sierra_nevada(open_data, capsys):
    # Its README, computed with another program (a sphere, straight rays, ground every 60 m): 269 points every 2 NM, of which 243 are in
    # sight of a VOR at the MEA, none is hidden from all, and 26, all on V244 MERPH-CFVGJ, hang on a station off the terrain. Points: its
    # sphere makes one segment a step longer. The four points of V244 that it calls in sight may lie inside the band, and then they hang on
    # that station too: the shares are of fewer points, which makes up to 0.02; 0.01 for rounding and for its steps.
    folder = open_data / "sierra_nevada"
    if not folder.is_dir():
        pytest.skip("the open data has no sierra_nevada")
    figures, words = validated(folder, capsys)
    received, marginal, not_received, inconclusive = states(figures)
    assert not_received == 0
    assert figures["points"] == received + marginal + inconclusive == pytest.approx(269, abs=1)
    assert 26 <= inconclusive <= 30
    assert "V244 MERPH-CFVGJ" in words and "LIN stands off the terrain" in words
    for drop_ft, share in (("1000", 0.99), ("2000", 0.94), ("3000", 0.77), ("4000", 0.56), ("5000", 0.38)):
        assert figures["share_in_sight_below"][drop_ft] == pytest.approx(share, abs=0.03)
        assert figures["share_received_below"][drop_ft] <= figures["share_in_sight_below"][drop_ft]
    # V244 at CFVGJ: 1,197 ft in the reference, 20 ft for its steps; where the folder's two sources meet, posts stand up to 12 m higher than
    # either surface so that no crest is cut, which grows with the distance over the crest's
    assert 1197 - 70 <= figures["tightest_margin_ft"] <= 1197 + 20
    assert figures["partly_on_terrain"]["not_received"] == 0


def test_a_station_in_plain_sight_is_received_all_along(folder, capsys):
    write_segments(folder, a_segment(STATION_LON_DEG, -35.6, from_ident="AAA", from_type="VHF", from_icao="ZZ"))
    figures, _ = validated(folder, capsys)
    assert states(figures) == (figures["points"], 0, 0, 0)
    assert figures["points"] == round(distance_nm(Position(lat_deg=43.5, lon_deg=-35.9), Position(lat_deg=43.5, lon_deg=-35.6)) / 2) + 1
    assert figures["share_received_below"]["1000"] == 1.0  # 2,000 ft
    assert figures["share_received_below"]["3000"] == pytest.approx(1 / figures["points"], abs=1e-4)  # 0 ft: only beside the station
    assert figures["received_beyond_class"] == 0


def test_behind_a_wall_it_is_not_received_and_the_wall_is_named(folder, capsys):
    figures, words = validated(folder, capsys)
    assert states(figures) == (0, 0, 2, 0)
    below_ft = over_the_wall_ft(-35.39) - 3000.0
    assert figures["tightest_margin_ft"] == pytest.approx(-below_ft, abs=5.0)  # a parabola for the sphere
    assert "V1 EAST-WEST at 0.0 NM: MEA 3,000 ft" in words
    assert "below the line of sight to AAA" in words
    assert "a ridge of 4,921 ft at 43°30.0" in words  # 1,500 m
    assert figures["share_received_below"]["1000"] == 0.0


def test_inside_the_band_of_the_ray_over_the_wall_it_is_marginal(folder, capsys):
    # 14 m for ground and assumed antenna are 46 ft at the wall, and a little more behind it: 30 ft either side is inside
    needed_ft = over_the_wall_ft(-35.395)
    write_segments(folder, *(a_segment(-35.3951, -35.3949, str(round(needed_ft + off_ft))) for off_ft in (-30, 30)))
    assert states(validated(folder, capsys)[0]) == (0, 4, 0, 0)
    write_segments(folder, *(a_segment(-35.3951, -35.3949, str(round(needed_ft + off_ft))) for off_ft in (-300, 300)))
    assert states(validated(folder, capsys)[0]) == (2, 0, 2, 0)


def test_the_lower_of_the_two_directions_counts(folder, capsys):
    write_segments(folder, a_segment(mea_ft="20000", mea_opp_ft="3000"), a_segment(mea_ft="3000", mea_opp_ft="20000"))
    assert states(validated(folder, capsys)[0]) == (0, 0, 4, 0)


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"next_vor": "OFF"}, "OFF stands off the terrain"),
        ({"next_vor": "NIX"}, "NIX is not among the VORs of beacons.csv"),
        ({"next_vor": "DME"}, "DME is not among the VORs of beacons.csv"),
        ({"to_ident": "NIX", "to_type": "VHF", "to_icao": "ZZ"}, "NIX is not among the VORs of beacons.csv"),
        ({"from_lon_deg": -35.05, "to_lon_deg": -35.04, "mea_ft": "60000"}, "the ground between AAA and the point is not all known"),
    ],
)
def test_where_another_station_may_serve_or_ground_is_unknown_nothing_is_concluded(folder, capsys, changes, reason):
    write_segments(folder, a_segment(**changes))
    figures, words = validated(folder, capsys)
    assert states(figures) == (0, 0, 0, 2)
    assert set(figures["share_received_below"].values()) == {None}
    assert f"V1 {'EAST-NIX' if 'to_ident' in changes else 'EAST-WEST'}: 2 from 0.0 to" in words
    assert reason in words


def test_a_station_that_is_received_settles_it_whatever_the_other_does(folder, capsys):
    write_segments(folder, a_segment(mea_ft="20000", next_vor="OFF"))
    assert states(validated(folder, capsys)[0]) == (2, 0, 0, 0)


def test_a_station_is_told_by_ident_and_region_or_by_being_near(folder, capsys):
    (folder / "beacons.csv").write_text("\n".join([BEACONS.splitlines()[0], *reversed(BEACONS.splitlines()[1:])]))
    end = {"from_ident": "AAA", "from_type": "VHF"}
    write_segments(folder, a_segment(STATION_LON_DEG, -35.6, **end, from_icao="ZZ", prev_vor=""))
    assert states(validated(folder, capsys)[0])[1:] == (0, 0, 0)
    write_segments(folder, a_segment(-35.8, -35.6))
    assert states(validated(folder, capsys)[0])[1:] == (0, 0, 0)
    write_segments(folder, a_segment(STATION_LON_DEG, -35.6, **end, from_icao="YY", prev_vor=""))
    assert "no VOR that defines it stands on the terrain (1): V1 AAA-WEST" in validated(folder, capsys)[1]


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"mea_ft": "", "mea_note": "UNKNN"}, "no MEA published in feet"),
        ({"mea_ft": "UNKNN"}, "no MEA published in feet"),
        ({"mea_ft": "0"}, "no MEA published in feet"),
        ({"mea_ft": "FL180"}, "no MEA published in feet"),
        ({"prev_vor": ""}, "no VOR defines it"),
        ({"prev_vor": "OFF"}, "no VOR that defines it stands on the terrain"),
        ({"to_lon_deg": -34.9}, "not wholly on the terrain"),
    ],
)
def test_a_segment_that_cannot_be_tested_is_counted_with_its_reason(folder, capsys, changes, reason):
    write_segments(folder, a_segment(), a_segment(airway="V2", **changes))
    figures, words = validated(folder, capsys)
    assert (figures["points"], figures["untested_segments"]) == (2, 1)
    assert f"Segments not counted, {reason} (1): V2 EAST-WEST" in words


def test_points_on_the_terrain_of_a_segment_that_leaves_it_are_told_apart(folder, capsys):
    write_segments(folder, a_segment(-35.3, -34.7))
    figures, _ = validated(folder, capsys)
    assert figures["points"] == 0 and figures["tightest_margin_ft"] is None
    partly = figures["partly_on_terrain"]
    assert partly["not_received"] > 0 and partly["inconclusive"] > 0  # before and behind the void
    assert partly["points"] == partly["not_received"] + partly["inconclusive"]


def test_a_point_beyond_the_published_class_is_received_all_the_same_and_counted(folder, capsys):
    # AIM TBL 1-1-1: class T reaches 25 NM and 12,000 ft
    (folder / "beacons.csv").write_text(BEACONS.replace("VDLW", "VDTW"))
    write_segments(folder, a_segment(mea_ft="15000"))
    figures, _ = validated(folder, capsys)
    assert (figures["received"], figures["received_beyond_class"]) == (2, 2)


def test_a_station_without_elevation_stands_on_the_terrain_and_columns_that_may_lack_do(folder, capsys):
    (folder / "beacons.csv").write_text(f"kind,ident,icao,lat,lon\nVOR,AAA,,{LAT_DEG},{STATION_LON_DEG}\n")
    write_segments(folder, a_segment(-35.8, -35.6))
    figures, _ = validated(folder, capsys)
    assert states(figures)[1:] == (0, 0, 0)
    assert figures["received_beyond_class"] == 0


def test_a_damaged_tile_is_left_out_and_the_others_serve(tmp_path, folder, terrain, capsys):
    (folder / "terrain").unlink()
    write_tile(folder / "terrain", "N44W036", np.zeros((3, 3)))
    (folder / "terrain" / "N43W036.hgt.zip").write_bytes((terrain / "N43W036.hgt.zip").read_bytes())
    assert main([str(folder)]) == 0
    assert "N44W036.hgt was left out" in capsys.readouterr().err


def without(name: str):
    return lambda folder: (folder / name).unlink()


def beacons(text: str):
    return lambda folder: (folder / "beacons.csv").write_text(text)


def segments(*rows: dict):
    return lambda folder: write_segments(folder, *rows)


def other_terrain(*files: tuple[str, bytes]):
    def put(folder: Path) -> None:
        (folder / "terrain").unlink()
        (folder / "terrain").mkdir()
        for name, content in files:
            (folder / "terrain" / name).write_bytes(content)

    return put


@pytest.mark.parametrize(
    ("spoil", "message"),
    [
        (without("airway_segments.csv"), "There is no airway_segments.csv in"),
        (without("beacons.csv"), "There is no beacons.csv in"),
        (without("terrain"), "There is no folder terrain in"),
        (other_terrain(), "No elevation file was found"),
        (other_terrain(("N43W036.hgt", b"torn")), "None of the elevation files could be used"),
        (beacons("ident,kind,lat\n"), "beacons.csv lacks the columns icao, lon."),
        (beacons(""), "beacons.csv lacks the columns"),
        (beacons("ident,icao,kind,lat,lon\nAAA,ZZ,VOR,north,1\n"), "beacons.csv, row 2: lat 'north' is not a number."),
        (beacons("ident,icao,kind,lat,lon\nAAA,ZZ,VOR,nan,1\n"), "beacons.csv, row 2: lat 'nan' is not a number."),
        (beacons("ident,icao,kind,lat,lon\nAAA,ZZ,VOR,43\n"), "beacons.csv, row 2: lon is empty."),
        (beacons("ident,icao,kind,lat,lon,dme_elev_ft\nAAA,ZZ,VOR,43,1,high\n"), "beacons.csv, row 2: dme_elev_ft 'high' is not a number."),
        (lambda folder: (folder / "beacons.csv").write_bytes(b"\xff\xfe\x00"), "beacons.csv cannot be read as a CSV table in UTF-8"),
        (lambda folder: (folder / "airway_segments.csv").write_text("airway,prev_vor\nV1,AAA\n"), "airway_segments.csv lacks the columns"),
        (segments(), "airway_segments.csv holds no segment."),
        (segments(a_segment(to_lat="95")), "airway_segments.csv, row 2: to_lat 95, to_lon -35.39 is no place on earth."),
        (segments(a_segment(), a_segment(from_lon="")), "airway_segments.csv, row 3: from_lon is empty."),
    ],
)
def test_a_folder_that_cannot_be_used_is_refused_in_one_line(folder, capsys, spoil, message):
    spoil(folder)
    assert main([str(folder)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert [line for line in said.err.splitlines() if line.startswith("airways: ")] == said.err.splitlines()[-1:]
    assert message in said.err.splitlines()[-1]


def test_a_folder_that_is_not_there_is_refused(tmp_path, capsys):
    assert main([str(tmp_path / "nowhere")]) == 2
    assert "airways: There is no folder" in capsys.readouterr().err
