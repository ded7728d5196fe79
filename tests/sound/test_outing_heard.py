"""A simulated outing through the real engine, and what is heard of it."""

from __future__ import annotations

import numpy as np
import pytest

from cadence_coach.core import events as ev
from cadence_coach.core.engine import Engine
from cadence_coach.core.settings import Settings
from cadence_coach.foil.band import band_table
from cadence_coach.foil.profile import demo_profile
from cadence_coach.sound import cues, speech
from cadence_coach.sound.mixer import limited
from cadence_coach.sound.track import FILE_VOLUME_DB, write_wav
from cadence_coach.sources import open_source
from tests.sound.hearing import render_events

RATE = 48000


@pytest.fixture(scope="module")
def outing() -> tuple[list[ev.Event], float]:
    source, engine = open_source("sim:calm:8"), Engine(Settings(), band_table(demo_profile().setup))
    events: list[ev.Event] = []
    for rows in source:
        engine.receive(rows)
        events += engine.events()
    engine.end()
    return events + engine.events(), max(e.known for e in events) + 8


@pytest.fixture(scope="module")
def track(outing) -> np.ndarray:
    return render_events(*outing, RATE)


def test_every_click_is_on_its_frame(outing, track):
    clicks = [e for e in outing[0] if isinstance(e, ev.Click)]
    assert len(clicks) > 30
    words = [(e.known, e.known + 8) for e in outing[0] if isinstance(e, ev.Cue | ev.Summary)]
    alone = 0
    for click in clicks:
        if any(a <= click.time <= b for a, b in words):
            continue
        alone += 1
        frame = round(click.time * RATE)
        wanted = cues.pcm(click.sound, RATE) * np.float32(10 ** ((FILE_VOLUME_DB + 20 * np.log10(click.level)) / 20))
        wanted = limited(wanted)
        assert track[frame : frame + len(wanted)] == pytest.approx(wanted, abs=1e-6)
    assert alone > 20


def test_every_summary_is_heard_and_nothing_else_is(outing, track):
    events = outing[0]
    sounding = np.zeros(len(track), bool)
    for event in events:
        if isinstance(event, ev.Click):
            first, length = event.time, len(cues.pcm(event.sound, RATE)) / RATE
        elif isinstance(event, ev.Cue | ev.Summary):
            first, length = event.known, 8.0
        else:
            continue
        sounding[round(first * RATE) : round((first + length) * RATE) + 1] = True
    assert not track[~sounding].any()
    for event in events:
        if isinstance(event, ev.Summary) and event.spoken:
            words = speech.pcm(event.spoken, "en", RATE)
            heard = track[round(event.known * RATE) : round((event.known + 8) * RATE)]
            assert np.mean(np.square(heard)) * len(heard) > 0.15 * float(np.sum(np.square(words)))  # at -6 dB: 0.25
    assert np.max(np.abs(track)) < 1


def test_the_detector_can_be_listened_to(outing, tmp_path):
    events, seconds = outing
    plain = render_events(events, seconds, 16000)
    listened = render_events(events, seconds, 16000, click_every_onset=True)
    added = np.abs(listened - plain) > 1e-4
    onsets = [e.time for e in events if isinstance(e, ev.Onset)]
    # starts of what was added: quiet for 20 ms before
    starts = [i for i in np.flatnonzero(added) if not added[max(0, i - 320) : i].any()]
    assert abs(len(starts) - len(onsets)) <= 0.02 * len(onsets)
    assert max(min(abs(s / 16000 - o) for o in onsets) for s in starts) < 0.031
    assert write_wav(tmp_path / "a.wav", events, 5, 16000, click_every_onset=True) == 5 * 16000
