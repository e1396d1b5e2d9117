"""A keyboard-type cable: key presses in, bytes for the `typed-line` decoder out; and, on Linux, the device itself through evdev.

House rules: key codes are mapped, never layout characters; only a key going down counts; a device on which the user also types is never
taken; a grab is always given back. evdev is imported only when a device is opened.
"""

import contextlib
import select
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, Protocol

from gauges.errors import PortError, SettingError
from gauges.feed import Feed, Hint, Received
from gauges.settings import GaugeSettings
from gauges.worker import RETRY_SECONDS, Clock, Worker

if TYPE_CHECKING:
    from evdev import InputDevice

# A cable types with less than 30 ms between two keys, a person with more than 60 (from memory; 50 is a usual limit).
FASTEST_HAND_SECONDS = 0.050
LONGEST_PAUSE_SECONDS = 0.200
_LONGEST_LINE = 40

# Linux key codes (linux/input-event-codes.h): the digit row, the keypad, signs and ends.
_DIGIT_ROW = {2: "1", 3: "2", 4: "3", 5: "4", 6: "5", 7: "6", 8: "7", 9: "8", 10: "9", 11: "0"}
_KEYPAD = {79: "1", 80: "2", 81: "3", 75: "4", 76: "5", 77: "6", 71: "7", 72: "8", 73: "9", 82: "0", 83: "."}
_SIGNS = {52: ".", 51: ",", 121: ",", 12: "-", 74: "-", 78: "+"}
_EQUALS = 13
_ENDS = {28: b"\n", 96: b"\n", 15: b"\t"}
_SHIFTS = frozenset((42, 54))
_LETTERS = frozenset((*range(16, 26), *range(30, 39), *range(44, 51)))
_NUM_LOCK = 69
_KEY_DOWN = 1

KeyFaultCode = Literal["typed-by-hand", "partial", "shape"]


@dataclass(frozen=True)
class KeyFault:
    """A line that was thrown away before it reached the decoder; the codes are those of the key layer.

    has_letters: letters came: the device is one that somebody types on, so let go of it.
    """

    code: KeyFaultCode
    detail: str
    has_letters: bool = False


@dataclass
class _Typed:
    """The line under way."""

    keys: list[str] = field(default_factory=list)
    last_at: float | None = None
    slowest_seconds: float = 0.0
    spoiled: str = ""
    has_letters: bool = False
    digit_shifts: set[bool] = field(default_factory=set)


class KeyLine:
    """Turns key events into lines of bytes.

    is_numlock_on: with it off a keypad sends arrows, so its keys then spoil the line.
    """

    def __init__(self, *, is_numlock_on: bool = True) -> None:
        self._is_numlock_on = is_numlock_on
        self._shift_down = False
        self._typed = _Typed()

    def key(self, code: int, value: int, at: float) -> list[bytes | KeyFault]:
        """Take in one key event: value 1 down, 0 up, 2 repeat; `at` in seconds. Gives whole lines with their end, and faults."""
        if code in _SHIFTS:
            self._shift_down = value != 0
            return []
        if value != _KEY_DOWN:
            return []
        if code == _NUM_LOCK:
            self._is_numlock_on = not self._is_numlock_on
            return []
        out = self.idle(at)
        typed = self._typed
        if typed.last_at is not None:
            typed.slowest_seconds = max(typed.slowest_seconds, at - typed.last_at)
        typed.last_at = at
        if code in _ENDS:
            self._typed = _Typed()
            return out + _ended(typed, _ENDS[code])
        self._take(typed, code)
        return out

    def idle(self, now: float) -> list[bytes | KeyFault]:
        """Call it while no key comes: a pause inside a line throws the line away."""
        typed = self._typed
        if typed.last_at is None or now - typed.last_at <= LONGEST_PAUSE_SECONDS:
            return []
        self._typed = _Typed()
        pause = f"a pause of more than {LONGEST_PAUSE_SECONDS * 1000:.0f} ms inside a line"
        return [KeyFault("partial", f"{''.join(typed.keys)!r} and then {pause}", typed.has_letters)]

    def _take(self, typed: _Typed, code: int) -> None:
        character = _DIGIT_ROW.get(code) or _KEYPAD.get(code) or _SIGNS.get(code) or ("+" if code == _EQUALS and self._shift_down else "")
        if code in _DIGIT_ROW:
            typed.digit_shifts.add(self._shift_down)
        if not character:
            typed.has_letters = typed.has_letters or code in _LETTERS
            spoiled = f"key code {code}, expected digits, a point or comma, a sign and an end"
        elif code in _KEYPAD and not self._is_numlock_on:
            spoiled = "keypad keys while NumLock is off: switch it on"
        elif len(typed.digit_shifts) > 1:
            # On layouts with the digits on the shifted row, the unshifted 6 is a minus: mixed, nobody knows which is meant.
            spoiled = "digit keys with and without shift: set the cable to the layout with unshifted digits"
        elif len(typed.keys) >= _LONGEST_LINE:
            spoiled = f"more than {_LONGEST_LINE} keys without an end"
        else:
            typed.keys.append(character)
            return
        typed.spoiled = typed.spoiled or spoiled


def _ended(typed: _Typed, end: bytes) -> list[bytes | KeyFault]:
    """The line that this end key completes."""
    text = "".join(typed.keys)
    if typed.spoiled:
        return [KeyFault("shape", typed.spoiled, typed.has_letters)]
    if not text:
        return []
    if typed.slowest_seconds > FASTEST_HAND_SECONDS:
        return [KeyFault("typed-by-hand", f"{text!r} came with {typed.slowest_seconds * 1000:.0f} ms between two keys: typed by hand?")]
    return [text.encode("ascii") + end]


