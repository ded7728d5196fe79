"""The mixer: the same bits in blocks of any size, nothing beyond full scale, nothing before the frontier."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cadence_coach.errors import Refused
from cadence_coach.sound import cues
from cadence_coach.sound.mixer import CEILING, KNEE, Mixer, limited

RATE = 48000
NAMES = (*cues.BEATS, "quicker", "bigger", "turn_back")

placed = st.lists(st.tuples(st.sampled_from(NAMES), st.integers(0, 60000), st.floats(-20, 12)), max_size=25)
cuts = st.lists(st.integers(64, 20000), min_size=1, max_size=40)


def made(sounds: list[tuple[str, int, float]], rate: int = RATE) -> Mixer:
    mixer = Mixer(rate, volume_db=0.0)
    for name, frame, gain in sounds:
        mixer.place(name, frame, gain)
    return mixer


@given(placed, cuts)
@settings(max_examples=25, deadline=None)
def test_any_block_size_gives_the_same_frames(sounds, sizes):
    total = 70000
    whole = made(sounds).render(0, total)
    mixer, first, pieces = made(sounds), 0, []
    while first < total:
        n = min(sizes[len(pieces) % len(sizes)], total - first)
        pieces.append(mixer.take(first, n))
        first += n
    assert np.concatenate(pieces).tobytes() == whole.tobytes()


def test_frame_by_frame_is_the_same_too():
    sounds = [("click", 10, 0.0), ("quicker", 40, 12.0), ("bigger", 41, 12.0), ("tick", 1500, -3.0)]
    mixer, whole = made(sounds), made(sounds).render(0, 4000)
    assert np.max(np.abs(whole)) > KNEE
    assert b"".join(mixer.take(k, 1).tobytes() for k in range(4000)) == whole.tobytes()


@given(placed)
@settings(max_examples=40, deadline=None)
def test_never_beyond_full_scale_and_rendering_changes_nothing(sounds):
    mixer = made(sounds * 3)
    once = mixer.render(0, 70000)
    assert np.max(np.abs(once)) <= CEILING
    assert mixer.render(0, 70000).tobytes() == once.tobytes()
    assert mixer.frontier == 0


def test_the_limiter_leaves_quiet_sound_alone_and_is_smooth():
    x = np.linspace(-6, 6, 240001, dtype=np.float32)
    y = limited(x)
    inside = np.abs(x) <= KNEE
    assert np.array_equal(y[inside], x[inside])
    slope = np.diff(y.astype(float)) / np.diff(x.astype(float))
    assert np.all(slope > -1e-3) and np.all(slope < 1.02)  # monotone, never steeper than 1 (float32 steps)
    assert np.max(np.abs(y)) < CEILING


def test_every_sound_sits_on_its_frame_after_three_hours():
    """3 h at an awkward tempo, clicks at round(k * period * rate): looked at one by one, a block around each."""
    mixer, clicks = Mixer(RATE, 0.0), []
    period = 60 / 113.7
    click = cues.pcm("click", RATE)
    for k in range(int(3 * 3600 / period)):
        clicks.append(round(k * period * RATE))
    assert clicks[-1] > RATE * (3 * 3600 - 1)
    for k, frame in enumerate(clicks):
        mixer.place("click", frame)
        if k % 97 == 0 or k > len(clicks) - 50:
            block = mixer.take(frame - 7, len(click) + 20)
            assert block[: 7 + 1].tobytes() == np.zeros(8, np.float32).tobytes()  # a click starts at 0
            assert block[7 : 7 + len(click)].tobytes() == limited(click).tobytes()
        mixer.skip(frame + len(click))
    assert mixer.late == 0


def test_what_comes_too_late_is_dropped_and_counted():
    mixer = Mixer(RATE, 0.0)
    mixer.take(0, 1000)
    assert mixer.place("click", 999) is None
    assert mixer.late == 1
    assert not mixer.render(900, 5000).any()
    assert mixer.place("click", 1000) is not None
    assert mixer.render(1000, 100).any()


def test_memory_is_bounded():
    mixer = Mixer(RATE, 0.0)
    for k in range(20000):
        mixer.place("click", k * 500)
        mixer.take(k * 500, 500)
    assert len(mixer._placed) <= 4
    for k in range(5000):
        mixer.place("click", 20000 * 500 + k)
    assert mixer.too_many > 0
    assert len(mixer._placed) <= 4096


def test_hushed_speech_fades_and_makes_no_click():
    mixer = Mixer(RATE, 0.0)
    tone = np.sin(2 * np.pi * 300 * np.arange(RATE) / RATE).astype(np.float32) * 0.5
    mixer.place(tone, 100, tag="summary")
    mixer.place("click", 40000, tag="beat")
    mixer.place(tone, 90000, tag="summary")
    mixer.take(0, 5000)
    assert mixer.hush("summary", 3000) == 2  # soonest is the frontier: what was taken stays taken
    rest = mixer.render(5000, 90000)
    assert rest[:200].any()
    assert not rest[800:34000].any()
    assert rest[35000:37000].any()
    assert np.max(np.abs(np.diff(rest[:1000]))) < 2 * np.pi * 300 / RATE * 0.5 * 1.1


def test_volume_is_modest_holds_from_then_on_and_is_never_raised_by_itself():
    loud = Mixer(RATE, 0.0)
    plain = Mixer(RATE)
    for mixer in (loud, plain):
        for k in range(200):
            mixer.place("quicker", k * RATE)
    level = [float(np.max(np.abs(plain.render(k * RATE, RATE)))) for k in range(200)]
    assert max(level) == min(level)
    assert max(level) < 0.3 * float(np.max(np.abs(loud.render(0, RATE))))  # -12 dB
    plain.place("quicker", 300 * RATE)
    plain.set_volume(-20)
    assert np.max(np.abs(plain.render(300 * RATE, RATE))) == level[0]
    for wrong in (0.5, -41, float("nan")):
        with pytest.raises(Refused, match="choose -40 to 0"):
            plain.set_volume(wrong)
