"""When the ear holds by itself, asks once more, or sleeps (docs/speech.md, "The microphone"). Times are made up."""

from assistant.ears.attention import Advice, Attention, Watch


def quiet(watch: Watch, until: float, *, since: float = 0.0, confirms: bool = True, held: bool = False) -> list[tuple[float, Advice]]:
    """Tick each quarter of a second; gives what was advised, with its time."""
    times = [since + 0.25 * number for number in range(1, int((until - since) * 4) + 1)]
    advised = [(at, watch.tick(at, busy=False, confirms=confirms, held=held)) for at in times]
    return [(at, advice) for at, advice in advised if advice is not Advice.NOTHING]


def test_a_read_back_that_nobody_answers_is_said_once_more_and_then_held() -> None:
    watch = Watch(0.0)
    assert quiet(watch, 8.0) == [(4.0, Advice.SAY_AGAIN), (8.0, Advice.HOLD_NO_ANSWER)]


def test_the_four_seconds_begin_when_the_mouth_has_ended() -> None:
    watch = Watch(0.0)
    assert watch.tick(3.9, busy=True, confirms=True, held=False) is Advice.NOTHING
    assert quiet(watch, 7.5, since=3.9) == []
    assert quiet(watch, 8.5, since=7.5) == [(8.0, Advice.SAY_AGAIN)]


def test_an_answer_begins_anew() -> None:
    watch = Watch(0.0)
    quiet(watch, 4.0)
    watch.acted(5.0)
    assert quiet(watch, 9.0, since=5.0) == [(9.0, Advice.SAY_AGAIN)]


def test_where_nothing_was_read_back_silence_is_as_good_as_anything() -> None:
    assert quiet(Watch(0.0), 300.0, confirms=False) == []
    assert quiet(Watch(0.0), 300.0, held=True) == []


def test_ten_refused_utterances_in_a_minute_mean_that_the_room_talks() -> None:
    watch = Watch(0.0)
    assert [watch.refused(6.0 * number) for number in range(9)] == [Advice.NOTHING] * 9
    assert watch.refused(59.9) is Advice.HOLD_ROOM_TALKS
    # It begins to count anew.
    assert watch.refused(60.0) is Advice.NOTHING


def test_ten_in_more_than_a_minute_do_not() -> None:
    watch = Watch(0.0)
    assert {watch.refused(7.0 * number) for number in range(30)} == {Advice.NOTHING}


def test_after_ten_minutes_without_anything_it_sleeps_until_somebody_does_something() -> None:
    watch = Watch(0.0)
    assert quiet(watch, 700.0, confirms=False) == [(600.0, Advice.SLEEP)]
    assert watch.state(speaks=False, held=True) is Attention.ASLEEP
    watch.acted(700.0)
    assert watch.state(speaks=False, held=False) is Attention.LISTENING


def test_talk_that_is_refused_does_not_keep_it_awake() -> None:
    watch = Watch(0.0)
    for number in range(60):
        watch.refused(10.0 * number)
    assert quiet(watch, 600.0, since=599.0, confirms=False) == [(600.0, Advice.SLEEP)]


def test_what_it_is_doing_can_be_told() -> None:
    watch = Watch(0.0)
    assert watch.state(speaks=True, held=True) is Attention.SPEAKING
    assert watch.state(speaks=False, held=True) is Attention.HELD
