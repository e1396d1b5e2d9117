"""The settings file: what is put in comes out, what was there stays, what is wrong is told at once."""

from decimal import Decimal
from pathlib import Path

import pytest

from gauges.errors import SettingError
from gauges.formats import format_named
from gauges.known import keep, known_gauges, settings_file
from gauges.settings import GaugeSettings, Identity

DIAL = GaugeSettings(
    "dial", "ascii-signed-cr", Identity(0x0403, 0x6001, "A5", None), unit="mm", parity="none", line=format_named("ascii-signed-cr").lines[0],
    step=Decimal("0.005"), range_end=Decimal("12.7"), silent_seconds=0.5, is_zeroed=True, channel="1", pedal="cts", uses=("backlash",),
)  # fmt: skip
METER = GaugeSettings("meter", "modbus-rtu-int32", "/dev/ttyUSB3", unit="mm", address=7, poll_seconds=0.2)


def test_what_is_kept_is_known_again(tmp_path: Path) -> None:
    path = tmp_path / "new folder" / "settings.toml"
    for settings in (DIAL, METER):
        keep(path, settings, {"zero": "cannot be seen"})
    assert known_gauges(path) == {"dial": DIAL, "meter": METER}
    assert "cannot be seen" in path.read_text()


def test_a_socket_stands_for_a_cable_without_a_number(tmp_path: Path) -> None:
    nameless = GaugeSettings("dial", "bin24-caliper", Identity(0x1A86, 0x7523, None, "1-1.2"))
    keep(tmp_path / "s.toml", nameless, {})
    assert known_gauges(tmp_path / "s.toml") == {"dial": nameless}


def test_what_else_stands_in_the_file_stays_and_an_earlier_entry_goes(tmp_path: Path) -> None:
    path = tmp_path / "settings.toml"
    path.write_text('# mine\n[other]\nkey = 1 # why\n\n[gauge.dial]\nformat = "typed-line"\nport = "x"\nunit = "in"\n')
    keep(path, DIAL, {})
    text = path.read_text()
    assert "# mine\n[other]\nkey = 1 # why\n" in text
    assert "typed-line" not in text
    assert known_gauges(path) == {"dial": DIAL}
    assert [entry.name for entry in tmp_path.iterdir()] == ["settings.toml"]


def test_no_file_means_no_gauge(tmp_path: Path) -> None:
    assert known_gauges(tmp_path / "none.toml") == {}


def test_a_file_that_is_not_toml_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "settings.toml"
    path.write_text("gauge = [")
    with pytest.raises(SettingError, match="nothing was written"):
        keep(path, DIAL, {})
    assert path.read_text() == "gauge = ["
    with pytest.raises(SettingError, match="is not TOML"):
        known_gauges(path)


def test_everything_that_is_wrong_is_told_at_once(tmp_path: Path) -> None:
    path = tmp_path / "settings.toml"
    path.write_text("""
gauge.a = 3
[gauge.b]
format = "nothing"
[gauge.c]
format = "ascii-fixed-unit"
[gauge.d]
format = "ascii-fixed-unit"
vendor = "0403"
product = "6001"
[gauge.e]
format = "ascii-fixed-unit"
port = "x"
colour = "red"
[gauge.f]
format = "ascii-fixed-unit"
port = "x"
line = "300 8N1"
[gauge.g]
format = "ascii-signed-cr"
port = "x"
[gauge.h]
format = "ascii-fixed-unit"
port = "x"
step = 0.0005
[gauge.i]
format = "ascii-fixed-unit"
port = "x"
range_end = "-1"
[gauge.j]
format = "ascii-fixed-unit"
port = "x"
pedal = "dtr"
[gauge.k]
format = "ascii-fixed-unit"
port = "x"
uses = "backlash"
[gauge.l]
format = "modbus-rtu-int32"
port = "x"
unit = "mm"
address = "1"
""")
    with pytest.raises(SettingError) as told:
        known_gauges(path)
    for place, words in {
        "a": "expected a table", "b": "format 'nothing' is not known", "c": "neither a port nor a vendor", "d": "to tell it from its twins",
        "e": "colour not known", "f": "line '300 8N1', expected one of 9600 8N1", "g": "give the unit", "h": "step is 0.0005, expected a text",
        "i": "above zero", "j": "pedal 'dtr'", "k": "expected a list of words", "l": "expected a whole number",
    }.items():  # fmt: skip
        problem = next(part for part in str(told.value).split("; gauge.") if part.split("gauge.")[-1].startswith(f"{place}:"))
        assert words in problem


def test_the_settings_file_is_as_told_or_of_the_environment_or_of_the_user(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert settings_file(tmp_path / "mine.toml") == tmp_path / "mine.toml"
    monkeypatch.setenv("BENCHHAND_SETTINGS", str(tmp_path / "theirs.toml"))
    assert settings_file() == tmp_path / "theirs.toml"
    monkeypatch.delenv("BENCHHAND_SETTINGS")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.setattr("os.name", "posix")
    assert settings_file() == tmp_path / "benchhand" / "settings.toml"
