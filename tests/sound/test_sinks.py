"""Sinks that need no device: the file, the silent one, and how a sink is asked for."""

from __future__ import annotations

import time

import numpy as np
import pytest

from cadence_coach.errors import CouldNot, Refused
from cadence_coach.sound.mixer import Mixer
from cadence_coach.sound.pcm import read_wav, to_int16
from cadence_coach.sound.sinks import AHEAD_S, SilentSink, WavSink, open_sink

RATE = 48000


def test_the_wav_sink_writes_what_the_mixer_holds_frame_for_frame(tmp_path):
    now = [50.0]
    sink = WavSink(str(tmp_path / "live.wav"), RATE, clock=lambda: now[0])
    mixer, same = Mixer(RATE, 0.0), Mixer(RATE, 0.0)
    sink.start(mixer)
    first = sink.soonest() + RATE // 2
    for k in range(4):
        frame = first + k * 5000
        assert mixer.place("click", frame) is not None
        same.place("click", frame)
    until = time.monotonic() + 30
    while mixer.frontier < first + 20_000 and time.monotonic() < until:
        now[0] += 0.05
        time.sleep(0.05)
    sink.close()
    sound, rate = read_wav(tmp_path / "live.wav")
    assert rate == RATE and len(sound) >= first + 20_000
    written = to_int16(same.render(0, len(sound))).astype(np.float32) / np.float32(32768)
    assert np.array_equal(sound, written)
    assert sink.trouble() == {"late": 0, "too_many": 0}
    sink.close()  # twice is no harm


def test_the_silent_sink_counts_the_same_frames_by_the_monotonic_clock():
    sink = SilentSink(RATE)
    earliest = time.monotonic()
    sink.start(Mixer(RATE))
    latest = time.monotonic()
    before = time.monotonic()
    now = sink.frame_now()
    assert (before - latest) * RATE - 1 <= now <= (time.monotonic() - earliest) * RATE + 1
    assert (10 - (latest - earliest)) * RATE - 1 <= sink.frame_at(earliest + 10) <= 10 * RATE + 1
    sink.close()


def test_what_is_placed_at_the_soonest_is_never_late_and_forgotten_once_it_is_over():
    now = [50.0]  # stands while sounds are placed
    sink, mixer = SilentSink(RATE, clock=lambda: now[0]), Mixer(RATE)
    sink.start(mixer)
    assert sink.soonest() == pytest.approx(AHEAD_S * RATE)
    missed = sum(mixer.place("click", sink.soonest()) is None for _ in range(6))
    assert missed == 0 and len(mixer._placed) == 6
    for _ in range(40):
        if not mixer._placed:
            break
        now[0] += 0.05
        sink.soonest()
    assert not mixer._placed and now[0] < 50.5  # a click is over, and not a second later
    assert mixer.place("click", 0) is None and sink.trouble()["late"] == 1
    sink.close()


@pytest.mark.parametrize("ask", ["soonest", "trouble", "close"])
def test_the_silent_sink_forgets_what_is_over_when_it_is_asked(ask):
    now = [0.0]
    sink, mixer = SilentSink(RATE, clock=lambda: now[0]), Mixer(RATE)
    sink.start(mixer)
    mixer.place("click", sink.soonest())
    now[0] = 5.0
    getattr(sink, ask)()
    assert mixer.frontier == 5 * RATE and not mixer._placed


def test_a_disk_that_is_full_silences_the_file_and_not_the_coach():
    sink = open_sink("wav:/dev/full")
    mixer = Mixer(RATE)
    sink.start(mixer)
    until = time.monotonic() + 30
    while (sink.reason is None or sink.frame_now() < 0.25 * RATE) and time.monotonic() < until:
        time.sleep(0.05)
    assert "writing stopped" in sink.reason
    assert sink.frame_now() > 0.2 * RATE
    sink.close()


def test_names():
    for wrong in ("", "silent:x", "wav", "wav:", "speaker"):
        with pytest.raises(Refused, match="choose device, device:NAME, wav:FILE or silent"):
            open_sink(wrong)
    with pytest.raises(CouldNot, match="cannot write"):
        open_sink("wav:/nowhere/at/all.wav")
    for kind in ("mp3", "WAVE", "csv"):
        with pytest.raises(Refused, match=f"wav:a.{kind}: what is written is a WAV"):
            open_sink(f"wav:a.{kind}")
    assert type(open_sink("silent")) is SilentSink
    phone = open_sink("phone")
    assert phone.name == "silent" and phone.reason
    with pytest.raises(ValueError, match="44100"):
        SilentSink(RATE).start(Mixer(44100))
