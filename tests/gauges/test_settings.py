"""How a gauge is set up, and what a port is known by."""

from dataclasses import replace

import pytest

from gauges.errors import SettingError
from gauges.settings import GaugeSettings, Identity, PedalSettings, bench_part_from, gauge_from


def test_a_gauge_is_read_from_a_command_line_word() -> None:
    assert gauge_from("dial=/dev/ttyUSB0,ascii-signed-cr,mm,none") == GaugeSettings(
        "dial", "ascii-signed-cr", "/dev/ttyUSB0", unit="mm", parity="none"
    )
    assert gauge_from("caliper=/dev/ttyACM0,bin24-caliper") == GaugeSettings("caliper", "bin24-caliper", "/dev/ttyACM0")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("dial", "has not been met .none is known yet.* expected NAME=PORT,KEY"),
        ("dial=", "expected NAME=PORT,KEY"),
        ("dial=/dev/ttyUSB0,ascii-signed-cr,mm,in", "'in' is no setting"),
        ("pedal=/dev/ttyUSB1,cts", "is a pedal"),
        ("dial=/dev/ttyUSB0", "expected NAME=PORT,KEY"),
        ("=/dev/ttyUSB0,typed-line,mm", "expected NAME=PORT,KEY"),
        ("dial=/dev/ttyUSB0,ascii-signed-cr", "give the unit"),
        ("dial=/dev/ttyUSB0,nothing", "format 'nothing' is not known"),
        ("dial=/dev/ttyUSB0,ascii-signed-cr,ell", "unit 'ell' is not known"),
    ],
)
def test_a_wrong_word_says_what_was_expected(text: str, message: str) -> None:
    with pytest.raises(SettingError, match=message):
        gauge_from(text)


KNOWN = {"lever": GaugeSettings("lever", "ascii-signed-cr", Identity(0x0403, 0x6001, "A1", None), unit="mm")}


def test_a_gauge_that_was_met_is_known_by_its_name_under_another_name_and_on_another_port() -> None:
    assert gauge_from("lever", KNOWN) == KNOWN["lever"]
    assert gauge_from("dial=lever", KNOWN) == replace(KNOWN["lever"], name="dial")
    assert gauge_from("lever=/dev/ttyUSB4", KNOWN) == replace(KNOWN["lever"], port="/dev/ttyUSB4")
    with pytest.raises(SettingError, match=r"has not been met .known are lever"):
        gauge_from("dial", KNOWN)


def test_further_settings_follow_the_format_in_any_order() -> None:
    wanted = GaugeSettings("dial", "ask-reply-cr", "x", unit="mm", parity="none", poll_seconds=0.25, pedal="dsr", is_zeroed=True)
    assert gauge_from("dial=x,ask-reply-cr,poll,zeroed,mm,none,dsr") == wanted
    assert gauge_from("meter=x,modbus-rtu-int32,17,mm").address == 17
    assert gauge_from("dial=x,mux-prefix-cr,mm,channel=2").channel == "2"


def test_a_pedal_is_a_port_and_a_line() -> None:
    assert bench_part_from("pedal=/dev/ttyUSB1,cts") == PedalSettings("pedal", "/dev/ttyUSB1", "cts")
    with pytest.raises(SettingError, match="takes nothing after its line"):
        bench_part_from("pedal=/dev/ttyUSB1,cts,mm")


def test_a_port_with_a_serial_number_is_the_same_in_any_socket_and_one_without_only_in_its_own() -> None:
    numbered = Identity(0x0403, 0x6001, "A1", "1-1")
    assert numbered.matches(Identity(0x0403, 0x6001, "A1", "1-2"))
    assert not numbered.matches(Identity(0x0403, 0x6001, "A2", "1-1"))
    plain = Identity(0x1A86, 0x7523, None, "1-1")
    assert plain.matches(Identity(0x1A86, 0x7523, None, "1-1"))
    assert not plain.matches(Identity(0x1A86, 0x7523, None, "1-2"))
    assert (numbered.is_certain, plain.is_certain) == (True, False)
    assert str(numbered) == "0403:6001 number A1"
    assert str(plain) == "1a86:7523 in socket 1-1"