@dataclass(frozen=True)
class CableMatch:
    """Which device is the cable: USB vendor and product, and its serial number where it has one."""

    vendor: int
    product: int
    serial_number: str | None = None


def open_cable(match: CableMatch) -> "InputDevice[str]":
    """Open and grab the one keyboard-type cable that matches, so that its keys reach no other window.

    Raises PortError when no device or more than one matches, when it would leave nobody a keyboard to type on, when the user has no
    rights on the input devices, or where there is no evdev (any system but Linux): then a focused input line must do.
    """
    try:
        import evdev
        from evdev import ecodes
    except ImportError as error:
        raise PortError("keyboard-type cables need Linux and evdev: elsewhere type into the focused input line") from error
    devices = [evdev.InputDevice(path) for path in evdev.list_devices()]
    chosen: evdev.InputDevice[str] | None = None
    try:
        if not devices:
            raise PortError("no input device can be read: add the user to the group that may read them (often 'input')")
        keyboards = [device for device in devices if ecodes.KEY_ENTER in device.capabilities().get(ecodes.EV_KEY, [])]
        matching = [
            device
            for device in keyboards
            if (device.info.vendor, device.info.product) == (match.vendor, match.product) and match.serial_number in (None, device.uniq)
        ]
        if len(matching) != 1:
            raise PortError(f"{len(matching)} input devices are {match.vendor:04x}:{match.product:04x}, expected exactly one")
        others = [device for device in keyboards if device is not matching[0]]
        if not any(ecodes.KEY_A in device.capabilities().get(ecodes.EV_KEY, []) for device in others):
            raise PortError(f"{matching[0].name} is the only keyboard here: it is not taken")
        matching[0].grab()
        chosen = matching[0]
    except OSError as error:
        if isinstance(error, PortError):
            raise
        raise PortError(f"the cable cannot be taken: {error.strerror}") from error
    finally:
        for device in devices:
            if device is not chosen:
                device.close()
    return chosen


class KeyEvent(Protocol):
    """One event of an input device, as evdev gives it."""

    type: int
    code: int
    value: int

    def timestamp(self) -> float: ...


class KeyDevice(Protocol):
    """What is used of evdev.InputDevice."""

    def fileno(self) -> int: ...
    def read(self) -> Iterable[KeyEvent]: ...
    def leds(self) -> Sequence[int]: ...
    def capabilities(self) -> dict[int, list[int]]: ...
    def ungrab(self) -> None: ...
    def close(self) -> None: ...


_EV_KEY, _EV_LED, _LED_NUM_LOCK = 0x01, 0x11, 0
_LOOK_SECONDS = 0.05


class KeyboardWorker(Worker):
    """Serves one keyboard-type cable. What the key layer throws away comes as a hint; whole lines come as events of `typed-line`.

    opener: how the cable is opened and grabbed; for tests. A device that sends letters is let go of for good: somebody types on it.
    """

    def __init__(
        self, settings: GaugeSettings, match: CableMatch, feed: Feed, *, clock: Clock = time.monotonic,
        retry_seconds: Sequence[float] = RETRY_SECONDS, opener: Callable[[CableMatch], KeyDevice] = open_cable,
    ) -> None:  # fmt: skip
        super().__init__(settings.name, feed, clock=clock, retry_seconds=retry_seconds)
        if settings.key != "typed-line":
            raise SettingError(f"format {settings.key} does not come through a keyboard, expected typed-line")
        self.decoder = settings.decoder()
        self._match = match
        self._opener = opener

    def _wake(self) -> None:
        """Nothing blocks for longer than a look."""

    def _serve(self) -> None:
        device = self._opener(self._match)
        try:
            # A device without the lamp keeps its own state, and is taken to be on.
            is_numlock_on = _EV_LED not in device.capabilities() or _LED_NUM_LOCK in device.leds()
            self._has_opened()
            self._listen(device, KeyLine(is_numlock_on=is_numlock_on))
        finally:
            # After an unplug both fail; the descriptor must go all the same, or it stays "readable" and spins a core.
            with contextlib.suppress(OSError):
                device.ungrab()
            with contextlib.suppress(OSError):
                device.close()

    def _listen(self, device: KeyDevice, line: KeyLine) -> None:
        last_key_time, last_seen = 0.0, self.clock()
        while not self.stopping.is_set():
            is_readable = bool(select.select([device.fileno()], [], [], _LOOK_SECONDS)[0])
            now = self.clock()
            if not is_readable:
                # Gaps go by the times of the events; between events our own clock carries them on.
                self._take_in(line.idle(last_key_time + now - last_seen), now)
                continue
            for event in device.read():
                if event.type == _EV_KEY:
                    last_key_time, last_seen = event.timestamp(), now
                    self._take_in(line.key(event.code, event.value, last_key_time), now)

    def _take_in(self, lines: Iterable[bytes | KeyFault], now: float) -> None:
        self._release(self.decoder)
        for line in lines:
            if isinstance(line, bytes):
                for event in self.decoder.feed(line):
                    self.feed.put(Received(self.name, event, now))
            else:
                self.feed.put(Hint(self.name, now, f"{line.code}: {line.detail}"))
                if line.has_letters:
                    self.feed.put(Hint(self.name, now, "letters came: somebody types on this device, so it was let go"))
                    self.stopping.set()
