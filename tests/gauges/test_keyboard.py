"""Keyboard-type cables: key codes of linux/input-event-codes.h in, lines out; the device is a stand-in, since none is here."""

import os
import sys
import types
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest

from gauges.errors import PortError, SettingError
from gauges.feed import Feed, Hint, Lost, Received
from gauges.keyboard import CableMatch, KeyboardWorker, KeyFault, KeyLine, open_cable
from gauges.reading import to_json
from gauges.settings import GaugeSettings

# KEY_1 … KEY_0 are 2 … 11; KEY_DOT 52, KEY_COMMA 51, KEY_MINUS 12, KEY_EQUAL 13, KEY_ENTER 28, KEY_TAB 15, KEY_LEFTSHIFT 42.
CODES = {**{str(digit): 1 + digit for digit in range(1, 10)}, "0": 11, ".": 52, ",": 51, "-": 12, "\n": 28, "\t": 15, "a": 30}
KEYPAD = {"7": 71, "8": 72, "9": 73, "4": 75, "5": 76, "6": 77, "1": 79, "2": 80, "3": 81, "0": 82, ".": 83, "-": 74, "+": 78, "\n": 96}
SHIFT, EQUAL, NUM_LOCK = 42, 13, 69


def typed(text: str, *, gap: float = 0.010, codes: dict[str, int] = CODES, line: KeyLine | None = None) -> list[bytes | KeyFault]:
    """What comes of this text, each key pressed and let go, so many seconds apart."""
    line = KeyLine() if line is None else line
    out: list[bytes | KeyFault] = []
    for turn, character in enumerate(text):
        out += line.key(codes[character], 1, turn * gap)
        out += line.key(codes[character], 0, turn * gap + 0.004)
    return out


def codes_of(out: list[bytes | KeyFault]) -> list[str]:
    """The codes of the faults; nothing but faults may be there."""
    assert all(isinstance(fault, KeyFault) for fault in out)
    return [fault.code for fault in out if isinstance(fault, KeyFault)]


@pytest.mark.parametrize(
    ("text", "line"), [("12.345\n", b"12.345\n"), ("-0,0005\n", b"-0,0005\n"), ("12.345\t", b"12.345\t"), ("1234567890\n", b"1234567890\n")]
)
def test_a_cable_types_a_line(text: str, line: bytes) -> None:
    assert typed(text) == [line]


def test_the_keypad_types_the_same_line() -> None:
    assert typed("-12.345\n+67890\n", codes=KEYPAD) == [b"-12.345\n", b"+67890\n"]


def test_only_a_key_that_goes_down_counts_not_a_repeat_nor_a_release() -> None:
    line = KeyLine()
    for value in (1, 2, 2, 2, 0):
        line.key(CODES["1"], value, 0.0)
    assert line.key(CODES["\n"], 1, 0.01) == [b"1\n"]


def test_an_enter_alone_is_no_line() -> None:
    assert typed("\n\n12.3\n") == [b"12.3\n"]


def test_a_person_is_slower_than_50_ms_a_key() -> None:
    assert codes_of(typed("12.345\n", gap=0.060)) == ["typed-by-hand"]
    assert typed("12.345\n", gap=0.049) == [b"12.345\n"]


def test_a_pause_inside_a_line_throws_its_beginning_away() -> None:
    line = KeyLine()
    assert typed("12.3", line=line) == []
    assert codes_of(line.idle(0.5)) == ["partial"]
    assert line.idle(0.9) == []
    line = KeyLine()
    typed("12.3", line=line)
    # Without a look in between, the next key finds the pause itself: its tail is a line of its own shape, judged by the decoder.
    assert codes_of(line.key(CODES["4"], 1, 1.0)) == ["partial"]
    assert line.key(CODES["\n"], 1, 1.01) == [b"4\n"]


def test_two_typists_at_once_spoil_the_line() -> None:
    assert codes_of(typed("12a.345\n")) == ["shape"]
    (fault,) = typed("12a.345\n")
    assert isinstance(fault, KeyFault)
    assert fault.has_letters


