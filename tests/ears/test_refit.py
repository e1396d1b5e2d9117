"""The bars fitted to what was confirmed and refused: on jobs that were gone through, and on figures worked out by hand."""

from pathlib import Path

import pytest

from assistant.core.errors import BadInputError
from assistant.core.inputs import Said, Unheard
from assistant.ears import READ_BACK, Bars
from assistant.ears.refit import FILE, Case, Refitted, bars_in, cases, refitted, written
from tests.conftest import job_with
from tests.table import Table


def heard(words: str, posterior: float, fit: float = -0.02) -> Said:
    return Said(words, "spoken", posterior, fit, ear="net 1")


def test_a_confirmed_read_back_is_right_and_a_refused_one_wrong() -> None:
    table = Table(job_with()).until("baseline.backlash")
    table.give(heard("six point five thou", 0.992))
    table.say("no")
    table.give(heard("twelve thou", 0.999))
    table.say("yes")
    assert list(cases(table.events)) == [Case("net 1", 0.992, -0.02, False), Case("net 1", 0.999, -0.02, True)]


def test_what_passed_no_bar_is_judged_by_what_was_recorded_in_the_end() -> None:
    table = Table(job_with()).until("baseline.backlash")
    table.give(Unheard(("twelve thou", "eleven thou"), "unsure", 0.8, -0.03, ear="net 1"))
    table.give(Unheard(("eleven thou", "twelve thou"), "unsure", 0.6, -0.05, ear="net 1"))
    table.say("second")
    table.say("yes")
    assert table.standing("baseline_backlash") == ["0.012 in"]
    assert list(cases(table.events)) == [Case("net 1", 0.8, -0.03, True), Case("net 1", 0.6, -0.05, False)]


def test_typed_readings_and_unclear_answers_say_nothing_about_the_bars() -> None:
    table = Table(job_with()).until("baseline.backlash")
    table.say("twelve thou")
    table.give(Unheard(("yes",), "unsure", 0.9, -0.03, ear="net 1"))
    table.say("yes")
    assert list(cases(table.events)) == []


def test_a_print_counts_like_a_number() -> None:
    table = Table(job_with()).until(lambda one: one.end is None and one.wait.get("quantity") == "pattern_drive")
    before = len(list(cases(table.events)))
    table.give(Unheard(("toe root", "heel root"), "unsure", 0.7, -0.05, ear="net 1"))
    table.give(heard("toe root", 0.999))
    table.say("yes")
    assert list(cases(table.events))[before:] == [Case("net 1", 0.999, -0.02, True), Case("net 1", 0.7, -0.05, True)]


def test_a_german_job_is_judged_by_german_words() -> None:
    table = Table(job_with(), language="de").until("baseline.backlash")
    table.give(Unheard(("zwölf tausendstel zoll", "elf tausendstel zoll"), "unsure", 0.8, -0.03, ear="vosk de"))
    table.give(heard("zwölf tausendstel zoll", 0.999))
    table.say("ja")
    assert [case.is_right for case in cases(table.events)] == [True, True]
    table.until(lambda one: one.end is None and one.wait.get("quantity") == "pattern_drive")
    before = len(list(cases(table.events)))
    table.give(Unheard(("zehe fuß", "ferse fuß"), "unsure", 0.7, -0.05, ear="vosk de"))
    table.give(heard("zehe fuß", 0.999))
    table.say("ja")
    assert [case.is_right for case in cases(table.events)][before:] == [True, True]


def rights(count: int, posterior: float, fit: float = -0.01) -> list[Case]:
    return [Case("net 1", posterior, fit, True)] * count


def test_wrong_read_backs_raise_the_bar_above_them() -> None:
    # 2 wrong of 202 at .9995 are more than 5 in 1,000; at .9999 none is left, and ten right ones are asked again.
    found = [*rights(190, 0.99995), *rights(10, 0.9995), *[Case("net 1", 0.9995, -0.01, False)] * 2]
    assert refitted(found) == Refitted(Bars(0.9999, -0.10, READ_BACK.heed), 202, 0, 190, 10)


def test_right_ones_that_were_asked_again_lower_it() -> None:
    found = [*rights(150, 0.9995), *rights(50, 0.985)]
    assert refitted(found).bars == Bars(0.98, -0.10, READ_BACK.heed)


def test_with_few_cases_the_bars_stay() -> None:
    with pytest.raises(BadInputError, match="99 spoken readings whose truth is known, expected at least 100"):
        refitted(rights(99, 0.999))


def test_where_nothing_helps_the_strictest_bars_are_taken() -> None:
    found = [*rights(50, 0.99999), *[Case("net 1", 0.99999, -0.001, False)] * 50]
    assert refitted(found).bars == Bars(0.9999, -0.02, READ_BACK.heed)


def test_kept_bars_are_those_of_their_ear_only(tmp_path: Path) -> None:
    assert bars_in(tmp_path, "net 1") == READ_BACK
    written(Bars(0.995, -0.05), "net 1", 210, tmp_path)
    assert bars_in(tmp_path, "net 1") == Bars(0.995, -0.05)
    assert bars_in(tmp_path, "net 2") == READ_BACK


@pytest.mark.parametrize(
    "text", ["ear = 1", "posterior = ", 'ear = "net 1"\nposterior = 0.5\nfit = -0.05', 'ear = "net 1"\nposterior = 0.99\nfit = -3']
)
def test_a_damaged_file_is_refused_with_the_way_out(tmp_path: Path, text: str) -> None:
    (tmp_path / FILE).write_text(text, encoding="utf-8")
    with pytest.raises(BadInputError, match=r"bars\.toml.*(delete it)"):
        bars_in(tmp_path, "net 1")
