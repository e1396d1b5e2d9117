"""Pacing questions to a gauge. The clock is an input."""

from gauges.asking import Asking


def test_one_question_is_in_flight_and_the_next_waits_for_its_answer() -> None:
    asking = Asking(poll_seconds=0.25)
    assert asking.is_due(0.0)
    assert not asking.is_due(0.3)
    asking.answered(0.31)
    assert asking.is_due(0.32)


def test_polling_keeps_its_pace_when_answers_are_quick() -> None:
    asking = Asking(poll_seconds=0.25)
    due = []
    for turn in range(100):
        now = turn * 0.01
        if asking.is_due(now):
            due.append(now)
            asking.answered(now)
    assert due == [0.0, 0.25, 0.5, 0.75]


def test_without_polling_it_asks_only_when_told_to_and_once() -> None:
    asking = Asking()
    assert not asking.is_due(100.0)
    asking.want()
    assert asking.is_due(100.0)
    asking.answered(100.1)
    assert not asking.is_due(101.0)


def test_two_questions_without_an_answer_say_silent_once_and_asking_goes_on() -> None:
    asking = Asking(poll_seconds=0.2)
    told = []
    asked = 0
    for turn in range(400):
        now = turn * 0.01
        if asking.has_gone_silent(now):
            told.append(round(now, 2))
        asked += asking.is_due(now)
    # Asked at 0; out of time after 0.5 s, a rest of 0.2 s, asked at 0.71, out of time at 1.22.
    assert told == [1.22]
    assert asked >= 4


def test_an_answer_after_silence_begins_the_count_anew() -> None:
    asking = Asking(poll_seconds=0.2)
    asking.is_due(0.0)
    assert not asking.has_gone_silent(0.6)
    asking.is_due(1.0)
    asking.answered(1.1)
    asking.is_due(2.0)
    assert not asking.has_gone_silent(2.6)


def test_the_time_out_is_three_times_the_slowest_answer() -> None:
    asking = Asking()
    assert asking.timeout_seconds == 0.5
    asking.want()
    asking.is_due(0.0)
    asking.answered(0.4)
    assert abs(asking.timeout_seconds - 1.2) < 1e-9