def test_keypad_keys_without_numlock_are_arrows_and_a_numlock_key_switches() -> None:
    (fault,) = typed("12\n", codes=KEYPAD, line=KeyLine(is_numlock_on=False))
    assert isinstance(fault, KeyFault)
    assert "NumLock" in fault.detail
    line = KeyLine(is_numlock_on=False)
    line.key(NUM_LOCK, 1, 0.0)
    assert typed("12\n", codes=KEYPAD, line=line) == [b"12\n"]


def test_digits_all_with_shift_are_digits_and_mixed_ones_are_refused() -> None:
    line = KeyLine()
    line.key(SHIFT, 1, 0.0)
    assert typed("12\n", line=line) == [b"12\n"]
    # A cable set to a layout with shifted digits types −12 as 6 (which is its minus) and then shifted 1 and 2: never 612.
    line = KeyLine()
    line.key(CODES["6"], 1, 0.0)
    line.key(SHIFT, 1, 0.005)
    line.key(CODES["1"], 1, 0.010)
    line.key(SHIFT, 0, 0.015)
    assert codes_of(line.key(CODES["\n"], 1, 0.020)) == ["shape"]


def test_a_plus_is_shift_and_equals_and_equals_alone_is_no_number() -> None:
    line = KeyLine()
    line.key(SHIFT, 1, 0.0)
    line.key(EQUAL, 1, 0.005)
    line.key(SHIFT, 0, 0.010)
    line.key(CODES["1"], 1, 0.015)
    assert line.key(CODES["\n"], 1, 0.020) == [b"+1\n"]
    line.key(EQUAL, 1, 1.0)
    assert codes_of(line.key(CODES["\n"], 1, 1.01)) == ["shape"]


def test_more_than_forty_keys_are_no_line() -> None:
    assert codes_of(typed("1" * 41 + "\n")) == ["shape"]


@dataclass
class Event:
    """A key event as evdev gives it."""

    type: int
    code: int
    value: int
    at: float

    def timestamp(self) -> float:
        return self.at


class Cable:
    """A grabbed device: `press` makes it readable; after `unplug` a read fails with errno 19."""

    def __init__(self) -> None:
        self._readable, self._ours = os.pipe()
        self._events: deque[Event] = deque()
        self.is_unplugged = self.is_free = self.is_closed = False

    def press(self, text: str) -> None:
        for turn, character in enumerate(text):
            self._events.append(Event(1, CODES[character], 1, turn * 0.01))
            self._events.append(Event(0, 0, 0, turn * 0.01))
        os.write(self._ours, b"x")

    def unplug(self) -> None:
        self.is_unplugged = True
        os.write(self._ours, b"x")

    def fileno(self) -> int:
        return self._readable

    def read(self) -> Iterator[Event]:
        os.read(self._readable, 1)
        if self.is_unplugged:
            raise OSError(19, "No such device")
        while self._events:
            yield self._events.popleft()

    def leds(self) -> list[int]:
        return []

    def capabilities(self) -> dict[int, list[int]]:
        return {1: list(CODES.values())}

    def ungrab(self) -> None:
        self.is_free = True
        if self.is_unplugged:
            raise OSError(19, "No such device")

    def close(self) -> None:
        self.is_closed = True
        os.close(self._readable)
        os.close(self._ours)


SETTINGS = GaugeSettings("micrometer", "typed-line", "", unit="mm")
MATCH = CableMatch(0x0FE7, 0x4001)


def test_a_cables_lines_become_readings_and_what_it_spoils_becomes_hints() -> None:
    feed, cable = Feed(), Cable()
    worker = KeyboardWorker(SETTINGS, MATCH, feed, opener=lambda _: cable)
    worker.start()
    cable.press("12.345\n12..5\n")
    first, second = feed.get(5.0), feed.get(5.0)
    worker.stop()
    assert isinstance(first, Received)
    assert to_json(first.event) == {"value": "12.345", "unit": "mm"}
    assert isinstance(second, Received)
    assert to_json(second.event) == {"fault": "shape"}
    assert (cable.is_free, cable.is_closed, worker.is_alive) == (True, True, False)


