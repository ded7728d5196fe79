"""Views of look-back, land, ladder, season and phone: pure, so looked at without a screen. Charts are compared with the
figures they come from."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import attrs
import numpy as np
import pytest

from cadence_coach.app.link import Line
from cadence_coach.app.state import State
from cadence_coach.app.views import back, charts, flight, ladder, land, phone
from cadence_coach.app.views import blocks as b
from cadence_coach.app.views.chart import Chart
from cadence_coach.app.words import Words
from cadence_coach.core.targets import Band
from cadence_coach.land.score import score_set
from cadence_coach.live.snapshot import Snapshot
from cadence_coach.review import words as review
from cadence_coach.review.advice import one_thing
from cadence_coach.review.looking import open_looked
from cadence_coach.review.season import season
from cadence_coach.review.season_row import Cache
from cadence_coach.review.sets import set_scores
from cadence_coach.safety import points
from tests.app.kept import TRAINING, outings
from tests.app.pages import SCORE, TRAINS

EN, DE = Words("en"), Words("de")
TOLD = review.Words("en")


@pytest.fixture(scope="module")
def files(tmp_path_factory) -> dict[str, Path]:
    return outings(tmp_path_factory.mktemp("home"))


@pytest.fixture(scope="module")
def looked(files):
    return open_looked(files["water"])


def every(blocks) -> Iterator[b.Block]:
    for block in blocks:
        yield block
        if isinstance(block, b.Group):
            yield from every(block.blocks)


def texts(view) -> list[str]:
    out = [view.title]
    for block in every(view.blocks):
        out += [value for name in ("text", "sub", "caption", "label") if (value := getattr(block, name, ""))]
        out += [t for item in getattr(block, "items", ()) for t in item]
    return out


def the_charts(view) -> list[Chart]:
    return [block.chart for block in every(view.blocks) if isinstance(block, b.Picture)]


def places(chart: Chart) -> list[float]:
    out = [v for s in chart.strokes for p in s.points for v in p]
    out += [v for d in chart.dots for p in d.points for v in p]
    out += [v for a in chart.areas for e in a.edges for v in e]
    out += [v for x in chart.boxes for v in (x.x0, x.x1, x.y0, x.y1)]
    return out + [place for place, _ in (*chart.x_ticks, *chart.y_ticks)]


def every_view(looked, words) -> list[back.PageView]:
    advice = one_thing(looked)
    views = [back.outing(looked, advice, words, focus=None, writing="x", trouble={back.KEEP_NOTE: "no"})]
    return views + [flight.flight(looked, n, words) for n in range(len(looked.figures.flights))]


@pytest.mark.parametrize("words", [EN, DE])
def test_whatever_is_drawn_lies_in_the_field_and_is_told_in_words(looked, words):
    for view in every_view(looked, words):
        for chart in the_charts(view):
            assert chart.says and all(0.0 <= v <= 1.0 and type(v) is float for v in places(chart))


@pytest.mark.parametrize("words", [EN, DE])
def test_nothing_says_none_or_nan_and_no_template_is_left(looked, words):
    for view in every_view(looked, words):
        assert not [t for t in texts(view) if re.search(r"\b(None|nan|inf)\b|[{}]|→", t)], view.title


def test_the_cadence_chart_shows_the_pumps_and_the_band(looked):
    """Back from places to values: dots are the pumps' cadences, the shade lies at the band's edges."""
    pumps = looked.pumps[2]
    chart = charts.cadence(looked, 2, TOLD)
    (lowest, text_low), (highest, text_high) = chart.y_ticks[0], chart.y_ticks[-1]
    scale = (float(text_high) - float(text_low)) / (highest - lowest)

    def per_min(y: float) -> float:
        return float(text_low) + (y - lowest) * scale

    dots = np.array([per_min(y) for _, y in chart.dots[0].points])
    inside = (dots > dots.min()) & (dots < dots.max())  # what lies outside sits on the edge
    assert np.allclose(dots[inside], 60.0 * pumps.cadence[inside], atol=1e-6)
    lo = [per_min(e[1]) for e in chart.areas[0].edges]
    assert np.allclose(lo, 60.0 * pumps.lo, atol=1e-6)
    assert all(p.points[0][0] < p.points[-1][0] for p in chart.strokes)


def test_the_four_parts_are_as_long_as_they_are(looked):
    chart = charts.mean_pump(looked, 2, TOLD)
    shares = [box.x1 - box.x0 for box in chart.boxes]
    assert sum(shares) == pytest.approx(1.0) and [box.kind for box in chart.boxes] == list(charts.PARTS)
    assert [label.text for label in chart.labels] == [f"{100 * s:.0f} %" for s in shares]
    half_sine = (0.225, 0.225, 0.275, 0.275)  # of push share 0.45: the waveform the outing was made of
    assert shares == pytest.approx(half_sine, abs=0.02)


def test_the_timeline_has_a_bar_a_flight_as_high_as_it_was_long(looked):
    chart = charts.timeline(looked, TOLD)
    flights = looked.figures.flights
    bars = [box for box in chart.boxes if box.kind in ("rider", "muted")]
    heights = [box.y1 for box in bars]
    assert np.allclose(np.array(heights) / heights[2], [f.aloft_s / flights[2].aloft_s for f in flights])
    assert [bar.faint for bar in bars] == [not f.on_own for f in flights]
    assert len(chart.dots[0].points) == sum(a.flight is None for a in looked.outing.attempts)


def test_five_figures_are_those_the_coach_told_else_the_flight_s_own(looked):
    assert flight.five_figures(looked, 2, True)["seconds"] == 31.4  # from the kept summary
    assert (
        flight.five_figures(looked, 2, False)["best_today"] == 0.0
    )  # told live as the best; carried, as it turned out
    own = flight.five_figures(looked, 1, False)
    assert own["pumps"] == 34 and own["cadence_early_per_min"] > own["cadence_late_per_min"]
    short = flight.five_figures(looked, 0, False)
    assert (short["starts_held"], short["starts_of"]) == (4.0, 5.0)


@pytest.mark.parametrize("words", [EN, DE])
def test_a_flight_that_was_carried_is_nobody_s_own(looked, words):
    """On its page the big figure is as long as the flight was, under another name; told live or not."""
    for n, aloft in ((1, "22 s"), (2, "33 s")):
        own = flight.flight(looked, n, words).blocks[1].items[0]
        f = attrs.evolve(looked.figures.flights[n], helped="swell", own_s=0.0)
        flights = (*looked.figures.flights[:n], f, *looked.figures.flights[n + 1 :])
        carried = attrs.evolve(looked, figures=attrs.evolve(looked.figures, flights=flights))
        view = flight.flight(carried, n, words)
        assert view.blocks[1].items[0] == (aloft, {"en": "aloft", "de": "in der Luft"}[words.lang])
        assert own[1] == words("water.seconds") not in texts(view)
        assert view.blocks[1].items[1:] == flight.flight(looked, n, words).blocks[1].items[1:]


def test_the_list_is_newest_first_and_names_damaged_files_in_one_line(files):
    listed = []
    for path in files.values():
        if path == files["damaged"]:
            listed.append(back.Listed(str(path), None, "x"))
        else:
            listed.append(back.Listed(str(path), Cache(path.parent / "cache").row(path)))
    for words in (EN, DE):
        view = back.outings(listed, words)
        rows = [block for block in view.blocks if isinstance(block, b.Go)]
        days = [next(one for one in listed if row.act.endswith(one.path)).row.start_utc for row in rows]
        assert days == sorted(days, reverse=True) and len(rows) == 3
        assert "damaged" in view.blocks[-1].text and "\n" not in view.blocks[-1].text
    assert back.outings([], EN).blocks[0].text.startswith("No outing yet")


def test_the_list_says_why_a_flight_does_not_count(files):
    row = Cache(files["water"].parent / "cache").row(files["water"])
    gone = attrs.evolve(row, tries=1, flights=(), best_s=0.0, left_out={"holed": 1})
    (only,) = back.outings([back.Listed("x", gone)], EN).blocks
    assert "no flight" not in only.sub and "1 flight not scored: gap in the data." in only.sub
    some = attrs.evolve(row, left_out={"helped": 2})
    (only,) = back.outings([back.Listed("x", some)], DE).blocks
    assert "bester" in only.sub and "2 Flüge nicht gewertet: von Dünung oder Heckwelle getragen." in only.sub


def test_an_armchair_outing_is_marked_in_the_list_and_told_on_the_ladder(files):
    row = attrs.evolve(Cache(files["water"].parent / "cache").row(files["water"]), armchair=True)
    (only,) = back.outings([back.Listed("x", row)], EN).blocks
    assert only.sub.endswith("armchair")
    assert "Armchair outings only: simulated, nobody rode." in texts(ladder.ladder([row], None, EN))
    assert "Nicht gelesen: 2. „Rückblick“ nennt sie." in texts(ladder.ladder([row], None, DE, 2))
    rode = attrs.evolve(row, armchair=False, uuid="rode")
    assert "im Sessel nicht gezählt" in " ".join(texts(ladder.season(season([row, rode]), 0, DE)))


def test_a_stranger_s_note_is_shown_as_text_alone(looked):
    note = attrs.evolve(looked.outing.notes[0], text="\x07[b]bold[/b]\u202e", who="a\nb")
    strange = attrs.evolve(looked, outing=attrs.evolve(looked.outing, notes=[note]))
    shown = texts(back.outing(strange, one_thing(looked), EN, focus=None))
    assert " [b]bold[/b] " in shown


def test_the_focus_that_is_taken_is_told_and_not_offered_again(looked):
    advice = one_thing(looked)
    offered = back.outing(looked, advice, EN, focus=None)
    taken = back.outing(looked, advice, EN, focus=advice.focus)
    acts = [[getattr(block, "act", "") for block in every(view.blocks)] for view in (offered, taken)]
    assert back.FOCUS in acts[0] and back.FOCUS not in acts[1]
    assert "This is your focus for the next outing." in texts(taken)


# ---- land ----


def test_sets_of_a_kept_training_are_scored_as_they_were(files):
    scores = set_scores(open_looked(files["land"]).outing)
    assert [round(s.tempo_per_min) for s in scores] == [90, 96]
    assert all(s.passed and s.clicks == TRAINING.beats(s.tempo_per_min) - 4 for s in scores)


def test_the_strip_puts_early_above_and_late_below() -> None:
    clicks = [k * 0.5 for k in range(14)]
    from cadence_coach.land.score import Move

    moves = [Move(t + (-0.1 if k % 2 else 0.2)) for k, t in enumerate(clicks)]
    chart = charts.offsets(score_set(clicks, moves), EN)
    above = [y for _, y in chart.dots[0].points][1::2]
    below = [y for _, y in chart.dots[0].points][::2]
    assert above == pytest.approx([0.7] * 5) and below == pytest.approx([0.1] * 5)  # of half a beat, 0.25 s, each way
    assert chart.y_ticks[0][1] == "ahead"


def test_nothing_starts_before_every_point_is_ticked() -> None:
    keys = [key for key, _ in points("land")]
    for n in range(len(keys) + 1):
        acts = [getattr(x, "act", "") for x in land.before(land.Chosen(), frozenset(keys[:n]), None, EN).blocks]
        assert (land.START in acts) is (n == len(keys))
    no_tempo = land.Chosen(mode=land.OWN, tempo="many")
    assert land.START not in [getattr(x, "act", "") for x in land.before(no_tempo, frozenset(keys), None, EN).blocks]


def test_plans_are_those_of_the_ladder_of_the_band_and_of_the_rider() -> None:
    assert land.plan(land.Chosen(), None).beats(90.0) == 60
    band = Band(4.5, 1.2, 1.4, 1.9, 1.1, 2.8, 0.34, 0.4, 0.62, 0.6, 0.2)
    climb = land.plan(land.Chosen(mode=land.TARGET), band)
    assert climb.tempos[3] == pytest.approx(84.0) and climb.push_share == 0.4 and climb.sets == 5
    own = land.plan(land.Chosen(mode=land.OWN, tempo="72,5", set_s=20.0, push_tick=False), band)
    assert (own.tempos, own.set_s, own.push_share) == ((72.5,), 20.0, None)
    assert land.plan(land.Chosen(mode=land.OWN, tempo="9"), None) is None
    typed = land.Chosen(mode=land.TARGET, tempo="150", set_s=60.0)  # and then the profile was lost
    (shown,) = (x for x in land.before(typed, frozenset(), None, EN).blocks[1].blocks if isinstance(x, b.Pick))
    assert shown.chosen == land.RUNG and land.plan(typed, None) == land.plan(land.Chosen(), None)
    assert land.Chosen.from_plain({"mode": "x", "tempo": 7, "set_s": 1e9, "push_tick": 0}).mode == land.RUNG


def snap(time_s: float, **changes):
    return Line("here", Snapshot(sensor="ok", time_s=time_s, land=TRAINS | changes))


def test_a_training_is_told_from_count_in_to_rest() -> None:
    assert "Count in" in texts(land.going(snap(99.0), EN))
    going = texts(land.going(snap(115.2), EN))
    assert "Go with the click" in going and "25 s" in going and "10" in going
    rest = texts(land.going(snap(130.0, set=1, first_s=None, next_s=141.0), EN))
    assert "Rest" in rest and "11 s" in rest and any("uneven" in t for t in rest)
    over = land.going(snap(150.0, over=True, first_s=None, scores=[SCORE, None]), DE)
    assert "0 von 2 Sätzen geschafft" in texts(over)
    gone = land.going(Line("gone", Snapshot(land=TRAINS)), EN)
    assert land.RESCUE in [getattr(x, "act", "") for x in gone.blocks]
    deaf = attrs.evolve(snap(115.0), snapshot=Snapshot(sensor="silent", time_s=115.0, land=TRAINS))
    assert any("No movement is heard" in t for t in texts(land.going(deaf, EN)))


# ---- ladder, season, phone ----


def test_the_next_rung_stands_in_full_with_what_is_missing(files):
    rows = [Cache(files["land"].parent / "cache").row(files[name]) for name in ("water", "short", "land")]
    for words in (EN, DE):
        view = ladder.ladder(rows, None, words)
        full = [block for block in view.blocks if isinstance(block, b.Group)]
        assert len(full) == 1 and len([x for x in view.blocks if isinstance(x, b.Go)]) == 15
        assert len([x for x in ladder.ladder(rows, "minutes_30", words).blocks if isinstance(x, b.Group)]) == 2
    assert ladder.ladder([], None, EN).blocks[1].blocks[-1].act == ladder.TRAIN  # whoever has nothing begins on land


def test_the_season_leaves_the_training_out_and_tells_from_when_there_are_trends(files):
    rows = [Cache(files["land"].parent / "cache").row(files[name]) for name in ("water", "short", "land")]
    view = ladder.season(season(rows), 1, EN)
    assert texts(view)[1].startswith("2 outings") and any("From five outings" in t for t in texts(view))
    many = [attrs.evolve(rows[0], uuid=str(n), start_utc=f"2026-06-{n:02d}T09:00:00Z", best_s=n) for n in range(1, 9)]
    view = ladder.season(season(many), 0, DE)
    assert any(t.startswith("längster Flug: +30\u00a0s in 30 Tagen") for t in texts(view))
    first = the_charts(view)[0]
    assert all(0 <= v <= 1 for v in places(first)) and len(first.dots[0].points) == 8


def test_this_phone_says_what_is_chosen_and_asks_for_no_test_while_riding() -> None:
    state = State(kept={"volume_db": -18.0, "speaker": {"output": "a", "lag_s": 0.0}})
    acts = [getattr(x, "act", "") for x in every(phone.phone(state, False, False, phone.Doing(), EN).blocks)]
    assert {phone.CHECK, phone.SPEAKER, phone.HEADSET, phone.SAVER, phone.HEAR} <= set(acts)
    riding = [getattr(x, "act", "") for x in every(phone.phone(state, True, True, phone.Doing(), EN).blocks)]
    assert not {phone.CHECK, phone.SPEAKER, phone.HEADSET, phone.SAVER, phone.HEAR} & set(riding)
    assert phone.ALLOW not in acts
    asks = phone.phone(state, True, True, phone.Doing(), EN, ["android.permission.POST_NOTIFICATIONS"])
    assert phone.ALLOW in [getattr(x, "act", "") for x in every(asks.blocks)]
    assert EN("before.notes_missing") in texts(asks) and EN("before.speed_missing") not in texts(asks)
    assert phone.loudness({"volume_db": 99}) == phone.loudness({}) == -12.0
    for words in (EN, DE):
        said = texts(phone.phone(state, True, False, phone.Doing(), words))
        assert any("H.870" in t for t in said)


def test_what_a_test_found_is_told_in_the_language_that_is_shown() -> None:
    lines = [[{"en": "Sound: ready", "de": "Ton: bereit"}, True], ["as an earlier version kept it", False]]
    state = State(kept={"checked": {"day": "2026-06-01", "passed": False, "lines": lines}})
    for words, line in ((EN, "Sound: ready"), (DE, "Ton: bereit")):
        said = texts(phone.phone(state, True, False, phone.Doing(), words))
        assert line in said and "• as an earlier version kept it" in said and "{" not in "".join(said)
