"""Cues as a listener has them: told apart by rhythm and contour, found again in wind, as loud as each other."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from cadence_coach.sound import cues, speech
from cadence_coach.sound.loudness import level_db
from tests.sound.hearing import Heard, contour_distance, hear, rhythm_distance

RATE = 48000
LEAST_RHYTHM = 0.20
"""Of the longer one's length, one sounds where the other does not. Own choice: a fifth is several times what +-6 % of
tempo makes (Drake & Botte 1993: one interval is told apart from 6 % on)."""
LEAST_CONTOUR = 2.0
"""Semitones rms, asked for where rhythm is nearer than LEAST_RHYTHM_ALONE. Melodic contour is told apart from a
semitone on (common practice, no source)."""
LEAST_RHYTHM_ALONE = 0.30


@pytest.fixture(scope="module")
def heard() -> dict[str, Heard]:
    return {kind: hear(cues.pcm(kind, RATE), RATE) for kind in cues.CUES}


def test_each_pair_differs_in_rhythm_and_the_near_ones_in_contour_too(heard):
    for a, b in combinations(cues.CUES, 2):
        rhythm, contour = rhythm_distance(heard[a], heard[b]), contour_distance(heard[a], heard[b])
        assert rhythm >= LEAST_RHYTHM, (a, b, rhythm)
        assert rhythm >= LEAST_RHYTHM_ALONE or contour >= LEAST_CONTOUR, (a, b, rhythm, contour)


def test_the_distances_see_what_they_should(heard):
    quicker = cues.pcm("quicker", RATE)
    assert rhythm_distance(heard["quicker"], hear(quicker * 0.1, RATE)) < 0.02  # louder or softer is the same cue
    assert contour_distance(heard["quicker"], hear(quicker[::-1], RATE)) > 5  # upside down in time is another one


@pytest.mark.parametrize("kind", cues.CUES)
def test_told_apart_in_wind_at_another_pitch_tempo_and_level(kind, heard):
    """Wind as loud as the cue by the A-weighting, falling 12 dB an octave from 100 Hz (wind noise at an ear lies
    mostly in 25-150 Hz); pitch off by up to 2 semitones, tempo by up to 6 %: still nearest to itself."""
    rng = np.random.default_rng(cues.CUES.index(kind))
    for _ in range(6):
        pcm = cues.pcm(kind, RATE).astype(float)
        stretch = 1 + rng.uniform(-0.06, 0.06)
        warped = np.interp(np.arange(0, len(pcm) - 1, stretch), np.arange(len(pcm)), pcm)
        warped = np.concatenate((warped, np.zeros(RATE // 20)))
        hz = np.fft.rfftfreq(len(warped), 1 / RATE)
        wind = np.fft.irfft(np.fft.rfft(rng.normal(size=len(warped))) / (1 + (hz / 100) ** 2), len(warped))
        wind *= 10 ** ((level_db(warped, RATE) - level_db(wind, RATE)) / 20)
        sound = hear(warped + wind, RATE)
        near = {k: rhythm_distance(sound, h) / LEAST_RHYTHM + contour_distance(sound, h) / 4 for k, h in heard.items()}
        assert min(near, key=near.__getitem__) == kind


@pytest.mark.parametrize("kind", [*cues.BEATS, *cues.CUES])
def test_loudness_beside_each_other_is_the_table(kind):
    """The table: cues 0, count-in and click -4, tick -10 dB(A). Measured anew at two rates."""
    for rate in (48000, 44100):
        pcm = cues.pcm(kind, rate)
        assert level_db(pcm, rate) - cues.CUE_DB == pytest.approx(cues.RELATIVE_DB[kind], abs=0.01)
        assert np.max(np.abs(pcm)) < 0.9


@pytest.mark.parametrize("kind", [*cues.BEATS, *cues.CUES])
def test_begins_and_ends_in_silence_without_a_step(kind):
    pcm = cues.pcm(kind, RATE).astype(float)
    assert pcm[0] == 0 and pcm[-1] == 0
    # the steepest step a tone of this height can have: 2 pi f a / rate, harmonics included
    steepest = 2 * np.pi * cues.BASE_HZ * 2 ** (cues.HIGHEST_SEMITONE / 12) / RATE
    most = sum(k * a for k, a in enumerate(cues.HARMONICS, start=1)) / sum(cues.HARMONICS)
    assert np.max(np.abs(np.diff(pcm))) <= steepest * most * np.max(np.abs(pcm)) * 1.6
    assert np.max(np.abs(pcm[:5])) < 0.25 * np.max(np.abs(pcm))


@pytest.mark.parametrize("kind", cues.CUES)
def test_energy_lies_above_the_wind(kind):
    """At least 90 % of the energy within 1-2.5 kHz and the harmonics over it; next to nothing under 500 Hz."""
    spectrum = np.square(np.abs(np.fft.rfft(cues.pcm(kind, RATE).astype(float))))
    hz = np.fft.rfftfreq(len(cues.pcm(kind, RATE)), 1 / RATE)
    assert np.sum(spectrum[(hz > 950) & (hz < 2600)]) > 0.85 * np.sum(spectrum)
    assert np.sum(spectrum[hz > 950]) > 0.95 * np.sum(spectrum)
    assert np.sum(spectrum[hz < 500]) < 0.005 * np.sum(spectrum)


def test_every_kind_has_a_text():
    for lang in speech.LANGUAGES:
        assert {f"say_{kind}" for kind in cues.CUES} <= set(speech.texts(lang))


def test_a_correction_is_short_and_a_stranger_is_named():
    for kind in cues.CORRECTIONS:
        assert len(cues.pcm(kind, RATE)) <= 0.8 * RATE
    with pytest.raises(ValueError, match="no sound called 'faster'"):
        cues.pcm("faster", RATE)
