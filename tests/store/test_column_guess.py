"""Which column is what: everything that is in doubt is said at once, and no more of a file than helps."""

from __future__ import annotations

import re

import pytest

from cadence_coach.errors import Refused
from cadence_coach.store import generic_csv
from cadence_coach.store.asking import Question
from tests.store.test_generic_csv import A, T, W, taken, write


def refused(tmp_path, names, values=None, **options):
    path = write(tmp_path / "log.csv", names, values or [T, *A.T])
    with pytest.raises(Refused) as told:
        generic_csv.to_recording(path, tmp_path / "out", **options)
    return str(told.value)


def test_all_that_are_missing_are_asked_for_at_once(tmp_path):
    said = refused(tmp_path, ["time", "gFx", "gFy", "gFz"])
    assert said.endswith(
        "log.csv: no column looks like ax, ay, az; there are 'gFx', 'gFy', 'gFz'; say it with --columns "
        "ax=NAME,ay=NAME,az=NAME"
    )
    said = refused(tmp_path, ["start time", "end time", "ax", "gFy", "gFz"], [T, T, *A.T])
    assert "time could be 'start time' or 'end time'; no column looks like ay, az; there are" in said
    assert said.endswith("--columns time=NAME,ay=NAME,az=NAME")


def test_a_person_is_asked_one_by_one_and_each_name_only_once(tmp_path):
    asked: list[Question] = []

    def ask(question: Question) -> str:
        asked.append(question)
        return question.choices[0]

    path = write(tmp_path / "log.csv", ["time (s)", "gFx", "gFy", "gFz", "wx", "wy", "wz"], [T, *A.T, *W.T])
    made, said = generic_csv.to_recording(path, tmp_path / "out", ask, units={"accel": "m/s2", "gyro": "rad/s"})
    assert [q.key for q in asked] == ["ax", "ay", "az"]
    assert [q.choices[0] for q in asked] == ["gFx", "gFy", "gFz"] and "gFx" not in asked[1].choices
    assert "wx" in asked[0].choices  # what looks like rotation may be what a person means
    assert "wx: column 'wx'" in said and (made / "gyro.csv").exists()


@pytest.mark.parametrize(
    ("names", "lacking"),
    [(["t", "ax", "ay"], "az"), (["t_s", "ax_m_s2", "az_m_s2"], "ay"), (["ax", "ay", "az"], "time"),
     (["time", "y"], "ax, az")],
)  # fmt: skip
def test_a_table_without_an_axis_is_told_which(tmp_path, names, lacking):
    said = refused(tmp_path, names, [T, *A.T][: len(names)])
    assert re.search(f"log.csv line 1: no column looks like {lacking}; there are '{names[0]}', '{names[1]}'", said)


def test_of_a_file_of_something_else_a_line_is_shown(tmp_path):
    path = tmp_path / "junk.csv"
    path.write_text(",".join(f"word{n}" for n in range(300)) + "\n1,2\n")
    for options in ({}, {"columns": {"ax": "nope"}}):
        with pytest.raises(Refused) as told:
            generic_csv.to_recording(path, tmp_path / "out", **options)
        assert "'word7', 'word8'" in str(told.value) and "..." in str(told.value)
        assert len(str(told.value).replace(str(tmp_path), "")) < 220


@pytest.mark.parametrize("encoding", ["cp1252", "utf-16", "utf-8", "utf-8-sig"])
def test_umlauts_in_names_as_older_and_other_programs_write_them(tmp_path, encoding):
    names = ["Zeit (s)", "Schläge x", "Schläge y", "Schläge z"]
    path = write(tmp_path / "log.csv", names, [T, *A.T])
    path.write_text(path.read_text(encoding="utf-8"), encoding=encoding)
    chosen = {f"a{c}": f"Schläge {c}" for c in "xyz"}
    _, a, _, said = taken(tmp_path, path, columns=chosen)
    assert len(a) == len(T) and "ax: column 'Schläge x'" in said


@pytest.mark.parametrize("options", [{}, {"columns": {"ax": "ax"}}, {"ask": lambda question: question.choices[0]}])
def test_two_columns_of_one_name_are_refused_as_no_answer_helps(tmp_path, options):
    said = refused(tmp_path, ["t", "ax", "ay", "az", "ax"], [T, *A.T, 0 * T], **options)
    assert said == "log.csv: column 'ax' is there twice; rename one"


def test_two_of_a_name_that_nobody_asks_for_are_no_trouble(tmp_path):
    names = ["t", "note", "acc x", "acc y", "acc z", "x", "x", "note"]
    _, a, _, said = taken(tmp_path, write(tmp_path / "log.csv", names, [T, T, *A.T, T, T, T]))
    assert "ax: column 'acc x'" in said and len(a) == len(T)


@pytest.mark.parametrize(("others", "time"), [((), "Datum"), (("Zeit (s)",), "Zeit (s)")])
def test_a_day_is_the_time_where_no_other_column_is(tmp_path, others, time):
    names = [*others, "Datum", "ax", "ay", "az"]
    said = taken(tmp_path, write(tmp_path / "log.csv", names, [*(T for _ in others), T, *A.T]))[3]
    assert f"time: column '{time}'" in said
