"""What is heard of events, in a file and live: on which frame, in which order, and what is left out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cadence_coach.core import events as ev
from cadence_coach.errors import CouldNot, Refused
from cadence_coach.sound import cues, speech
from cadence_coach.sound.mixer import Mixer, limited
from cadence_coach.sound.pcm import read_wav, to_int16
from cadence_coach.sound.score import Score, message
from cadence_coach.sound.track import FILE_VOLUME_DB, chunks, write_wav
from tests.sound.hearing import render_events

RATE = 48000
GAIN = np.float32(10 ** (FILE_VOLUME_DB / 20))


def summary(known: float, spoken=("n_34", "seconds", "n_61", "pumps", "clean"), sentence="clean") -> ev.Summary:
    return ev.Summary(known, known, 0, (), spoken, sentence)


def click(time: float, known: float) -> ev.Click:
    return ev.Click(time, known, "click", 0.6, "rider")


def where(track: np.ndarray, pcm: np.ndarray) -> list[int]:
    """Frames on which exactly this sound begins, alone."""
    wanted = limited(pcm * GAIN)
    probe = int(np.argmax(np.abs(wanted)))
    hits = np.flatnonzero(track == wanted[probe]) - probe
    return [int(h) for h in hits if h >= 0 and np.array_equal(track[h : h + len(wanted)], wanted)]


def test_clicks_and_cues_on_their_frames():
    clicks = [click(2 + k * 0.6123, 1.6 + k * 0.6123) for k in range(9)]
    track = render_events([*clicks, ev.Cue(9.0, 9.02, "bigger", "size 0.4 < 0.6")], 14, RATE)
    assert len(track) == 14 * RATE
    assert where(track, cues.pcm("click", RATE)) == [round(c.time * RATE) for c in clicks]
    assert where(track, message("bigger", "en", RATE)) == [round(9.02 * RATE)]


def test_a_fading_click_gets_softer():
    one, half, gone = click(1.0, 0.5), replace(click(2.0, 1.5), level=0.5), replace(click(3.0, 2.5), level=0.0)
    track = render_events([one, half, gone], 4, RATE)
    first, second = track[RATE : RATE + 1500], track[2 * RATE : 2 * RATE + 1500]
    assert second == pytest.approx(0.5 * first, abs=1e-6)
    assert not track[3 * RATE :].any()


def test_a_summary_that_is_only_shown_is_silent():
    assert not render_events([summary(1.0, spoken=())], 5, RATE).any()


def test_a_file_is_the_same_sound(tmp_path):
    events = [click(0.5, 0.2), ev.Cue(1.0, 1.0, "quicker", ""), summary(4.0), click(11.9, 11.0)]
    seen: list[float] = []
    frames = write_wav(tmp_path / "heard.wav", events, 12.34, RATE, progress=seen.append)
    sound, rate = read_wav(tmp_path / "heard.wav")
    whole = render_events(events, 12.34, RATE)
    assert (frames, rate) == (round(12.34 * RATE), RATE)
    assert np.array_equal(to_int16(whole).astype(np.float32) / np.float32(32768), sound)
    assert seen[-1] == pytest.approx(12.34) and len(seen) == 13
    assert np.max(np.abs(whole)) < 1


def test_the_summary_is_heard_whole_and_a_new_start_silences_it():
    alone = render_events([summary(1.0)], 12, RATE)
    words = speech.pcm(("n_34", "seconds", "n_61", "pumps", "clean"), "en", RATE)
    assert where(alone, words) == [RATE]
    start = ev.AttemptStarted(2.0, 2.05, 1, "run_up", 1.8)
    cut = render_events([summary(1.0), start, click(4.0, 3.5)], 12, RATE)
    assert np.array_equal(cut[: round(2.05 * RATE)], alone[: round(2.05 * RATE)])
    assert not cut[round(2.08 * RATE) : 4 * RATE].any()
    assert cut[4 * RATE : 4 * RATE + 2000].any()


def test_one_message_at_a_time():
    events = [ev.Cue(1.0, 1.0, "turn_back", "far"), ev.Cue(1.2, 1.2, "time_limit", "long")]
    track = render_events(events, 12, RATE)
    first = message("turn_back", "en", RATE)
    second = where(track, message("time_limit", "en", RATE))
    assert where(track, first) == [RATE]
    assert second and second[0] >= RATE + len(first)


def test_a_cue_breaks_into_the_summary():
    track = render_events([summary(1.0), ev.Cue(1.5, 1.5, "all_right", "impact")], 12, RATE)
    begins = where(track, message("all_right", "en", RATE))
    assert len(begins) == 1 and 1.5 * RATE <= begins[0] <= 1.8 * RATE


def test_listening_to_the_detector():
    onsets = [ev.Onset(1 + k * 0.55, 1.05 + k * 0.55, k) for k in range(12)]
    track = render_events(onsets, 9, RATE, click_every_onset=True)
    assert where(track, cues.pcm("tick", RATE)) == [round(o.time * RATE) for o in onsets]
    assert not render_events(onsets, 9, RATE).any()


def test_words_can_be_left_out():
    correction, safety = message("lighter", "en", RATE, "needed"), message("turn_back", "en", RATE, "needed")
    assert np.array_equal(correction, cues.pcm("lighter", RATE))
    assert len(safety) > len(cues.pcm("turn_back", RATE)) + RATE // 4
    assert np.array_equal(message("turn_back", "en", RATE, "none"), cues.pcm("turn_back", RATE))
    assert len(message("lighter", "en", RATE, "all")) > len(correction)
    assert not np.array_equal(message("lighter", "de", RATE, "all"), message("lighter", "en", RATE, "all"))
    with pytest.raises(Refused, match="words 'some'"):
        render_events([], 1, RATE, words="some")
    with pytest.raises(Refused, match="--lang xx: choose one of"):
        render_events([], 1, RATE, lang="xx")


def test_long_outings_go_through_in_bounded_pieces():
    """An hour of clicks, taken chunk by chunk: no chunk over a second, each click where it belongs."""
    events = (click(1 + k * 0.5, 0.8 + k * 0.5) for k in range(7000))
    frames = clicks = 0
    for chunk in chunks(events, 3600, 8000):
        assert len(chunk) <= 8000
        clicks += int(chunk[0] == 0 and chunk[1:200].any()) + int(chunk[4001:4200].any())
        frames += len(chunk)
    assert (frames, clicks) == (3600 * 8000, 7000)


def score_now(words: str = "needed", soonest: int = 0) -> Score:
    return Score(Mixer(RATE), lambda t: round(t * RATE), lambda: soonest, words=words)


def test_a_click_that_comes_too_late_is_left_out_and_counted():
    """Live, where 2 s have gone by: one before is worse than none, one at that very frame is still heard."""
    score = score_now(soonest=2 * RATE)
    for time in (1.0, 2.0 - 1 / RATE, 2.0, 2.5):
        score.receive(click(time, time - 0.4))
    heard = score.mixer.render(0, 4 * RATE)
    assert score.late == 2
    assert not heard[: 2 * RATE].any() and heard[2 * RATE : 2 * RATE + 900].any()
    assert score.until == round(2.5 * RATE) + len(cues.pcm("click", RATE))


def test_muted_warnings_alone_are_heard():
    """As common practice has it for warnings, no source: what guards a person is not to be switched off."""
    muted, open_ = score_now(), score_now()
    muted.muted = True
    for score in (muted, open_):
        for event in (click(0.2, 0.1), ev.Cue(1, 1, "bigger", ""), summary(3.0), ev.Cue(9, 9, "turn_back", "far")):
            score.receive(event)
    assert not muted.mixer.render(0, 9 * RATE).any()
    assert np.array_equal(muted.mixer.render(9 * RATE, RATE), open_.mixer.render(9 * RATE, RATE))
    assert muted.mixer.render(9 * RATE, RATE).any() and open_.mixer.render(0, RATE).any()


@pytest.mark.parametrize(("name", "given"), [("mute", {"on": True}), ("stop", {})])
def test_muted_or_ended_no_click_of_a_set_that_lies_ahead_is_heard(name, given):
    score = score_now()
    for k in range(20):
        score.receive(click(1.0 + k, 0.5))
    score.mixer.take(0, 5 * RATE)
    score.receive(ev.Cue(5.5, 5.5, "rest_over", ""))
    said = round(5.5 * RATE) + len(message("rest_over", "en", RATE))
    score.tell("mark", {})
    assert score.mixer.render(10 * RATE, 900).any() and score.until > 20 * RATE
    score.tell(name, given)
    assert not score.mixer.render(said, 20 * RATE).any() and score.until == said
    score.tell("mute", {"on": False})
    score.receive(click(30.0, 29.5))
    assert score.mixer.render(30 * RATE, 900).any()


@pytest.mark.parametrize("ended", [False, True])
def test_no_longer_muted_the_clicks_of_a_set_that_still_lie_ahead_are_heard_again(ended):
    now = [0]
    score = Score(Mixer(RATE), lambda t: round(t * RATE), lambda: now[0])
    score.tell("mute", {"on": True})
    for k in range(20):
        score.receive(click(1.0 + k, 0.5))
    assert not score.mixer.render(0, 22 * RATE).any()
    now[0] = 8 * RATE + 1
    if ended:
        score.tell("stop", {})
    score.tell("mute", {"on": False})
    assert not score.mixer.render(0, 9 * RATE).any() and score.late == 0
    assert score.mixer.render(9 * RATE, 900).any() is not np.bool_(ended)
    assert score.mixer.render(20 * RATE, 900).any() is not np.bool_(ended)


def test_a_missing_word_stops_nothing(monkeypatch):
    """The sound of the cue is heard, the word is not, and it is told why."""
    score = score_now()

    def gone(*_: object) -> np.ndarray:
        raise CouldNot("a spoken part is missing")

    monkeypatch.setattr(speech, "pcm", gone)
    score.receive(summary(0.5))
    assert not score.mixer.render(0, 2 * RATE).any() and score.unsaid == "a spoken part is missing"
    score.receive(ev.Cue(1.0, 1.0, "turn_back", "far"))
    heard = score.mixer.render(RATE, len(cues.pcm("turn_back", RATE)))
    assert heard.any() and score.until == RATE + len(heard)
