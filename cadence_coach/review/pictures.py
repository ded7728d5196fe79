"""The pictures of a report, each from what `figures.look` found. What cannot be drawn is None, and the page says
why."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from cadence_coach.review.draw import Picture
from cadence_coach.review.figures import Looked
from cadence_coach.review.say import minutes
from cadence_coach.review.waveform import Waveform, mean_waveform
from cadence_coach.review.words import Words

PARTS = ("catch", "shove", "ease", "gather")
MOST_POINTS = 500
"""Points of one line: more than any screen has across a picture."""


def timeline(looked: Looked, w: Words, width: float = 360.0) -> str | None:
    """Every try over the time of the outing, as high as it was long; flights that do not count are hollow-looking."""
    figures, outing = looked.figures, looked.outing
    if not outing.attempts and not figures.flights:
        return None
    start = float(outing.accel[0, 0]) if len(outing.accel) else 0.0
    end = max([start + figures.duration_s, *(f.end_s for f in figures.flights), *(a.time for a in outing.attempts)])
    top = max([f.aloft_s for f in figures.flights], default=0.0)
    p = Picture((start, end), (0.0, 1.18 * max(top, 10.0)), w("picture_timeline"), width=width, height=180.0, top=28.0)
    p.number_axes(w("axis_clock"), w("axis_seconds_aloft"), clock=True)
    least = 3.0 * (end - start) / width
    for gap in outing.gaps:
        p.box(gap.time, max(gap.end, gap.time + least), 0.0, p.y[1], "line", title=w("row_gap"), faint=True)
    for one in figures.sets[1:]:
        if one.rest_before_s:
            p.text(
                one.start_s - one.rest_before_s / 2.0,
                None,
                w("mark_rest", n=minutes(one.rest_before_s)),
                kind="muted",
                anchor="middle",
                y_px=25.0,
            )
    for a in outing.attempts:
        if a.flight is None:
            p.dots([a.start], [0.0], "muted", radius=2.5)
    for f in figures.flights:
        told = w("title_flight", n=f.flight + 1, seconds=f.aloft_s, pumps=f.pumps)
        p.box(
            f.start_s,
            max(f.end_s, f.start_s + least),
            0.0,
            f.aloft_s,
            "rider" if f.on_own else "limit",
            title=told,
            faint=not f.on_own,
        )
    if figures.best is not None:
        best = figures.flights[figures.best]
        middle = (best.start_s + max(best.end_s, best.start_s + least)) / 2
        p.text(middle, best.aloft_s, w.span(best.own_s), anchor="middle", dy=-4)
    if figures.legs_went_s is not None:
        late = figures.legs_went_s > (start + end) / 2
        p.rule(x=figures.legs_went_s, kind="target")
        p.text(
            figures.legs_went_s,
            0.42 * p.y[1],
            w("mark_legs"),
            kind="target",
            anchor="end" if late else "start",
            dx=-4 if late else 4,
        )
    for i, note in enumerate(n for n in outing.notes if n.at_s is not None):
        p.mark(float(note.at_s or 0.0), "cue", title=note.text).text(
            float(note.at_s or 0.0), None, chr(97 + i % 26), kind="cue", anchor="middle", y_px=24.0
        )
    return p.svg()


def cadence(looked: Looked, flight: int, w: Words) -> str | None:
    """Each pump and the running mean of five against the band; cues as numbered marks."""
    pumps = looked.pumps[flight]
    if len(pumps) < 3:
        return None
    f = looked.figures.flights[flight]
    x = pumps.end - f.start_s
    each, running = 60.0 * pumps.cadence, 60.0 * pumps.running_cadence
    values = [*np.percentile(each, [2, 98]), running.min(), running.max()]
    if np.isfinite(pumps.lo).any():
        values += [60.0 * float(np.nanmin(pumps.lo)), 60.0 * float(np.nanmax(pumps.hi))]
    cues = [c for c in looked.figures.cues if c.flight == flight]
    span = (0.0, float(x[-1]))
    p = Picture(span, _room(min(values), max(values), 10.0), w("picture_cadence"), top=36.0 if cues else 20.0)
    p.area(x, 60.0 * pumps.lo, 60.0 * pumps.hi, "band")
    p.number_axes("s", w("axis_a_minute"))
    p.line(x, 60.0 * pumps.target, "target", dashed=True, thin=True)
    keep = _keep(len(x))
    p.dots(x[keep], np.clip(each, *p.y)[keep], "rider", radius=1.6).line(x[keep], running[keep], "rider")
    for i, cue in enumerate(cues):
        p.mark(cue.time_s - f.start_s, "cue", text=str(i + 1), title=w.cue(cue.kind))
    return p.svg()


def size(looked: Looked, flight: int, w: Words) -> str | None:
    """Size of each pump as % of body weight, beside what level flight needs at its cadence."""
    pumps = looked.pumps[flight]
    if len(pumps) < 3:
        return None
    x = pumps.end - looked.figures.flights[flight].start_s
    own, needed, top = pumps.sizes_percent
    p = Picture((0.0, float(x[-1])), (0.0, 1.15 * top), w("picture_size"))
    p.number_axes("s", w("axis_size"))
    keep = _keep(len(x))
    p.line(x, needed, "target", dashed=True)
    own = np.clip(own, *p.y)
    p.dots(x[keep], own[keep], "rider", radius=1.6).line(x[keep], _running_median(own)[keep], "rider")
    if np.isfinite(needed).any():
        p.key(w("mark_needed"), "target")
    return p.svg()


def waveform(looked: Looked, flight: int, w: Words) -> str | None:
    """The mean pump with its spread and the four parts."""
    wave = mean_waveform(looked.outing, looked.pumps[flight])
    return _draw_wave(wave, w) if wave else None


def _draw_wave(wave: Waveform, w: Words) -> str:
    low, high = float(wave.low_g.min()), float(wave.high_g.max())
    edges = np.array([0.0, *wave.marks, 1.0]) * wave.period_s
    names = [w(f"part_{name}_short") for name in PARTS]
    shares = [f"{100 * (b - a) / wave.period_s:.0f} %" for a, b in pairwise(edges)]
    across, comma = (0.0, wave.period_s), w.lang == "de"

    def drawn(rows: int) -> Picture:
        """With room for so many rows of words over the four parts."""
        span = (min(0.0, low) - 0.32 - NAME_ROW_G * (rows - 1), 1.08 * max(high, 1.5))
        return Picture(across, span, w("picture_wave", n=wave.pumps), comma=comma)

    places = part_rows(names, [float(drawn(1).px(e)) for e in edges])
    p = drawn(1 + max(places))
    x = wave.phase * wave.period_s
    p.number_axes("s", w("axis_wave", n=wave.pumps), digits=1)
    floor = p.y[0]
    p.area(x, wave.low_g, wave.high_g, "rider", faint=True)
    p.rule(y=1.0)
    for mark in wave.marks:
        p.rule(x=mark * wave.period_s)
    p.line(x, wave.mean_g, "rider")
    for name, said, row, part, a, b in zip(PARTS, names, places, shares, edges, edges[1:], strict=False):
        middle, over = (a + b) / 2, p.py(floor + 0.32) - 3
        p.box(a, b, floor, floor + 0.26, name)
        kind, y_px = ("onpart", p.py(floor + 0.08)) if row == 0 else ("ink", over - ROW_PX * row)
        p.text(middle, None, said, kind=kind, anchor="middle", y_px=y_px)
        p.text(middle, None, part, kind="muted", anchor="middle", y_px=over)
    return p.svg()


LETTER_PX = 7.2
"""Width of a letter of the pictures' 12 px, on the wide side: a page has the fonts of its reader."""
ROW_PX, NAME_ROW_G = 14.0, 0.2
"""Height of a row of words, and the g that it takes below the curve."""


