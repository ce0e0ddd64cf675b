"""Loading a table: what is added, changed and gone, told beforehand and done in one transaction that can be repeated."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import Engine, event

from server.errors import InputProblem, NotFound
from server.navigation import PointKind, Route, RoutePoint
from server.persistence import Library, RegionRecord
from server.planning.load import load_airfields, load_beacons, load_checkpoints
from server.radio import ComponentStatus
from server.settings import PROJECT_ROOT
from tests.exchange.table_builders import NAVAID, NAVAID_COLUMNS, OUR_AIRFIELD, OUR_BEACON, OUR_CHECKPOINT, nasr, navaids, table


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    opened = Library.open(f"sqlite:///{tmp_path / 'beaconry.sqlite3'}")
    opened.migrate(PROJECT_ROOT / "migrations")
    yield opened
    opened.close()


@pytest.fixture
def statements(library: Library) -> Iterator[list[str]]:
    """Every statement sent to a database while the test runs."""
    sent: list[str] = []

    def note(_connection, _cursor, statement, *_):
        sent.append(statement)

    event.listen(Engine, "before_cursor_execute", note)
    yield sent
    event.remove(Engine, "before_cursor_execute", note)


@pytest.fixture
def region_id(library: Library) -> int:
    with library.begin() as work:
        return work.regions.add(RegionRecord(slug="skerry", name="Skerry Sound", fictional=True, notice="Invented.")).id


def load(library: Library, region_id: int, content: bytes, *, dry_run: bool = False, **more):
    return load_beacons(library, region_id=region_id, content=content, source_name="navaids.csv", dry_run=dry_run, **more)


def shelf(library: Library, region_id: int):
    with library.read() as work:
        return work.beacons.list(region_id)


def loads(library: Library, region_id: int):
    with library.read() as work:
        return work.loads.list(region_id)


THREE = navaids({"ident": "AAA"}, {"ident": "BBB", "name": "Bluff"}, {"ident": "CCC", "frequency_khz": "-1"})


def test_a_first_load_adds_what_is_taken_and_tells_what_is_refused(library: Library, region_id: int):
    report = load(library, region_id, THREE)
    assert (report.format_name, report.taken, report.unchanged) == ("OurAirports navaids", 2, 0)
    assert report.added == ("AAA VOR/DME Skerry", "BBB VOR/DME Bluff")
    assert [(row.line_number, row.code) for row in report.refused] == [(4, "frequency-unknown")]
    assert [beacon.ident for beacon in shelf(library, region_id)] == ["AAA", "BBB"]
    (record,) = loads(library, region_id)
    assert (record.what, record.taken, record.refused, record.added, record.changed, record.gone) == ("beacons", 2, 1, 2, 0, 0)
    assert len(record.content_sha256) == 64


def test_loading_the_same_file_again_changes_nothing(library: Library, region_id: int):
    load(library, region_id, THREE)
    before = shelf(library, region_id)
    report = load(library, region_id, THREE)
    assert (report.added, report.changed, report.gone, report.unchanged) == ((), (), (), 2)
    assert shelf(library, region_id) == before


def test_a_dry_run_tells_the_same_and_does_nothing(library: Library, region_id: int):
    foretold = load(library, region_id, THREE, dry_run=True)
    assert shelf(library, region_id) == ()
    assert loads(library, region_id) == ()
    done = load(library, region_id, THREE)
    assert foretold.dry_run
    assert replace(foretold, dry_run=False) == done


def test_changes_are_told_field_by_field_with_old_and_new(library: Library, region_id: int):
    load(library, region_id, navaids({"ident": "AAA"}, {}))
    number = shelf(library, region_id)[0].id
    changed = {"ident": "AAA", "frequency_khz": "113350", "dme_frequency_khz": "113350", "dme_channel": "080Y", "slaved_variation_deg": ""}
    report = load(library, region_id, navaids({**changed, "elevation_ft": ""}, {}))
    assert report.changed_count == 1
    assert {(change.field, change.old, change.new) for change in report.changed} == {
        ("frequency_khz", "114300", "113350"),
        ("channel", "90X", "80Y"),
        ("alignment kind", "magnetic", "unknown"),
        ("alignment declination_deg", "-11", "not known"),
        ("elevation_ft", "812", "not known"),
    }
    assert {change.label for change in report.changed} == {"AAA VOR/DME Skerry"}
    assert shelf(library, region_id)[0].frequency_khz == 113_350
    assert shelf(library, region_id)[0].id == number


def test_a_new_date_alone_is_stored_and_not_listed_as_a_change(library: Library, region_id: int):
    load(library, region_id, nasr({}))
    report = load(library, region_id, nasr({"EFF_DATE": "2026/02/19"}))
    assert (report.changed, report.unchanged) == ((), 1)
    assert str(shelf(library, region_id)[0].components[0].last_confirmed) == "2026-02-19"
    report = load(library, region_id, nasr({"EFF_DATE": "2026/02/19", "NAV_STATUS": "SHUTDOWN"}))
    assert ("azimuth status", "operating", "out of service") in {(change.field, change.old, change.new) for change in report.changed}


def test_what_the_source_no_longer_names_is_removed(library: Library, region_id: int):
    load(library, region_id, navaids({"ident": "AAA"}, {"ident": "BBB"}))
    report = load(library, region_id, navaids({"ident": "AAA"}))
    assert report.gone == ("BBB VOR/DME Skerry",)
    assert [beacon.ident for beacon in shelf(library, region_id)] == ["AAA"]


def test_what_has_gone_but_a_route_uses_is_kept_with_unknown_status(library: Library, region_id: int):
    load(library, region_id, nasr({"NAV_ID": "AAA"}, {"NAV_ID": "BBB"}))
    load_airfields(library, region_id=region_id, content=table(OUR_AIRFIELD), source_name="airfields.csv", dry_run=False)
    with library.begin() as work:
        field = work.airfields.list(region_id)[0].id
        used = work.beacons.find_by_ident(region_id, "BBB")[0].id
        point = RoutePoint(kind=PointKind.BEACON, place_id=used)
        work.routes.add(Route(region_id=region_id, name="Out", departure_airfield_id=field, destination_airfield_id=field, points=(point,)))
    for _ in range(2):
        report = load(library, region_id, nasr({"NAV_ID": "AAA"}))
        assert (report.gone, report.kept_in_use) == ((), ("BBB VORTAC SKERRY",))
        kept = shelf(library, region_id)[1]
        assert {part.status for part in kept.components} == {ComponentStatus.UNKNOWN}
        assert loads(library, region_id)[0].gone == 1


def test_a_row_that_is_refused_now_has_not_gone(library: Library, region_id: int):
    load(library, region_id, navaids({"ident": "AAA"}, {"ident": "BBB"}))
    report = load(library, region_id, navaids({"ident": "AAA"}, {"ident": "BBB", "frequency_khz": "-1"}))
    assert report.gone == ()
    assert [beacon.ident for beacon in shelf(library, region_id)] == ["AAA", "BBB"]


def test_while_a_row_is_too_damaged_to_be_known_nothing_counts_as_gone(library: Library, region_id: int):
    whole = navaids({"ident": "AAA"}, {"ident": "BBB"}, {"ident": "CCC"})
    load(library, region_id, whole)
    report = load(library, region_id, whole[: whole.rindex(b"3,,CCC") + 1])
    assert report.gone == ()
    assert [warning.code for warning in report.warnings] == ["gone-undecided"]
    assert len(shelf(library, region_id)) == 3


def test_sources_do_not_touch_each_other_nor_what_was_made_by_hand(library: Library, region_id: int):
    load(library, region_id, navaids({"ident": "AAA"}))
    own = replace(shelf(library, region_id)[0], id=None, ident="OWN", external_key="")
    with library.begin() as work:
        work.beacons.add(own)
    report = load(library, region_id, nasr({"NAV_ID": "BBB"}))
    assert report.gone == ()
    report = load(library, region_id, table({**OUR_BEACON, "key": "club:x", "ident": "CCC"}))
    assert report.gone == ()
    assert [beacon.ident for beacon in shelf(library, region_id)] == ["AAA", "BBB", "CCC", "OWN"]


def test_a_row_that_was_already_made_by_hand_is_refused_with_its_line(library: Library, region_id: int):
    load(library, region_id, navaids({"ident": "AAA"}))
    with library.begin() as work:
        made = work.beacons.list(region_id)[0]
        work.beacons.update(replace(made, external_key=""))
    report = load(library, region_id, navaids({"ident": "BBB"}, {"ident": "AAA"}))
    assert [(row.line_number, row.code) for row in report.refused] == [(3, "already-made-by-hand")]
    assert (report.taken, report.added) == (1, ("BBB VOR/DME Skerry",))


KEYLESS = {**OUR_BEACON, "key": ""}


@pytest.mark.parametrize(
    ("loader", "row"),
    [(load_beacons, KEYLESS), (load_airfields, {**OUR_AIRFIELD, "key": ""}), (load_checkpoints, {**OUR_CHECKPOINT, "key": ""})],
)
def test_the_same_own_table_under_another_file_name_doubles_nothing(library: Library, region_id: int, loader, row: dict[str, str]):
    reports = [
        loader(library, region_id=region_id, content=table(row), source_name=name, dry_run=False) for name in ("self.csv", "self_july.csv")
    ]
    assert [(len(report.added), report.unchanged) for report in reports] == [(1, 0), (0, 1)]


def test_several_own_tables_stand_beside_each_other_and_each_may_be_small(library: Library, region_id: int):
    many = [{**KEYLESS, "ident": f"A{number:02}"} for number in range(10)]
    load(library, region_id, table(*many))
    report = load(library, region_id, table({**KEYLESS, "ident": "BBB"}))
    assert (report.gone, len(report.added)) == ((), 1)
    report = load(library, region_id, table({**many[0], "elevation_ft": "815"}))
    assert (report.gone, report.added, report.changed_count) == ((), (), 1)
    assert len(shelf(library, region_id)) == 11


def test_an_own_row_far_from_the_one_of_its_key_is_another_thing_and_replaces_nothing(library: Library, region_id: int):
    load(library, region_id, table(KEYLESS))
    before = shelf(library, region_id)
    report = load(library, region_id, table({**KEYLESS, "name": "Far Skerry", "lat_deg": "44.51"}))
    # One degree of latitude is 60 NM, and a little more or less on the ellipsoid.
    (refused,) = report.refused
    assert (refused.line_number, refused.code, refused.key) == (2, "key-twice", "own:VOR/DME|SKR")
    assert "60 NM from SKR VOR/DME Skerry" in refused.reason and "key column" in refused.reason
    assert (report.taken, report.added, report.changed) == (0, (), ())
    assert shelf(library, region_id) == before
    assert load(library, region_id, table({**KEYLESS, "lat_deg": "43.52"})).changed_count == 1


def test_rows_of_other_sources_do_not_hide_that_one_has_shrunk(library: Library, region_id: int):
    load(library, region_id, table(*({**OUR_BEACON, "key": f"club:{number}", "ident": f"A{number:02}"} for number in range(10))))
    own = [{**KEYLESS, "ident": f"B{number:02}"} for number in range(20)]
    with pytest.raises(InputProblem, match=r"has 1 rows of club, where that source had 10 before"):
        load(library, region_id, table({**OUR_BEACON, "key": "club:0", "ident": "A00"}, *own))


def test_thousands_that_have_gone_are_removed_in_a_few_statements(library: Library, region_id: int, statements: list[str]):
    load(library, region_id, navaids(*({"ident": f"{number:03X}"} for number in range(3000))))
    statements.clear()
    assert len(load(library, region_id, navaids({"ident": "000"}), accept_shrink=True).gone) == 2999
    assert len(statements) < 40
    assert len(shelf(library, region_id)) == 1


def test_a_file_with_less_than_half_of_the_rows_before_is_refused_unless_accepted(library: Library, region_id: int):
    load(library, region_id, navaids(*({"ident": f"A{number:02}"} for number in range(10))))
    with pytest.raises(InputProblem, match=r"has 4 rows of ourairports, where that source had 10 before: .* cut off") as caught:
        load(library, region_id, navaids(*({"ident": f"A{number:02}"} for number in range(4))))
    assert caught.value.code == "table-shrunk"
    assert "check box" in caught.value.message and "--accept-fewer" in caught.value.message
    assert len(shelf(library, region_id)) == 10
    assert len(load(library, region_id, navaids({"ident": "A00"}), accept_shrink=True).gone) == 9


def test_a_file_of_another_layout_leaves_the_last_good_set_alone(library: Library, region_id: int):
    load(library, region_id, THREE)
    with pytest.raises(InputProblem, match="dme_channel"):
        load(library, region_id, THREE.replace(b"dme_channel", b"dme_chan"))
    assert len(shelf(library, region_id)) == 2


def test_two_regions_hold_the_same_table_apart(library: Library, region_id: int):
    with library.begin() as work:
        other_id = work.regions.add(RegionRecord(slug="other", name="Other", fictional=True, notice="Invented.")).id
    load(library, region_id, THREE)
    assert len(load(library, other_id, THREE).added) == 2


def test_a_region_that_is_not_there_is_named(library: Library):
    with pytest.raises(NotFound, match="no region with number 99"):
        load(library, 99, THREE)


def test_one_ident_at_twenty_stations_is_twenty_beacons(library: Library, region_id: int):
    # The ident MA is used 20 times in the open world table.
    rows = ({**NAVAID, "id": str(number), "ident": "MA", "latitude_deg": f"{40 + number}.5"} for number in range(20))
    assert len(load(library, region_id, table(*rows, columns=NAVAID_COLUMNS)).added) == 20


def test_airfields_and_checkpoints_load_alike(library: Library, region_id: int):
    for loader, row in ((load_airfields, OUR_AIRFIELD), (load_checkpoints, OUR_CHECKPOINT)):
        first = loader(library, region_id=region_id, content=table(row), source_name="x.csv", dry_run=False)
        again = loader(library, region_id=region_id, content=table({**row, "elevation_ft": "5"}), source_name="x.csv", dry_run=False)
        assert len(first.added) == 1
        assert [(change.field, change.new) for change in again.changed] == [("elevation_ft", "5")]


def test_the_world_table_and_the_national_list_load_into_one_region(library: Library, region_id: int, open_data: Path):
    world = (open_data / "navaids_world" / "navaids.csv").read_bytes()
    national = (open_data / "navaids_us_nasr" / "NAV_BASE.csv").read_bytes()
    assert load(library, region_id, world).taken == 10_864
    assert load(library, region_id, national).taken == 1_559
    again = load(library, region_id, world)
    assert (again.unchanged, again.added, again.changed, again.gone) == (10_864, (), (), ())
