"""How a gauge is set up, and what a port is known by."""

import pytest

from gauges.errors import SettingError
from gauges.settings import GaugeSettings, Identity, gauge_from


def test_a_gauge_is_read_from_a_command_line_word() -> None:
    assert gauge_from("dial=/dev/ttyUSB0,ascii-signed-cr,mm,none") == GaugeSettings(
        "dial", "ascii-signed-cr", "/dev/ttyUSB0", unit="mm", parity="none"
    )
    assert gauge_from("caliper=/dev/ttyACM0,bin24-caliper") == GaugeSettings("caliper", "bin24-caliper", "/dev/ttyACM0")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("dial", "expected NAME=PORT,KEY"),
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
