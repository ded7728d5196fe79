"""Texts, themes and what is remembered: nothing of it needs a window."""

from __future__ import annotations

import json
import re
from itertools import product
from pathlib import Path

import pytest

import cadence_coach.app
from cadence_coach import safety
from cadence_coach.app import state
from cadence_coach.app.link import Line
from cadence_coach.app.theme import NIGHT, SCALES, SUN, contrast, luminance, type_sizes
from cadence_coach.app.views import land, water
from cadence_coach.app.words import LANGUAGES, Words, every
from cadence_coach.errors import CouldNot, Refused
from cadence_coach.live import on_phone
from cadence_coach.live.reasons import FORMS, reason
from cadence_coach.sound.latency import Latencies, tap_lag
from cadence_coach.store.folders import FolderLock
from cadence_coach.store.outing_file import load_outing, save_outing
from tests.review.build import Plan, make

APP = Path(cadence_coach.app.__file__).parent
SOURCES = [*APP.rglob("*.py"), *APP.rglob("*.kv")]
NAMES = re.compile(r"{(\w+)}")


def test_every_text_is_there_in_every_language_with_the_same_values() -> None:
    for key, told in every().items():
        assert set(told) == set(LANGUAGES), key
        names = {lang: sorted(NAMES.findall(text)) for lang, text in told.items()}
        assert len({tuple(n) for n in names.values()}) == 1, (key, names)
        assert all(text.strip() == text and text for text in told.values()), key


def test_every_key_that_the_app_names_exists_and_every_text_is_used() -> None:
    code = "\n".join(path.read_text("utf-8") for path in SOURCES)
    named = set(re.findall(r"""words\(\s*["']([\w.]+)["']""", code))
    assert len(named) > 50
    assert named - set(every()) == set()
    built = re.findall(r"""words\(\s*f["']([\w.]+?)[._]?\{""", code)  # put together from a part that is chosen
    texts = set(re.findall(r"""["']([a-z_]+\.[a-z_]+)["']""", code))
    unused = [k for k in every() if k not in named | texts and not any(k.startswith(b) for b in built)]
    assert unused == []


def test_reasons_come_in_the_language_of_the_screen(tmp_path, monkeypatch) -> None:
    """Errors as they are raised; in English the line itself."""
    made = save_outing(make(Plan(length=10.0)), tmp_path / "a.outing")
    cut = tmp_path / "cut.outing"
    cut.write_bytes(made.read_bytes()[:6000])
    (tmp_path / "no.outing").write_text("no outing")
    told = []
    for name in ("cut", "no", "gone"):
        with pytest.raises((Refused, CouldNot)) as error:
            load_outing(tmp_path / f"{name}.outing")
        told.append(str(error.value))
    lock = FolderLock(tmp_path)
    with lock.take(), pytest.raises(CouldNot) as error:
        FolderLock(tmp_path).take()
    told.append(str(error.value))
    german = [reason(line, "de") for line in told]
    for line, words in zip(
        german, ("beschädigt", "keine Ausfahrt", "nicht zu lesen", "läuft schon ein Coach"), strict=True
    ):
        assert words in line and str(tmp_path) in line
    assert [reason(line, "en") for line in told] == told
    assert reason("a form that nobody knows", "de") == "a form that nobody knows"
    assert set(FORMS) == set(LANGUAGES) - {"en"}
    failed = Line("failed", None, told[-1])
    for shown in (water.make(failed, Words("de")), land.going(failed, Words("de"))):
        assert "läuft schon ein Coach" in str(shown)


@pytest.mark.parametrize(
    ("fails", "german"),
    [
        (
            lambda _: tap_lag([1.0, 2.0], [1.0, 2.0]),
            "0-mal getippt nach den ersten 4; tippe mit den Klicks weiter, bis",
        ),
        (lambda _: tap_lag([k + k % 2 / 8 for k in range(20)], range(20)), "um 62 ms ungleich (höchstens 25)"),
        (lambda here: Latencies(here / "l.json").keep("phone:8 X", -0.3), "-300 ms bei phone:8 X: So früh oder spät"),
        (lambda _: on_phone.plan_of("{}"), "Der Plan aus der App ist nicht zu lesen ("),
    ],
)
def test_what_a_phone_refuses_comes_in_the_language_of_the_rider(fails, german, tmp_path) -> None:
    with pytest.raises(Refused) as error:
        fails(tmp_path)
    assert german in reason(str(error.value), "de")


