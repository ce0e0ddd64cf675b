"""The invented stations, airfields and checkpoints of the Vessune Isles, as a person would keep them in a notebook.

Elevations are not written here: they come from the ground the places stand on, so that both agree.

Idents of stations were picked where no published station of the open world table bears them. Airfield idents begin with Q: ICAO gives no
country a location indicator with that letter (Annex 10 Vol II keeps Q for the Q code), so none can be mistaken for a real field.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from server.navigation.alignment import Alignment, AlignmentKind
from server.radio.beacon import (
    BeaconKind,
    Component,
    ComponentKind,
    ComponentStatus,
    CoverageSector,
    Outage,
    ServiceClass,
    UnusableSector,
)

INVENTED = "invented"
TIME_ZONE = "Etc/GMT+2"  # two hours behind UTC all the year: 36 W lies in that zone by longitude

AZIMUTH, DISTANCE, BEARING = ComponentKind.AZIMUTH, ComponentKind.DISTANCE, ComponentKind.BEARING
OPERATING, WITHDRAWN = ComponentStatus.OPERATING, ComponentStatus.WITHDRAWN


@dataclass(frozen=True, kw_only=True)
class Station:
    """A beacon before the ground tells its elevation. ``dme_at`` is where the DME stands when not beside the station."""

    ident: str
    name: str
    kind: BeaconKind
    frequency_khz: int
    at: tuple[float, float]
    alignment: Alignment
    parts: tuple[Component, ...]
    channel: str | None = None
    dme_at: tuple[float, float] | None = None
    antenna_height_ft: float | None = 30.0
    elevation_published: bool = True
    voice: bool | None = None
    remarks: str = ""


@dataclass(frozen=True, kw_only=True)
class Field:
    ident: str
    name: str
    at: tuple[float, float]
    runways: str
    closed: bool = False
    remarks: str = ""


@dataclass(frozen=True, kw_only=True)
class Mark:
    name: str
    feature: str
    at: tuple[float, float]
    remarks: str = ""


def _magnetic(declination_deg: float, year: int) -> Alignment:
    return Alignment(kind=AlignmentKind.MAGNETIC, declination_deg=declination_deg, year=year, source=INVENTED)


def _part(kind: ComponentKind, service_class: ServiceClass | None, confirmed: str, **more) -> Component:
    more = {"status": OPERATING, **more}
    return Component(kind=kind, service_class=service_class, last_confirmed=date.fromisoformat(confirmed), source=INVENTED, **more)


def _both(azimuth: ServiceClass, distance: ServiceClass, confirmed: str) -> tuple[Component, ...]:
    return _part(AZIMUTH, azimuth, confirmed), _part(DISTANCE, distance, confirmed)


NO_ALIGNMENT = Alignment(kind=AlignmentKind.UNKNOWN)
C = ServiceClass

STATIONS = (
    Station(
        ident="MSK",
        name="Marrusk",
        kind=BeaconKind.VOR_DME,
        frequency_khz=113_300,
        at=(43.2483, -36.5958),
        alignment=_magnetic(-11.0, 2025),
        parts=_both(C.VH, C.DH, "2026-04-20"),
        dme_at=(43.2535, -36.6018),
        voice=True,
        remarks="The DME stands 0.4 NM north-west of the VOR.",
    ),
    Station(
        ident="ILV",
        name="Ilvane",
        kind=BeaconKind.VOR_DME,
        frequency_khz=115_700,
        at=(43.7725, -36.5100),
        alignment=_magnetic(-13.0, 2009),
        parts=_both(C.VL, C.DL, "2026-04-20"),
        remarks="In the Ilvane valley, at the foot of the Korvane Range, which hides it from the east.",
    ),
    Station(
        ident="TSY",
        name="Tessary",
        kind=BeaconKind.VORTAC,
        frequency_khz=114_900,
        at=(43.5933, -35.3700),
        alignment=_magnetic(-11.0, 2022),
        parts=_both(C.VH, C.DH, "2026-05-11"),
    ),
    Station(
        ident="ULR",
        name="Ulmare",
        kind=BeaconKind.VOR_DME,
        frequency_khz=116_200,
        at=(44.3300, -34.8008),
        alignment=_magnetic(-11.0, 2020),
        parts=_both(C.VL, C.DL, "2026-03-30"),
    ),
    Station(
        ident="DSU",
        name="Dassule Summit",
        kind=BeaconKind.VORTAC,
        frequency_khz=112_700,
        at=(42.9058, -35.5800),
        alignment=_magnetic(-12.0, 2016),
        parts=_both(C.H, C.H, "2026-05-11"),
        antenna_height_ft=45.0,
        remarks="On the summit itself.",
    ),
    Station(
        ident="ODU",
        name="Ordune",
        kind=BeaconKind.VOR_DME,
        frequency_khz=117_100,
        at=(44.0150, -35.9667),
        alignment=_magnetic(-11.0, 2023),
        parts=_both(C.L, C.L, "2026-05-11"),
    ),
    Station(
        ident="AVR",
        name="Averane",
        kind=BeaconKind.VOR,
        frequency_khz=113_950,
        at=(44.7975, -36.9058),
        alignment=_magnetic(-12.0, 2017),
        parts=(_part(AZIMUTH, C.VL, "2026-02-16"),),
    ),
    Station(
        ident="HLU",
        name="Hallune",
        kind=BeaconKind.VOR_DME,
        frequency_khz=113_450,
        at=(42.8942, -36.1892),
        alignment=_magnetic(-15.0, 1988),
        parts=(
            _part(
                AZIMUTH,
                C.VL,
                "2026-02-16",
                unusable=(
                    UnusableSector(
                        from_radial_deg=330.0, to_radial_deg=30.0, beyond_nm=20.0, below_altitude_ft=6_000.0, source="flight check 2024"
                    ),
                ),
            ),
            _part(
                DISTANCE,
                C.DL,
                "2026-02-16",
                unusable=(
                    UnusableSector(
                        from_radial_deg=340.0, to_radial_deg=20.0, beyond_nm=25.0, below_altitude_ft=5_500.0, source="flight check 2024"
                    ),
                ),
            ),
        ),
        remarks="Never turned since it was built: four degrees off today's variation.",
    ),
    Station(
        ident="QSL",
        name="Quessel",
        kind=BeaconKind.VOR_DME,
        frequency_khz=115_050,
        at=(44.4475, -36.1958),
        alignment=Alignment(kind=AlignmentKind.TRUE, declination_deg=0.0, source=INVENTED),
        parts=_both(C.L, C.L, "2026-05-11"),
        remarks="Survey station, aligned to true north.",
    ),
    Station(
        ident="PEU",
        name="Pellune",
        kind=BeaconKind.VOR_DME,
        frequency_khz=109_400,
        at=(43.5950, -37.4358),
        alignment=Alignment(kind=AlignmentKind.GRID, declination_deg=-1.0, year=2012, source=INVENTED),
        parts=_both(C.VL, C.DL, "2026-03-30"),
        remarks="Aligned to the grid of the survey maps, central meridian 36 W.",
    ),
    Station(
        ident="BSS",
        name="Brissale",
        kind=BeaconKind.VOR,
        frequency_khz=116_200,
        at=(42.6067, -35.1158),
        alignment=NO_ALIGNMENT,
        parts=(_part(AZIMUTH, C.L, "2026-01-19"),),
        remarks="Nobody has published how it is aligned. On the frequency of Ulmare, 104 NM to the north.",
    ),
    Station(
        ident="ZRV",
        name="Zorvane",
        kind=BeaconKind.VOR_DME,
        frequency_khz=116_750,
        at=(42.9950, -35.3058),
        alignment=_magnetic(-11.0, 2021),
        parts=tuple(
            _part(
                kind,
                service_class,
                "2026-06-01",
                outages=(Outage(first_day=date(2026, 7, 6), last_day=date(2026, 7, 19), reason="antenna work"),),
            )
            for kind, service_class in ((AZIMUTH, C.VL), (DISTANCE, C.DL))
        ),
    ),
    Station(
        ident="FNE",
        name="Farrane",
        kind=BeaconKind.VOR,
        frequency_khz=111_200,
        at=(43.9200, -36.8842),
        alignment=_magnetic(-13.0, 2008),
        parts=(_part(AZIMUTH, C.L, "2026-01-19", status=WITHDRAWN),),
        remarks="Switched off for good in January 2026.",
    ),
    Station(
        ident="YLM",
        name="Yelmar",
        kind=BeaconKind.VOR_DME,
        frequency_khz=114_250,
        at=(44.5358, -36.3458),
        alignment=_magnetic(-11.0, 2024),
        parts=(_part(AZIMUTH, C.L, "2026-04-20", status=WITHDRAWN), _part(DISTANCE, C.DL, "2026-04-20")),
        remarks="The azimuth was withdrawn, the DME was kept.",
    ),
    Station(
        ident="VSU",
        name="Port Vessune",
        kind=BeaconKind.VOR_DME,
        frequency_khz=108_600,
        at=(43.3358, -35.5175),
        alignment=_magnetic(-11.0, 2025),
        parts=_both(C.T, C.T, "2026-06-01"),
        voice=True,
    ),
    Station(
        ident="PLR",
        name="Pelmora",
        kind=BeaconKind.VOR,
        frequency_khz=111_800,
        at=(42.4608, -35.5183),
        alignment=_magnetic(-11.0, 2019),
        parts=(_part(AZIMUTH, None, "2026-01-19"),),
        remarks="No service class has been published.",
    ),
    Station(
        ident="TLI",
        name="Tellimar",
        kind=BeaconKind.VOR_DME,
        frequency_khz=117_550,
        at=(44.3442, -36.9675),
        alignment=_magnetic(-12.0, 2015),
        parts=tuple(
            _part(
                kind,
                None,
                "2026-02-16",
                coverage=(
                    CoverageSector(
                        from_radial_deg=300.0, to_radial_deg=120.0, range_nm=60.0, lowest_altitude_ft=2_000.0, highest_altitude_ft=20_000.0
                    ),
                    CoverageSector(
                        from_radial_deg=120.0, to_radial_deg=300.0, range_nm=40.0, lowest_altitude_ft=3_500.0, highest_altitude_ft=20_000.0
                    ),
                ),
            )
            for kind in (AZIMUTH, DISTANCE)
        ),
        elevation_published=False,
        remarks="Coverage by sectors in place of a class. No elevation has been published.",
    ),
    Station(
        ident="KST",
        name="Kestrane",
        kind=BeaconKind.TACAN,
        frequency_khz=112_100,
        at=(43.7508, -35.5125),
        alignment=_magnetic(-11.0, 2022),
        parts=_both(C.H, C.DH, "2026-05-11"),
    ),
    Station(
        ident="GVS",
        name="Gorvise",
        kind=BeaconKind.DME,
        frequency_khz=109_800,
        at=(43.7267, -36.6583),
        alignment=NO_ALIGNMENT,
        parts=(_part(DISTANCE, C.L, "2026-04-20"),),
    ),
    Station(
        ident="MSK",
        name="Marrusk",
        kind=BeaconKind.NDB,
        frequency_khz=355,
        at=(43.3870, -36.5400),
        alignment=NO_ALIGNMENT,
        parts=(_part(BEARING, C.MH, "2026-04-20", power_w=50.0),),
        remarks="Same ident as the VOR/DME of Marrusk, 7 NM to the south.",
    ),
    Station(
        ident="VN",
        name="Port Vessune Locator",
        kind=BeaconKind.NDB,
        frequency_khz=402,
        at=(43.3600, -35.5900),
        alignment=NO_ALIGNMENT,
        parts=(_part(BEARING, C.LOCATOR, "2026-06-01", power_w=25.0),),
    ),
    Station(
        ident="SRY",
        name="Sennary",
        kind=BeaconKind.NDB_DME,
        frequency_khz=338,
        at=(44.1000, -34.6700),
        alignment=NO_ALIGNMENT,
        parts=(_part(BEARING, C.MH, "2026-03-30", power_w=50.0), _part(DISTANCE, C.L, "2026-03-30")),
        channel="39X",
    ),
    Station(
        ident="ZLI",
        name="Great Zelissa",
        kind=BeaconKind.NDB,
        frequency_khz=372,
        at=(42.2460, -37.7700),
        alignment=NO_ALIGNMENT,
        parts=(_part(BEARING, C.NDB_H, "2026-01-19", power_w=400.0),),
        remarks="All that serves the Zelissa Group.",
    ),
    Station(
        ident="SND",
        name="Sandrule",
        kind=BeaconKind.NDB,
        frequency_khz=266,
        at=(42.9100, -35.0450),
        alignment=NO_ALIGNMENT,
        parts=(_part(BEARING, C.HH, "2026-01-19", power_w=2_000.0),),
    ),
)

FIELDS = (
    Field(ident="QMAR", name="Marrusk", at=(43.3950, -36.5533), runways="07/25 1450 m (asphalt)"),
    Field(ident="QPVE", name="Port Vessune", at=(43.3217, -35.5467), runways="06/24 2100 m (asphalt); 13/31 1100 m (asphalt)"),
    Field(ident="QORD", name="Ordune Table", at=(44.0650, -35.9333), runways="10/28 1700 m (asphalt)", remarks="Mind density altitude."),
    Field(ident="QTES", name="Tessary", at=(43.5117, -35.4367), runways="03/21 1200 m (asphalt)"),
    Field(ident="QULM", name="Ulmare", at=(44.3450, -34.5133), runways="08/26 820 m (grass)"),
    Field(ident="QSEN", name="Sennary", at=(44.0883, -34.6858), runways="05/23 1250 m (asphalt)"),
    Field(ident="QPEL", name="Pellune", at=(43.6450, -37.3783), runways="09/27 1050 m (asphalt)"),
    Field(ident="QDOV", name="Dovane", at=(43.4150, -37.6383), runways="02/20 640 m (grass)"),
    Field(ident="QZEL", name="Great Zelissa", at=(42.2483, -37.7608), runways="11/29 760 m (gravel)"),
    Field(ident="QZES", name="Little Zelissa", at=(42.1383, -37.6108), runways="14/32 520 m (grass)"),
    Field(ident="QAVE", name="Averane", at=(44.8017, -36.9567), runways="07/25 900 m (asphalt)"),
    Field(ident="QTEL", name="Tellimar", at=(44.3250, -36.9333), runways="12/30 1100 m (asphalt)"),
    Field(ident="QFAR", name="Farrane", at=(43.8800, -36.8333), runways="04/22 700 m (grass)"),
    Field(ident="QILV", name="Ilvane", at=(43.7650, -36.5542), runways="08/26 610 m (grass)", remarks="Land 08, take off 26."),
    Field(ident="QGOR", name="Gorvise", at=(43.7000, -36.6883), runways="15/33 800 m (grass)"),
    Field(ident="QHAL", name="Hallune", at=(42.8600, -36.1133), runways="09/27 1250 m (asphalt)"),
    Field(ident="QBEL", name="Belvune", at=(42.7333, -35.9408), runways="10/28 690 m (grass)"),
    Field(ident="QPMO", name="Pelmora", at=(42.4800, -35.5583), runways="06/24 900 m (asphalt)"),
    Field(ident="QBRI", name="Brissale", at=(42.6150, -35.0583), runways="01/19 850 m (asphalt)"),
    Field(ident="QDAS", name="Dassule Valley", at=(42.8050, -35.8483), runways="13/31 580 m (grass)"),
    Field(ident="QZOR", name="Zorvane", at=(43.0200, -35.3583), runways="08/26 1000 m (asphalt)"),
    Field(ident="QYEL", name="Yelmar", at=(44.5750, -36.3533), runways="11/29 950 m (asphalt)"),
    Field(ident="QQUE", name="Quessel", at=(44.4150, -36.2133), runways="09/27 740 m (grass)"),
    Field(ident="QKES", name="Kestrane", at=(43.7700, -35.4783), runways="05/23 2400 m (concrete)", remarks="Prior permission needed."),
    Field(ident="QMEN", name="Mennary", at=(43.4200, -35.7983), runways="17/35 620 m (grass)"),
    Field(ident="QOSS", name="Ossule", at=(43.0300, -36.6583), runways="12/30 780 m (grass)"),
    Field(ident="QRAV", name="Ravune", at=(44.3500, -35.7533), runways="10/28 880 m (asphalt)"),
    Field(ident="QSAN", name="Sandrule", at=(42.9050, -35.0583), runways="03/21 660 m (grass)"),
    Field(ident="QTHO", name="Thorvale", at=(44.6700, -37.0183), runways="06/24 720 m (grass)"),
    Field(ident="QPLS", name="Ordune South", at=(43.8900, -35.8733), runways="16/34 900 m (gravel)"),
    Field(ident="QCAL", name="Calvane", at=(43.2550, -35.4833), runways="18/36 500 m (grass)", closed=True, remarks="Ploughed up in 2019."),
)  # fmt: skip

MARKS = (
    Mark(name="Ilvane Pass", feature="pass", at=(43.6458, -36.1400)),
    Mark(name="Marrune Pass", feature="pass", at=(43.4475, -36.1133), remarks="The lowest way through the Korvane Range."),
    Mark(name="Korvane Pass", feature="pass", at=(44.2500, -36.4525)),
    Mark(name="Dassule Pass", feature="pass", at=(42.9750, -35.6825)),
    Mark(name="Averune Pass", feature="pass", at=(44.6300, -36.7083)),
    Mark(name="Korvane Peak", feature="summit", at=(44.1192, -36.5233), remarks="The highest of the isles."),
    Mark(name="Talvane Peak", feature="summit", at=(43.7808, -36.2550)),
    Mark(name="Pellune Peak", feature="summit", at=(43.4333, -37.5083)),
    Mark(name="Lake Mennary", feature="lake", at=(43.3950, -35.7450)),
    Mark(name="Lake Ordune", feature="lake", at=(43.9200, -35.8720)),
    Mark(name="Lake Quessary", feature="lake", at=(44.3350, -36.3330)),
    Mark(name="Lake Belvary", feature="lake", at=(42.9217, -35.9500)),
    Mark(name="Lake Tellary", feature="lake", at=(44.2142, -36.8842)),
    Mark(name="Kelvane Tarn", feature="lake", at=(43.8670, -36.6220)),
    Mark(name="Sorvane Reservoir", feature="reservoir", at=(43.6750, -36.0242)),
    Mark(name="Sorvane Dam", feature="dam", at=(43.6665, -36.0195)),
    Mark(name="Cape Averane", feature="headland", at=(44.8850, -36.9383)),
    Mark(name="Cape Tessary", feature="headland", at=(43.5767, -35.2225)),
    Mark(name="Cape Sandrule", feature="headland", at=(42.7200, -34.9115)),
    Mark(name="Cape Pelmora", feature="headland", at=(42.3325, -35.5467)),
    Mark(name="Cape Ossule", feature="headland", at=(43.3358, -36.8742)),
    Mark(name="Cape Tellimar", feature="headland", at=(44.4933, -37.3260)),
    Mark(name="Brissale Light", feature="lighthouse", at=(42.3075, -35.1408)),
    Mark(name="Ulmare Light", feature="lighthouse", at=(44.2392, -34.3480)),
    Mark(name="Sennary Light", feature="lighthouse", at=(44.0325, -34.7383)),
    Mark(name="Dovane Light", feature="lighthouse", at=(43.5292, -37.7210)),
    Mark(name="Pellune Light", feature="lighthouse", at=(43.5433, -37.1632)),
    Mark(name="Zelissa Light", feature="lighthouse", at=(42.2200, -37.9035)),
    Mark(name="Ravune Light", feature="lighthouse", at=(44.4317, -35.8417)),
    Mark(name="Skarre", feature="island", at=(42.4000, -37.6117), remarks="The northernmost of the Zelissa Group. Nobody lives there."),
    Mark(name="Vellane", feature="village", at=(43.4533, -36.4258)),
    Mark(name="Tarrune", feature="village", at=(44.1583, -37.0358)),
    Mark(name="Harrune", feature="village", at=(43.5483, -35.8858)),
    Mark(name="Dunmare", feature="village", at=(43.8233, -35.5758)),
    Mark(name="Orvane", feature="village", at=(43.0183, -36.1158)),
    Mark(name="Brissale", feature="town", at=(42.7083, -34.9858)),
    Mark(name="Pellary", feature="town", at=(43.6433, -37.2358)),
    Mark(name="Ilvane Bridge", feature="bridge", at=(43.7875, -36.5642)),
    Mark(name="Marrusk Bridge", feature="bridge", at=(43.3833, -36.4775)),
    Mark(name="Zorvane Bridge", feature="bridge", at=(43.0683, -35.4175)),
    Mark(name="Dassule Viaduct", feature="viaduct", at=(42.8742, -35.7642)),
    Mark(name="Calvane Quarry", feature="quarry", at=(43.3200, -35.7142)),
    Mark(name="Yelmar Quarry", feature="quarry", at=(44.4700, -36.5225)),
    Mark(name="Korvane Mine", feature="mine", at=(43.9758, -36.6167)),
    Mark(name="Ordune Falls", feature="waterfall", at=(44.1367, -35.8125)),
    Mark(name="Ossule Chapel", feature="chapel", at=(43.2250, -36.6858)),
)
