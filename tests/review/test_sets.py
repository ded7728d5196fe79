"""A training on land looked back on: its sets in terminal, report, message and JSON, never "no try was found"."""

from __future__ import annotations

from dataclasses import replace

import attrs
import pytest

from cadence_coach.review.advice import one_thing
from cadence_coach.review.figures import look
from cadence_coach.review.report import report_html
from cadence_coach.review.sets import told_sets
from cadence_coach.review.terminal import lines
from cadence_coach.review.words import Words, plain_text
from tests.app.kept import land
from tests.review.build import Plan, make


@pytest.mark.parametrize(
    ("lang", "passed", "set_2"),
    [
        ("en", "2 of 2 sets passed.", "Set 2 of 2, 96.0 a minute"),
        ("de", "2 von 2 Sätzen geschafft.", "Satz 2 von 2, 96,0 pro Minute"),
    ],
)
def test_sets_are_shown_wherever_a_training_is_looked_back_on(lang, passed, set_2):
    looked, w = look(land()), Words(lang)
    advice = one_thing(looked)
    told = lines(looked, advice, w)
    assert passed in told and set_2 in told and told[-1].strip() in ("passed", "geschafft")
    page = report_html(looked, lang=lang)
    assert passed in page and f"<h2>{set_2}</h2>" in page
    message = plain_text(looked.figures, advice, w)
    for text in ("\n".join(told), page.split("<details")[0], message):
        assert w("no_try_why") not in text and w("no_try_found") not in text and w("best_own") not in text
    assert "| " in told[-2] and "▅" not in page  # a picture of letters needs letters of one width
    assert "NaN" not in page and advice.focus is None


def test_a_set_that_failed_says_why_and_asks_for_it_again():
    outing = land()
    late = [replace(c, time=c.time + 0.09 * (i // 2 % 4)) for i, c in enumerate(outing.clicks)]
    looked = look(attrs.evolve(outing, clicks=late))
    advice = one_thing(looked)
    assert advice.says.values == {"passed": 0, "n": 2} and advice.practise.key == "land_again_practise"
    assert all(told[-1].startswith("again: ") for _, told in told_sets(looked.outing, "en"))


def test_a_training_without_a_whole_set_says_so():
    looked = look(make(Plan(length=20.0, settings={"start": "land"})))
    advice = one_thing(looked)
    assert Words().tell(advice.says) == "No whole set was kept."
    assert "Work on" not in "\n".join(lines(looked, advice, Words())) and report_html(looked)
