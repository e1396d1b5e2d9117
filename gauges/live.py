"""Several gauges at once: their workers, and what their notices amount to: values to take, and trouble that is said once.

House rules: a value comes only from a gauge that is connected, fresh and steady; a fault is said once and counted from then on.
"""

import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from gauges.errors import SettingError
from gauges.feed import Back, Feed, Lost, Notice, Pressed, Received, Stale
from gauges.reading import Fault, Reading
from gauges.settings import GaugeSettings, Identity, PedalSettings
from gauges.settling import LATE_SECONDS, Agreement, NotSettled, Settled, Settler, SettleRule, rule_for
from gauges.worker import Worker


@dataclass(frozen=True)
class Value:
    """A value that a gauge has come to: steady, or sent by its own button (then `settled` is None)."""

    gauge: str
    reading: Reading
    settled: Settled | None


@dataclass(frozen=True)
class Trouble:
    """Something to tell, once. code: the fault's, where it is one. is_loss: the gauge has no value to give until it is back."""

    gauge: str
    text: str
    code: str | None = None
    is_loss: bool = False


@dataclass(frozen=True)
class Taken:
    """The pedal: take what is steady now."""

    gauge: str
    at: float


News = Value | Trouble | Taken


def worker_for(settings: GaugeSettings | PedalSettings, feed: Feed) -> Worker:
    """The worker that can serve it: a serial port, registers, a keyboard-type cable (its port is then an identity), or a pedal's line."""
    if isinstance(settings, PedalSettings):
        from gauges.ports import PedalWorker

        return PedalWorker(settings.name, settings.port, settings.line, feed)
    if settings.row.takes_address:
        from gauges.registers import RegisterWorker

        return RegisterWorker(settings, feed)
    if settings.key == "typed-line" and isinstance(settings.port, Identity):
        from gauges.keyboard import CableMatch, KeyboardWorker

        match = CableMatch(settings.port.vendor, settings.port.product, settings.port.serial_number)
        return KeyboardWorker(settings, match, feed)
    from gauges.ports import PortWorker

    return PortWorker(settings, feed)


class LiveGauge:
    """Follows one gauge: a settler for each channel, or two frames that agree where it sends by a button or when asked."""

    def __init__(self, settings: GaugeSettings) -> None:
        self.settings = settings
        row = settings.row
        self._is_streaming = settings.is_streaming
        self._rule = _rule_of(settings)
        self._settlers: dict[str | None, Settler] = {}
        # One pull, one press: the next frame is another value, so nothing can agree with it; it is read back aloud instead.
        self._agreement = Agreement(needs_agreement=row.needs_agreement and not row.is_event)
        self._last_value: dict[str | None, Settled | None] = {}
        self._was_away = False
        self._wanted_unit: str | None = None
        self._is_held = False
        self.faults: Counter[str] = Counter()

    def absorb(self, notice: Notice) -> list[News]:
        """Take in a notice of this gauge; gives what is worth telling."""
        name = self.settings.name
        if isinstance(notice, Received):
            return self._received(notice)
        if isinstance(notice, Pressed):
            return [Taken(name, notice.at)]
        if isinstance(notice, Lost | Stale):
            self._was_away = self._was_away or isinstance(notice, Lost)
            for settler in self._settlers.values():
                settler.lost(notice.at)
                # Silence alone asks for no zero check, but one that is due stays due.
                if not self._was_away:
                    settler.acknowledge_return()
            self._last_value.clear()
            return [Trouble(name, f"{'lost' if isinstance(notice, Lost) else 'stale'}: {notice.reason}", is_loss=True)]
        if isinstance(notice, Back):
            if not notice.is_certain:
                return [Trouble(name, "back, known by its socket only: move it, to see that it is this one, and check its zero")]
            return [Trouble(name, "back: check its zero before the next value" if notice.needs_zero_check else "back")]
        return [Trouble(name, notice.text)]

    def take(self, onset: float, now: float, channel: str | None = None) -> Settled | NotSettled:
        """The value that a word which began at `onset` means; see `Settler.take`. channel: needed when several are live."""
        if channel is None and len(self._settlers) == 1:
            channel = next(iter(self._settlers))
        if not self._settlers:
            return NotSettled("no reading yet", is_final=now > onset + LATE_SECONDS)
        settler = self._settlers.get(channel)
        if settler is None:
            seen = ", ".join(str(key) for key in self._settlers) or "none"
            return NotSettled(f"{self.settings.name}: channel {channel} has no reading; seen: {seen}", is_final=True)
        return settler.take(onset, now)

    def acknowledge_return(self) -> None:
        """After a loss: the technician has checked the gauge."""
        self._was_away = False
        for settler in self._settlers.values():
            settler.acknowledge_return()

    def change_unit(self, unit: str) -> None:
        """The technician switched it: what was steady in the old unit is forgotten, and what is still on its way in it is not taken."""
        self._wanted_unit = unit
        self._settlers.clear()
        self._last_value.clear()
        self._agreement = Agreement(needs_agreement=self.settings.row.needs_agreement and not self.settings.row.is_event)
        self.faults.pop("unit-change", None)

    def is_stuck(self, now: float) -> bool:
        """Whether some channel has not moved for 30 s."""
        return any(settler.is_stuck(now) for settler in self._settlers.values())

    def _received(self, notice: Received) -> list[News]:
        event, at, name = notice.event, notice.at, self.settings.name
        if not isinstance(event, Fault) and self.settings.channel is not None and event.channel not in (None, self.settings.channel):
            return []
        if isinstance(event, Reading) and self._wanted_unit not in (None, event.unit):
            return []  # decoded before the lock was released
        if isinstance(event, Fault):
            self.faults[event.code] += 1
            for each in self._settlers.values():
                each.add(event, at)
            self._agreement.add(event, at)
            return [Trouble(name, event.detail, event.code)] if self.faults[event.code] == 1 else []
        if not isinstance(event, Reading):
            if event.is_deletion:
                return [Trouble(name, "takes its last value back: say undo if that was yours")]
            if event.is_battery_low and not self.faults["battery low"]:
                self.faults["battery low"] += 1
                return [Trouble(name, "battery low: its values stay valid")]
            for channel, each in self._settlers.items():
                if event.channel in (None, channel):
                    each.add(event, at)
            return []
        return [*self._hold_told(event), *self._value(event, at)]

    def _hold_told(self, event: Reading) -> list[News]:
        """A display on hold shows a value of before: told once each time."""
        was_held, self._is_held = self._is_held, "hold" in event.marks
        return [Trouble(self.settings.name, "on hold: what it shows is a kept value")] if self._is_held and not was_held else []

    def _value(self, event: Reading, at: float) -> list[News]:
        name = self.settings.name
        if not self._is_streaming:
            agreed = self._agreement.add(event, at)
            return [] if agreed is None else [Value(name, agreed, None)]
        settler = self._settlers.get(event.channel)
        if settler is None:
            settler = self._settlers[event.channel] = Settler(self._rule)
            if self._was_away:
                settler.lost(at)
        settled = settler.add(event, at)
        last, self._last_value[event.channel] = self._last_value.get(event.channel), settled
        if settled is None or (last is not None and last.reading.value == settled.reading.value):
            return []
        return [Value(name, settled.reading, settled)]


