"""What a part of a station and a published service class mean, in one line each, for those who did not learn the letters."""

from __future__ import annotations

from server.radio import ComponentKind, ServiceClass

PART_WORDS = {
    ComponentKind.AZIMUTH: "the bearing a VOR or TACAN gives: which radial you are on",
    ComponentKind.DISTANCE: "the DME: how far away the station is, along the slant",
    ComponentKind.BEARING: "the NDB: its signal turns a needle toward the station",
}

# FAA Aeronautical Information Manual 1-1-8, TBL 1-1-1 and 1-1-2. Heights are counted from the station.
CLASS_WORDS = {
    ServiceClass.T: "terminal: 25 NM, from 1,000 to 12,000 ft above the station",
    ServiceClass.L: "low: 40 NM, from 1,000 to 18,000 ft above the station",
    ServiceClass.H: "high: 40 NM from 1,000 ft above the station, 100 from 14,500, 130 from 18,000 to 45,000, then 100 up to 60,000",
    ServiceClass.VL: "VOR low: 40 NM from 1,000 ft above the station, 70 from 5,000 to 18,000",
    ServiceClass.VH: (
        "VOR high: 40 NM from 1,000 ft above the station, 70 from 5,000, 100 from 14,500, 130 from 18,000 to 45,000, then 100 up to 60,000"
    ),
    ServiceClass.DL: "DME low: grows with height to 130 NM at 12,900 ft above the station, and so on up to 18,000",
    ServiceClass.DH: "DME high: grows with height to 130 NM at 12,900 ft above the station, so on up to 45,000, then 100 up to 60,000",
    ServiceClass.LOCATOR: "NDB locator: 15 NM at all heights",
    ServiceClass.MH: "NDB medium: 25 NM at all heights",
    ServiceClass.NDB_H: "NDB high: 50 NM at all heights",
    ServiceClass.HH: "NDB very high: 75 NM at all heights",
}


def class_words(service_class: ServiceClass | None) -> str:
    """Say what a class promises; nothing for none."""
    return "" if service_class is None else CLASS_WORDS[service_class]


def part_words(part: ComponentKind) -> str:
    """Say what a part of a station is for."""
    return PART_WORDS[part]