def test_an_unplugged_cable_is_let_go_of_at_once_and_taken_again_on_its_return() -> None:
    feed, cables = Feed(), [Cable(), Cable()]
    opened: list[Cable] = []

    def opener(_: CableMatch) -> Cable:
        opened.append(cables[len(opened)])
        return opened[-1]

    worker = KeyboardWorker(SETTINGS, MATCH, feed, opener=opener, retry_seconds=(0.01,))
    worker.start()
    cables[0].unplug()
    assert isinstance(feed.get(5.0), Lost)
    cables[1].press("12.345\n")
    feed.get(5.0)
    assert isinstance(feed.get(5.0), Received)
    worker.stop()
    assert all(cable.is_closed for cable in cables)


def test_a_device_on_which_somebody_types_letters_is_let_go_for_good() -> None:
    feed, cable = Feed(), Cable()
    worker = KeyboardWorker(SETTINGS, MATCH, feed, opener=lambda _: cable)
    worker.start()
    cable.press("12a\n")
    hints = [feed.get(5.0), feed.get(5.0)]
    worker.stop()
    assert all(isinstance(hint, Hint) for hint in hints)
    assert "let go" in str(hints[1])
    assert cable.is_closed


def test_only_typed_lines_come_through_a_keyboard() -> None:
    with pytest.raises(SettingError, match="expected typed-line"):
        KeyboardWorker(GaugeSettings("dial", "ascii-fixed-unit", ""), MATCH, Feed())


KEY_A, KEY_ENTER, EV_KEY = 30, 28, 1


class Device:
    """An input device of a pretended evdev; `sort` names what it is."""

    def __init__(self, path: str) -> None:
        self.name, self.uniq, self.path = path, "N1", path
        self.is_grabbed = self.is_closed = False
        is_cable = path.startswith("cable")
        self.info = types.SimpleNamespace(vendor=0x0FE7 if is_cable else 0x046D, product=0x4001 if is_cable else 0xC31C)

    def capabilities(self) -> dict[int, list[int]]:
        return {EV_KEY: [KEY_ENTER] if self.path.startswith("cable") else [KEY_ENTER, KEY_A]} if self.path != "mouse" else {}

    def grab(self) -> None:
        if self.path == "cable-taken":
            raise OSError(16, "Device or resource busy")
        self.is_grabbed = True

    def close(self) -> None:
        self.is_closed = True


def pretend(monkeypatch: pytest.MonkeyPatch, paths: list[str]) -> list[Device]:
    """Make these the input devices of this machine."""
    devices = [Device(path) for path in paths]
    module: Any = types.ModuleType("evdev")
    module.list_devices = lambda: paths
    module.InputDevice = lambda path: devices[paths.index(path)]
    module.ecodes = types.SimpleNamespace(KEY_A=KEY_A, KEY_ENTER=KEY_ENTER, EV_KEY=EV_KEY)
    monkeypatch.setitem(sys.modules, "evdev", module)
    return devices


def test_the_one_cable_that_matches_is_grabbed_and_all_others_are_closed(monkeypatch: pytest.MonkeyPatch) -> None:
    keyboard, mouse, cable = pretend(monkeypatch, ["keyboard", "mouse", "cable"])
    assert open_cable(CableMatch(0x0FE7, 0x4001, "N1")) is cable
    assert (cable.is_grabbed, cable.is_closed) == (True, False)
    assert keyboard.is_closed
    assert mouse.is_closed
    assert not keyboard.is_grabbed


@pytest.mark.parametrize(
    ("paths", "match", "message"),
    [
        ([], MATCH, "no input device can be read"),
        (["keyboard"], MATCH, "0 input devices are 0fe7:4001, expected exactly one"),
        (["keyboard", "cable", "cable-2"], MATCH, "2 input devices are"),
        (["keyboard", "cable"], CableMatch(0x0FE7, 0x4001, "N2"), "0 input devices are"),
        (["cable"], MATCH, "is the only keyboard here"),
        (["keyboard", "cable-taken"], MATCH, "busy"),
    ],
)
def test_a_cable_that_cannot_be_taken_is_refused_with_the_reason(
    monkeypatch: pytest.MonkeyPatch, paths: list[str], match: CableMatch, message: str
) -> None:
    devices = pretend(monkeypatch, paths)
    with pytest.raises(PortError, match=message):
        open_cable(match)
    assert all(device.is_closed for device in devices)


def test_without_evdev_the_focused_line_is_recommended(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "evdev", None)
    with pytest.raises(PortError, match="focused input line"):
        open_cable(MATCH)