def _rule_of(settings: GaugeSettings) -> SettleRule:
    """The family's rule, with what is known of this very gauge."""
    rule = rule_for(settings.row)
    silent = rule.silent_seconds if settings.silent_seconds is None else settings.silent_seconds
    return replace(rule, silent_seconds=silent, range_end=settings.range_end, step=settings.step)


class Live:
    """All gauges and pedals of a bench. start them, `next_news` until done, stop them."""

    def __init__(
        self, gauges: Sequence[GaugeSettings | PedalSettings], *, feed: Feed | None = None,
        make_worker: Callable[[GaugeSettings | PedalSettings, Feed], Worker] = worker_for,
    ) -> None:  # fmt: skip
        names = [settings.name for settings in gauges]
        if len(set(names)) < len(names):
            raise SettingError(f"two gauges of one name among {', '.join(names)}: expected each name once")
        self.feed = Feed() if feed is None else feed
        self.gauges = {settings.name: LiveGauge(settings) for settings in gauges if isinstance(settings, GaugeSettings)}
        self._workers = {settings.name: make_worker(settings, self.feed) for settings in gauges}

    def start(self) -> None:
        """Start every worker."""
        for worker in self._workers.values():
            worker.start()

    def stop(self) -> None:
        """Stop every worker: all are told before any is waited for."""
        for worker in self._workers.values():
            worker.stopping.set()
        for worker in self._workers.values():
            worker.stop()

    def change_unit(self, name: str, unit: str) -> None:
        """The technician has switched a gauge to another unit, and said so: only that unit locks again."""
        self._workers[name].change_unit(unit)
        self.gauges[name].change_unit(unit)

    def next_news(self, timeout_seconds: float) -> list[News]:
        """What the next notice amounts to; empty when none comes in time, or when it is not worth telling."""
        notice = self.feed.get(timeout_seconds)
        return [] if notice is None else self.absorb(notice)

    def absorb(self, notice: Notice) -> list[News]:
        """What a notice out of `feed` amounts to, for a caller that takes them out itself."""
        gauge = self.gauges.get(notice.gauge)
        if gauge is not None:
            return gauge.absorb(notice)
        # A pedal: it has presses, and can be lost.
        if isinstance(notice, Pressed):
            return [Taken(notice.gauge, notice.at)]
        if isinstance(notice, Lost):
            return [Trouble(notice.gauge, f"lost: {notice.reason}", is_loss=True)]
        return [Trouble(notice.gauge, "back")] if isinstance(notice, Back) else []

    def take(self, name: str, onset: float, channel: str | None = None) -> Settled | NotSettled:
        """As `LiveGauge.take`, now."""
        return self.gauges[name].take(onset, time.monotonic(), channel)
