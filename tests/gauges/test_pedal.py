"""A pedal on a control line: samples in, presses out. The clock is an input."""

from gauges.pedal import Pedal


def presses(pedal: Pedal, levels: str, start: float = 1.0) -> list[int]:
    """At which samples (10 ms apart; # on, . off) a press came."""
    return [turn for turn, level in enumerate(levels) if pedal.sample(level == "#", start + turn * 0.010)]


def proved() -> Pedal:
    """A pedal that was seen off, on and off again before the first second."""
    pedal = Pedal(0.0)
    assert presses(pedal, "....####....", start=0.6) == []
    assert pedal.is_proved
    return pedal


def test_a_press_acts_once_30_ms_after_the_level_changed_and_a_release_does_not_act() -> None:
    assert presses(proved(), "..##########......") == [5]


def test_bouncing_contacts_are_one_press() -> None:
    assert presses(proved(), "..#.#.##.########.#.......####") == [12, 29]


def test_the_first_push_proves_the_pedal_and_acts_on_nothing() -> None:
    pedal = Pedal(0.0)
    assert presses(pedal, "....######....######....") == [17]


def test_a_line_that_is_always_on_is_no_pedal() -> None:
    pedal = Pedal(0.0)
    assert presses(pedal, "#" * 200) == []
    assert not pedal.is_proved
    assert presses(pedal, "....####", start=3.0) == []


def test_nothing_counts_in_the_first_half_second() -> None:
    pedal = Pedal(0.0)
    assert presses(pedal, "....####....####....####....", start=0.0) == []
    assert not pedal.is_proved