def test_what_a_phone_cannot_do_comes_in_the_language_of_the_rider() -> None:
    """The lines as they stand where they are raised: only a phone raises them."""
    code = "".join((APP.parent / name).read_text("utf-8") for name in ("sources/phone.py", "sound/phone.py"))
    lines = re.findall(r'raise CouldNot\("(phone: [^"]*)"\)', code)
    assert len(lines) == 3 and all(reason(line, "de") != line for line in lines)


def test_a_language_or_a_key_that_is_none_is_an_error() -> None:
    with pytest.raises(KeyError):
        Words("xx")
    with pytest.raises(KeyError):
        Words("en")("no.such")
    with pytest.raises(KeyError):
        Words("en")("water.flight", wrong=1)


def test_numbers_are_written_as_the_language_writes_them() -> None:
    assert Words("en").number(4.25, 1) == "4.2" and Words("de").number(4.75, 1) == "4,8"
    assert Words("de").number(None) == "–"


def test_the_safety_lists_are_whole_in_both_languages() -> None:
    assert set(safety.TEXTS["en"]) == set(safety.TEXTS["de"]) and set(safety.TEXTS) == set(LANGUAGES)


def test_contrast_is_that_of_the_standard() -> None:
    """WCAG 2.2: 21:1 for black on white; #777777 on white just fails 4.5:1 (a known example of its techniques)."""
    assert contrast((0, 0, 0, 1), (1, 1, 1, 1)) == pytest.approx(21.0)
    grey = (0x77 / 255,) * 3 + (1.0,)
    assert contrast(grey, (1, 1, 1, 1)) == pytest.approx(4.48, abs=0.005)
    assert luminance((1, 1, 1, 1)) == pytest.approx(1.0)


INKS = ("ink", "muted", "rider", "target", "cue", "speed")


def test_whatever_may_be_text_is_readable_in_the_sun() -> None:
    """At least 7:1, asked for; text of the dark theme too, since the water screen is dark in glare."""
    for theme in (SUN, NIGHT):
        for ink, ground in product(INKS, ("paper", "card")):
            assert contrast(getattr(theme, ink), getattr(theme, ground)) >= 7.0, (theme.name, ink, ground)
        assert contrast(theme.on_rider, theme.rider) >= 7.0
        assert contrast(theme.on_band, theme.band) >= 7.0 and contrast(theme.ink, theme.band) >= 7.0


def test_text_grows_with_the_scale_and_is_never_small_on_the_water() -> None:
    sizes = [type_sizes(scale) for scale in SCALES]
    assert type_sizes(2.0, 3.0).water == 3 * type_sizes(2.0).water < 3 * 2 * type_sizes(1.0).water
    for name in ("small", "body", "lead", "title", "big", "huge"):
        grown = [getattr(s, name) for s in sizes]
        assert grown == sorted(grown) and len(set(grown)) == len(grown)
    assert all(s.water >= 18 for s in sizes) and sizes[-1].water > sizes[1].water


# ---- what is remembered ----


def test_choices_come_back(tmp_path) -> None:
    kept = state.State(lang="de", theme="dark", scale=1.3, start="rope", awake=False, kept={"a": [1, "ü"]})
    state.save(kept, tmp_path)
    assert state.load(tmp_path) == kept
    assert [p.name for p in tmp_path.iterdir()] == [state.FILE]


@pytest.mark.parametrize("text", ["", "{", "[]", "null", "[" * 100000, '{"lang": 5}', "\x00\x01"])
def test_a_broken_file_is_as_good_as_none(tmp_path, text) -> None:
    (tmp_path / state.FILE).write_text(text)
    assert state.load(tmp_path) == state.State()


def test_one_bad_value_costs_no_other(tmp_path) -> None:
    told = {"lang": "xx", "theme": "dark", "scale": "big", "awake": 3, "kept": 1, "level": "basic", "newer": True}
    (tmp_path / state.FILE).write_text(json.dumps(told))
    assert state.load(tmp_path, "de") == state.State(lang="de", theme="dark", level="basic")


def test_the_first_start_speaks_the_phones_language_where_it_is_known(tmp_path) -> None:
    assert state.load(tmp_path, "de").lang == "de"
    assert state.load(tmp_path, "fr").lang == "en"


# ---- arrows ----


def test_only_parts_screens_and_main_know_kivy() -> None:
    for path in APP.rglob("*.py"):
        inside = path.relative_to(APP)
        if inside.parts[0] in ("parts", "screens") or inside.name == "main.py":
            continue
        lines = [s for s in path.read_text("utf-8").splitlines() if re.match(r"\s*(from|import) kivy", s)]
        allowed = 8 if inside.name == "__init__.py" and len(inside.parts) == 1 else 0  # run(): inside the function
        assert all(s.startswith(" ") for s in lines) and len(lines) <= allowed, inside