def part_rows(names: Sequence[str], edges: Sequence[float]) -> list[int]:
    """Where the names of the four parts stand, with their edges in px: 0 in the part itself; one that is wider than its
    part in the first row above the shares in which it covers no other name."""
    rows: list[int] = []
    ends: list[float] = []
    for name, a, b in zip(names, edges, edges[1:], strict=False):
        half, middle = LETTER_PX * len(name) / 2.0, (a + b) / 2.0
        row = 0
        if 2.0 * half > b - a:
            row = next((i for i, end in enumerate(ends, 1) if end <= middle - half), len(ends) + 1)
            ends[row - 1 : row] = [middle + half]
        rows.append(row)
    return rows


def share(looked: Looked, flight: int, w: Words) -> str | None:
    """Push share against cadence, one dot a pump; early pumps hollow, so that a drift shows as a direction."""
    pumps = looked.pumps[flight]
    if len(pumps) < 5:
        return None
    x, y = 60.0 * pumps.cadence, 100.0 * pumps.push_share
    edges = np.percentile(x, [1, 99]), np.percentile(y, [1, 99])
    p = Picture(_room(*edges[0], 8.0), _room(*edges[1], 6.0), w("picture_share"))
    band = looked.table.at(looked.figures.flights[flight].speed_m_s) if looked.table else None
    if band and band.share_lo is not None and band.share_hi is not None:
        lo, hi = np.clip([100.0 * band.share_lo, 100.0 * band.share_hi], *p.y)
        p.box(p.x[0], p.x[1], lo, hi, "band")
    p.number_axes(w("axis_a_minute"), w("axis_share"))
    x, y = np.clip(x, *p.x), np.clip(y, *p.y)  # what lies outside sits on the edge
    keep = _keep(len(x))
    half = len(x) // 2
    p.dots(x[keep[keep < half]], y[keep[keep < half]], "rider", hollow=True)
    p.dots(x[keep[keep >= half]], y[keep[keep >= half]], "rider")
    return p.svg()


