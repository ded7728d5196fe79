"""Spoken parts: every one there in every language, of one level, put together without a click."""

from __future__ import annotations

import wave

import numpy as np
import pytest
from scipy.signal import resample_poly

from cadence_coach.errors import CouldNot, Refused
from cadence_coach.sound import cues, speech
from cadence_coach.sound.loudness import level_db
from cadence_coach.sound.pcm import WavWriter, read_wav, resampled

RATE = 16000
MOST_BYTES = 6_000_000
LANGS = speech.LANGUAGES


@pytest.mark.parametrize("lang", LANGS)
def test_texts_and_files_are_the_same_set(lang):
    files = {file.stem for file in (speech.folder() / lang).glob("*.wav")}
    assert files == set(speech.texts(lang))
    assert sum(file.stat().st_size for file in (speech.folder() / lang).glob("*.wav")) < MOST_BYTES


def test_both_languages_say_the_same_things():
    assert set(speech.texts("en")) == set(speech.texts("de"))
    for part, text in speech.texts("de").items():
        if not part.startswith(("n_",)):
            assert text != speech.texts("en")[part]


@pytest.mark.parametrize("lang", LANGS)
def test_every_file_is_short_clear_and_as_loud_as_a_cue(lang):
    for part in speech.texts(lang):
        sound, rate = read_wav(speech.folder() / lang / f"{part}.wav")
        assert rate == RATE
        assert 0.1 < len(sound) / rate < 3.5, part
        assert level_db(sound, rate) == pytest.approx(cues.CUE_DB, abs=0.2), part
        heard = speech.pcm((part,), lang, 48000)
        assert np.max(np.abs(heard)) < 0.98, part
        assert abs(heard[0]) < 0.01 and abs(heard[-1]) < 0.01, part


@pytest.mark.parametrize("lang", LANGS)
def test_every_whole_number_up_to_9999_is_made_of_files_that_exist(lang):
    known = set(speech.texts(lang))
    for n in range(10000):
        assert set(speech.files_of(f"n_{n}", lang)) <= known
    assert speech.files_of("n_34", lang) == ["n_34"]
    assert speech.files_of("n_100", lang) == ["n_100"]
    assert speech.files_of("n_114", lang) == ["n_100", "n_14"]
    assert speech.files_of("n_300", lang) == ["n_300"]
    assert speech.files_of("n_2007", lang) == ["n_2", "thousand", "n_7"]
    assert speech.files_of("n_1250", lang) == ["n_1", "thousand", "n_200", "n_50"]


def test_the_words_to_read():
    assert speech.text(("n_114", "n_2007", "pumps", "pause", "clean"), "en") == "114 2007 pumps Clean. Same again."


def test_parts_follow_each_other_with_a_breath_between():
    one, two = speech.pcm(("n_34",), "en"), speech.pcm(("seconds",), "en")
    both = speech.pcm(("n_34", "seconds"), "en")
    assert len(both) == len(one) + len(two) + round(speech.BETWEEN_S * 48000)
    assert np.array_equal(both[: len(one)], one) and np.array_equal(both[-len(two) :], two)
    assert len(speech.pcm((), "en")) == 0


def test_what_nobody_recorded_is_named():
    for part in ("n_", "n_10000", "n_-3", "n_3.5", "hello", "say_hello", "pumpz"):
        with pytest.raises(ValueError, match="nothing is recorded"):
            speech.pcm((part,), "en")
    with pytest.raises(Refused, match="--lang fr: choose one of en, de"):
        speech.texts("fr")


@pytest.mark.parametrize("to", [48000, 44100, 22050, 8000])
def test_resampling_beside_scipy(to):
    """Independent reference: scipy.signal.resample_poly. A sound within both bands comes out the same, away from the
    edges."""
    t = np.arange(8000) / RATE
    x = (np.sin(2 * np.pi * 440 * t) + 0.5 * np.sin(2 * np.pi * 1310 * t + 1)) * np.hanning(len(t))
    up, down = to // np.gcd(to, RATE), RATE // np.gcd(to, RATE)
    theirs = resample_poly(x, up, down, window=("kaiser", 14.0))
    ours = resampled(x.astype(np.float32), RATE, to)
    assert abs(len(ours) - len(theirs)) <= 1
    n = min(len(ours), len(theirs))
    assert ours[200 : n - 200] == pytest.approx(theirs[200 : n - 200], abs=2e-3)


def test_a_wav_that_is_still_being_written_can_be_read(tmp_path):
    writer = WavWriter(tmp_path / "a.wav", 8000)
    writer.write(np.linspace(-0.5, 0.5, 4000, dtype=np.float32))
    with wave.open(str(tmp_path / "a.wav")) as file:  # not closed: as after a kill
        assert file.getnframes() == 4000
    writer.write(np.zeros(10, dtype=np.float32))
    writer.close()
    sound, rate = read_wav(tmp_path / "a.wav")
    assert (len(sound), rate) == (4010, 8000)
    assert sound[:4000] == pytest.approx(np.linspace(-0.5, 0.5, 4000), abs=2 / 32768)


def test_a_broken_or_missing_file_is_one_clear_line(tmp_path):
    (tmp_path / "b.wav").write_bytes(b"no sound at all")
    for name in ("b.wav", "missing.wav"):
        with pytest.raises(CouldNot, match=name):
            read_wav(tmp_path / name)
    with pytest.raises(CouldNot, match="cannot write"):
        WavWriter(tmp_path / "no" / "where.wav", 8000)
