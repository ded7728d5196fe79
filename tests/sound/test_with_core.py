"""What the core can ask for and what can be heard: both sides hold the same ids."""

from __future__ import annotations

import random

import pytest

from cadence_coach.core import cuebook, rules, word
from cadence_coach.core.rules import WORD_LONGEST_S
from cadence_coach.core.settings import FOCI
from cadence_coach.sound import cues, speech
from cadence_coach.sound.score import message

ONLY_HERE = {"count_in"}
"""Sounds that are no cue of the coach: the count before a start or a set."""


def test_every_cue_of_the_core_has_a_sound_and_a_text():
    assert set(cuebook.CUE_KINDS) | ONLY_HERE == set(cues.CUES)
    assert set(cuebook.CORRECTIONS) == set(cues.CORRECTIONS)
    for kind in cuebook.CUE_KINDS:
        assert len(cues.pcm(kind))
        for lang in speech.LANGUAGES:
            assert len(speech.pcm((f"say_{kind}",), lang))


@pytest.mark.parametrize("lang", speech.LANGUAGES)
def test_every_part_of_a_word_can_be_said(lang):
    for part in word.every_part():
        assert len(speech.pcm((part,), lang))
        assert speech.text((part,), lang)


def test_the_english_texts_are_the_cores_own():
    """Beyond capitals and stops: the core times its words by these texts."""
    for part, text in {**word.WORDS, **word.SENTENCES}.items():
        ours = speech.text((part,), "en").lower().replace(".", "").replace(",", "")
        assert ours == str(text).replace(",", ""), part


@pytest.mark.parametrize("lang", speech.LANGUAGES)
def test_no_word_after_a_flight_takes_longer_than_it_may(lang):
    """2000 made-up flights with every focus: what the core chose to say, measured as it is spoken."""
    rng = random.Random(4)
    longest = 0.0
    for _ in range(2000):
        flown = word.Flown(
            flight=0,
            seconds=rng.uniform(2, 900),
            best_today=rng.random() < 0.5,
            pumps=rng.randrange(3, 1500),
            started_by=rng.choice(("run_up", "step", "rope")),
            cadence=rng.uniform(0.9, 2.2),
            early=rng.uniform(0.9, 2.2),
            late=rng.uniform(0.9, 2.2),
            size=rng.uniform(0.2, 0.9),
            size_needed=rng.uniform(0.3, 0.8),
            size_first=rng.uniform(0.2, 0.9),
            steadiness=rng.uniform(0.01, 0.1),
            speed_early=rng.uniform(3, 6),
            speed_late=rng.uniform(3, 6),
            landing_to_push=rng.uniform(0.2, 1.5),
        )
        past = word.Past((rng.randrange(6), 5), rng.random() < 0.5, rng.random() < 0.5, frozenset(), 1.5)
        spoken = word.word(flown, past, rng.choice((None, *FOCI))).spoken
        longest = max(longest, len(speech.pcm(spoken, lang, 48000)) / 48000)
    assert longest <= WORD_LONGEST_S, longest


@pytest.mark.parametrize("lang", speech.LANGUAGES)
def test_every_message_fits_the_room_that_the_core_keeps_for_it(lang):
    for kind in cuebook.CUE_KINDS:
        room = rules.WORDED_LASTS_S if kind in (*cuebook.GUARD, *cuebook.MACHINE) else rules.CUE_LASTS_S
        assert len(message(kind, lang, 48000)) / 48000 <= room, kind
