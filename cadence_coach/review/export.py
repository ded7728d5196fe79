"""An outing for other programs: flights and cycles as CSV, the track as GPX 1.1."""

from __future__ import annotations

import math
from datetime import timedelta
from xml.etree import ElementTree

import numpy as np

from cadence_coach import __version__
from cadence_coach.errors import CouldNot
from cadence_coach.review.figures import Looked
from cadence_coach.review.tables import FLIGHT_COLUMNS, csv_text
from cadence_coach.store.dates import stamp, when

GPX = "http://www.topografix.com/GPX/1/1"
SCHEMA = "http://www.w3.org/2001/XMLSchema-instance"
CYCLE_COLUMNS = (
    "flight", "onset_s", "peak_s", "push_end_s", "low_s", "next_onset_s", "peak_g", "lowest_g", "size_g", "travel_m",
)  # fmt: skip
BREAK_S = 10.0
"""A pause between fixes that starts a new segment."""


def flights_csv(looked: Looked) -> str:
    rows = [{name: getattr(f, name) for name in FLIGHT_COLUMNS} for f in looked.figures.flights]
    return csv_text(rows, FLIGHT_COLUMNS)


def cycles_csv(looked: Looked) -> str:
    """Every bounce found; `flight` is empty where it is no pump of one, `next_onset_s` where none followed."""
    spans = [
        (begun.first_cycle, done)
        for begun, done in zip(looked.outing.flight_starts, looked.outing.flights, strict=False)
    ]
    rows = []
    for c in looked.outing.cycles:
        of = next((f for first, f in spans if first <= c.number <= f.last_cycle and c.number not in f.skipped), None)
        values = (
            of.flight if of else None,
            c.onset,
            c.peak,
            c.push_end,
            c.low,
            c.time if c.whole else None,
            c.peak_g,
            c.lowest_g,
            c.size_g,
            c.travel_m,
        )
        rows.append(dict(zip(CYCLE_COLUMNS, values, strict=True)))
    return csv_text(rows, CYCLE_COLUMNS)


def gpx(looked: Looked) -> str:
    """GPX 1.1: one track, a segment for each stretch without a pause, a waypoint where each flight began. Raises
    CouldNot where the outing knows no place."""
    track = looked.track
    known = np.flatnonzero(np.isfinite(track.lat) & np.isfinite(track.lon))
    if not len(known):
        raise CouldNot("this outing knows no place: there is no track to write; CSV, JSON and text need none")
    ElementTree.register_namespace("", GPX)
    root = ElementTree.Element(f"{{{GPX}}}gpx", {"version": "1.1", "creator": f"cadence coach {__version__}"})
    root.set(f"{{{SCHEMA}}}schemaLocation", f"{GPX} {GPX}/gpx.xsd")
    start = when(looked.outing.start_utc)
    meta = _under(root, "metadata")
    _under(meta, "name", "Outing" + (f" of {looked.outing.start_utc}" if start else ""))
    if start:
        _under(meta, "time", stamp(start))
    for f in looked.figures.flights:  # the schema wants waypoints before tracks
        place = track.place(f.start_s)
        if place:
            point = _under(root, "wpt", None, lat=f"{place[0]:.7f}", lon=f"{place[1]:.7f}")
            if start:
                _under(point, "time", stamp(start + timedelta(seconds=f.start_s)))
            _under(point, "name", f"flight {f.flight + 1}")
            _under(point, "desc", f"{f.aloft_s:.1f} s, {f.pumps} pumps")
    way = _under(root, "trk")
    _under(way, "name", "way over ground")
    segment, before = None, math.inf
    for i in known:
        if segment is None or track.t[i] - before > BREAK_S:
            segment = _under(way, "trkseg")
        point = _under(segment, "trkpt", None, lat=f"{track.lat[i]:.7f}", lon=f"{track.lon[i]:.7f}")
        if start:
            _under(point, "time", stamp(start + timedelta(seconds=float(track.t[i]))))
        before = float(track.t[i])
    ElementTree.indent(root, " ")
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ElementTree.tostring(root, encoding="unicode") + "\n"


def _under(parent: ElementTree.Element, tag: str, text: str | None = None, **attributes: str) -> ElementTree.Element:
    child = ElementTree.SubElement(parent, f"{{{GPX}}}{tag}", attributes)
    child.text = text
    return child