def speed(looked: Looked, flight: int, w: Words) -> str | None:
    f = looked.figures.flights[flight]
    t, v = looked.track.within(f.start_s - 3.0, f.end_s + 3.0)
    if len(t) < 5:
        return None
    p = Picture(
        (-3.0, f.end_s - f.start_s + 3.0), (0.0, 1.15 * float(v.max())), w("picture_speed"), comma=w.lang == "de"
    )
    p.number_axes("s", w("axis_speed"))
    p.rule(x=0.0).rule(x=f.pumping_s).line(t - f.start_s, v, "speed").dots(t - f.start_s, v, "speed", radius=1.6)
    return p.svg()


def way(looked: Looked, w: Words) -> str | None:
    """The way over ground in metres from the first place, north up, flights thick. No map and no co-ordinates."""
    track = looked.track
    known = np.isfinite(track.lat) & np.isfinite(track.lon)
    if known.sum() < 5:
        return None
    lat, lon, t = track.lat[known], track.lon[known], track.t[known]
    north = np.radians(lat - lat[0]) * 6_371_008.8
    east = np.radians(lon - lon[0]) * 6_371_008.8 * np.cos(np.radians(lat[0]))
    half = 0.55 * max(float(np.ptp(north)), float(np.ptp(east)), 20.0)
    x0, y0 = (float(east.min() + east.max()) / 2, float(north.min() + north.max()) / 2)
    p = Picture((x0 - half, x0 + half), (y0 - half, y0 + half), w("picture_way"), height=336.0)
    p.number_axes(w("axis_east"), w("axis_north"), about=4)
    broken = np.flatnonzero(np.diff(t) > 10.0)
    east, north = np.insert(east, broken + 1, np.nan), np.insert(north, broken + 1, np.nan)
    times = np.insert(t, broken + 1, np.nan)
    p.line(east, north, "muted", thin=True)
    for f in looked.figures.flights:
        inside = (times >= f.start_s) & (times <= f.end_s)
        p.line(east[inside], north[inside], "rider" if f.on_own else "limit")
    p.dots([0.0], [0.0], "target", radius=4.0).text(0.0, 0.0, w("mark_start"), kind="target", dx=7, dy=4)
    return p.svg()


def _room(lo: float, hi: float, least: float) -> tuple[float, float]:
    """A range with some air around, at least 2 `least` wide."""
    middle, half = (lo + hi) / 2.0, max((hi - lo) * 0.56, least)
    return middle - half, middle + half


def _keep(n: int) -> np.ndarray:
    return np.unique(np.linspace(0, n - 1, min(n, MOST_POINTS)).astype(int))


def _running_median(values: np.ndarray, width: int = 5) -> np.ndarray:
    half = width // 2
    padded = np.pad(values, half, mode="edge")
    return np.median(np.lib.stride_tricks.sliding_window_view(padded, width), axis=1)
