"""The gauges of a bench, live: what is steady when somebody says "take", what their own buttons send, and what has to be told of them.

Rules:
- One thread follows all gauges; it only takes notices in and hands on. Whoever asks is answered at once, or when the value has settled,
  within two seconds of the word, and is told that it is late.
- The value that counts is the one at the onset of the word or press, never the one when it was understood.
- What one value is depends on what is measured (docs/gauges.md): a backlash is the way between two settled ends, a runout the highest
  minus the lowest of a whole turn, a drag the mean of one, a tightening torque the peak of a pull; anything else is the settled value.
- A gauge never measures what it is not for, a value after a loss is never taken before its zero was checked, and nothing is converted.
"""

import threading
import time
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal

from assistant.core.axle import QUANTITIES
from assistant.core.errors import BadInputError
from assistant.core.inputs import Taken, Zeroed
from assistant.core.phrases import Phrases
from assistant.core.quantities import Quantity, unit_named
from assistant.core.words import Command, gauge_named
from assistant.files import phrases_for
from gauges.errors import SettingError
from gauges.feed import Lost, Notice, Received, Stale
from gauges.live import Live, Trouble, Value
from gauges.live import Taken as Stepped
from gauges.movement import FEWEST_TURNS, Void, peak, swing, total_reading, turning_resistance
from gauges.reading import UNITS, Event, Fault, Reading
from gauges.settings import GaugeSettings, PedalSettings
from gauges.settling import LINE_DAMAGE, NotSettled, Settled

Part = GaugeSettings | PedalSettings
Clock = Callable[[], float]

_DIALS = ("backlash", "baseline_backlash", "ring_runout", "spread")
_SIZES = ("shim_thickness", "stack_thickness", "old_stack_thickness", "bore_diameter")
_DRAGS = ("pinion_drag", "seal_drag", "carrier_drag", "total_drag", "baseline_total_drag")
_TIGHTENINGS = ("nut_torque", "cap_torque")
# What a gauge under each of the interface's channels measures; under another name, its entry in the settings file says it (`uses`).
MEASURES: dict[str, tuple[str, ...]] = {
    "dial": _DIALS,
    "torque": (*_DRAGS, *_TIGHTENINGS),
    "micrometer": (*_SIZES, "pinion_depth"),
    "caliper": (*_SIZES, "spread"),
    "depth": ("pinion_depth", "plane_to_bore"),
}
_SWINGS = ("backlash", "baseline_backlash")
_TURNS = ("ring_runout",)
_LOOK_SECONDS = 0.1
# A window that nobody closes must not fill the memory: two minutes of fifty readings a second. A full one gives no value.
MOST_EVENTS = 6000


# ---- the station: any gauges, whatever they measure


@dataclass(frozen=True)
class News:
    """Something to tell. is_loss: a gauge or a pedal is gone. is_damage: only the line; it needs no voice."""

    text: str
    is_loss: bool = False
    is_damage: bool = False


@dataclass(frozen=True)
class Sent:
    """A value that a gauge's own button sent, or one pull of a torque tool."""

    gauge: str
    reading: Reading
    at: float


@dataclass(frozen=True)
class Pressed:
    """A foot pedal, or a hand switch."""

    at: float


FromStation = News | Sent | Pressed
Answer = Callable[[Settled | NotSettled], None]


@dataclass(frozen=True)
class _Asked:
    gauge: str
    onset: float
    then: Answer


class Station:
    """All gauges and pedals of a bench, and the thread that follows them. start it, ask it, close it."""

    def __init__(
        self, parts: Sequence[Part], give: Callable[[FromStation], None], *, live: Live | None = None, clock: Clock = time.monotonic,
        phrases: Phrases | None = None,
    ) -> None:  # fmt: skip
        """give: gets what happens by itself, in the station's thread. live: made of `parts` unless given (for tests). phrases: what is told, in
        which language; English unless given.

        Raises BadInputError for two of one name.
        """
        try:
            self._live = Live(parts) if live is None else live
        except SettingError as error:
            raise BadInputError(str(error)) from error
        self.settings = {part.name: part for part in parts if isinstance(part, GaugeSettings)}
        self.phrases = phrases or phrases_for()
        self._give = give
        self._clock = clock
        self._lock = threading.Lock()
        self._asked: list[_Asked] = []
        self._watched: dict[str, list[Event]] = {}
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._run, name="gauges", daemon=True)

    def start(self) -> None:
        """Open the ports and begin to follow."""
        self._live.start()
        self._thread.start()

    def close(self) -> None:
        """Let go of the ports."""
        self._closing.set()
        if self._thread.is_alive():
            self._thread.join()
        self._live.stop()

    def ask(self, gauge: str, onset: float, then: Answer) -> Settled | NotSettled | None:
        """The value that a word which began at `onset` means; None where that isn't known yet: `then` gets it, in the station's thread."""
        with self._lock:
            found = self._found(gauge, onset)
            if found is None:
                self._asked.append(_Asked(gauge, onset, then))
        return found

    def watch(self, gauge: str) -> None:
        """From now on keep every event of this gauge, until `watched`."""
        with self._lock:
            self._watched[gauge] = []

    def watched(self, gauge: str) -> list[Event]:
        """The events since `watch`; nothing more is kept."""
        with self._lock:
            return self._watched.pop(gauge, [])

    def acknowledge_return(self, gauge: str) -> None:
        """The technician has checked the gauge after a loss."""
        with self._lock:
            self._live.gauges[gauge].acknowledge_return()

    def change_unit(self, gauge: str, unit: str) -> None:
        """The technician has switched a gauge to another unit (of the interface), and said so: only that unit locks again."""
        with self._lock:
            self._live.change_unit(gauge, next((sent for sent in UNITS if unit_named(sent).symbol == unit), unit))

    def is_stuck(self, gauge: str) -> bool:
        """Whether it has not moved by one count for 30 s."""
        with self._lock:
            return self._live.gauges[gauge].is_stuck(self._clock())

    def faults(self) -> dict[str, dict[str, int]]:
        """How often each fault was seen, for each gauge that had any."""
        with self._lock:
            return {name: dict(gauge.faults) for name, gauge in self._live.gauges.items() if gauge.faults}

    @property
    def dropped(self) -> int:
        """How many notices were lost because nobody took them: zero on a bench that keeps up."""
        return self._live.feed.dropped

    def absorb(self, notice: Notice) -> None:
        """Take one notice in, and hand on what it amounts to. (The station's thread calls it; tests may.)"""
        with self._lock:
            kept = self._watched.get(notice.gauge)
            if kept is not None and len(kept) < MOST_EVENTS:
                if isinstance(notice, Received):
                    if not self._is_of_another_channel(notice.gauge, notice.event):
                        kept.append(notice.event)
                elif isinstance(notice, Lost | Stale):
                    # What moved meanwhile, nobody saw.
                    kept.append(Fault("gauge-error", "it was away"))
            news = self._live.absorb(notice)
        for one in news:
            if isinstance(one, Trouble):
                key = "is" if one.is_loss or one.text.startswith("back") else "says"
                text = self.phrases.reason(one.text)
                told = self.phrases.sentence(f"gauge.{key}", gauge=self.phrases.choice(one.gauge), text=text)
                self._give(News(told, one.is_loss, one.code in LINE_DAMAGE))
            elif isinstance(one, Stepped):
                self._give(Pressed(one.at))
            elif isinstance(one, Value) and one.settled is None:
                self._give(Sent(one.gauge, one.reading, notice.at))
        self.look()

    def _is_of_another_channel(self, gauge: str, event: Event) -> bool:
        chosen = self.settings[gauge].channel
        return isinstance(event, Reading) and chosen is not None and event.channel not in (None, chosen)

    def look(self) -> None:
        """Answer whoever was waiting and can be answered now."""
        with self._lock:
            answered = [(asked, found) for asked in self._asked if (found := self._found(asked.gauge, asked.onset)) is not None]
            self._asked = [asked for asked in self._asked if all(asked is not one for one, _ in answered)]
        for asked, found in answered:
            asked.then(found)

    def _found(self, gauge: str, onset: float) -> Settled | NotSettled | None:
        found = self._live.gauges[gauge].take(onset, self._clock())
        return found if isinstance(found, Settled) or found.is_final else None

    def _run(self) -> None:
        while not self._closing.is_set():
            notice = self._live.feed.get(_LOOK_SECONDS)
            if notice is None:
                self.look()
            else:
                self.absorb(notice)


def identity_text(settings: GaugeSettings, reading: Reading) -> str:
    """Which gauge it was, for the record: its name, family, port and resolution."""
    port = settings.port
    if isinstance(port, str):
        from gauges.ports import identity_of

        port = identity_of(port) or port
    channel = f", channel {reading.channel}" if reading.channel is not None else ""
    return f"{settings.name}: {settings.key} at {port}{channel}, steps of {settings.step or reading.count} {reading.unit}"


# ---- what one value is

Kind = Literal["settled", "swing", "turn", "drag", "pull", "zero"]


@dataclass(frozen=True)
class Late:
    """An answer that was waited for; hand it to `completed`. place: what was waited for when it was asked."""

    place: Hashable
    kind: Kind
    gauge: str
    found: Settled | NotSettled


@dataclass
class _Open:
    """A value that takes two words: it was begun at this place, by this gauge."""

    place: Hashable
    gauge: str
    first: Settled | None = None


class Takes:
    """What "take" gives, of each kind of value. Its calls come from one thread, that of whoever asks.

    tells_unmoved: whether whoever asks judges for itself that a gauge has not moved; else it is asked about here, once.
    """

    tells_unmoved = False

    def __init__(self, station: Station, give: Callable[[Late], None]) -> None:
        """give: gets a late answer, in the station's thread."""
        self.station, self.phrases = station, station.phrases
        self._give_late = give
        self._open: _Open | None = None
        self._last: dict[str, Decimal] = {}
        self._warned: tuple[Hashable, str] | None = None
        self._zeros: dict[str, Reading] = {}
        self._offered_zero: dict[str, Reading] = {}
        self._zero_gone: set[str] = set()

    def start(self) -> None:
        """Open the ports."""
        self.station.start()

    def close(self) -> None:
        """Let go of the ports."""
        self.station.close()

    def measure(self, kind: Kind, gauge: str, onset: float, place: Hashable) -> Taken | str | None:
        """What "take", said or pressed at `onset`, means for a value of this kind.

        Gives the reading; or what to tell (why there is none, or what to do for the second half of it); or None: a `Late` will come.
        place: what is waited for; a value that was begun at another place is forgotten.
        """
        settings = self.station.settings[gauge]
        if not settings.is_streaming:
            return self._told("own_button", gauge)
        if self._open is not None and (self._open.place, self._open.gauge) != (place, gauge):
            self._open = None
        if kind in ("turn", "drag", "pull"):
            return self._motion(kind, settings, place)
        found = self.station.ask(gauge, onset, lambda late: self._give_late(Late(place, kind, gauge, late)))
        return None if found is None else self._settled(kind, settings, found, place)

    def zero(self, kind: Kind, gauge: str, onset: float, place: Hashable) -> Zeroed | str | None:
        """What "zero the gauge" means where a value of this kind is wanted: its values are to count from where it is steady.

        Gives the offset, which counts once `set_zero` says that it was confirmed; or what to tell; or None: a `Late` of the kind "zero" will come.
        """
        settings = self.station.settings[gauge]
        if not settings.is_streaming:
            return self._told("zero_own_key", gauge)
        if kind != "settled" and not (kind == "swing" and settings.is_zeroed):
            return self._told("needs_no_zero", gauge)
        found = self.station.ask(gauge, onset, lambda late: self._give_late(Late(place, "zero", gauge, late)))
        return None if found is None else self._zeroed(gauge, found)

    def _zeroed(self, gauge: str, found: Settled | NotSettled) -> Zeroed | str:
        if isinstance(found, NotSettled):
            return self._told("not_steady", gauge, reason=self.phrases.reason(found.reason))
        self._offered_zero[gauge] = found.reading
        return Zeroed(gauge, Quantity(found.reading.value, found.reading.unit))

    def set_zero(self, gauge: str) -> None:
        """The zero that `zero` gave last was confirmed; it comes off from now on, and stands for the zero check after a loss."""
        if gauge in self._offered_zero:
            self.station.acknowledge_return(gauge)
            self._zero_gone.discard(gauge)
            self._zeros[gauge] = self._offered_zero.pop(gauge)

    def opening(self, held: Mapping[str, str]) -> list[str]:
        """What has to be known before the first value: the unit of each gauge whose frames carry none. held: those that a job holds them to."""
        told = []
        for name, settings in self.station.settings.items():
            if settings.row.needs_unit and settings.unit is not None:
                unit = held.get(name) or unit_named(settings.unit).symbol
                told.append(self._told("counts_in", name, unit=self.phrases.say_unit(unit)))
        return told

    def zero_is_gone(self, gauge: str) -> None:
        """It was zeroed by word in an earlier run, and nobody knows where it counts from now: it is asked about before its next value."""
        if gauge in self.station.settings and gauge not in self._zeros:
            self._zero_gone.add(gauge)

    def completed(self, late: Late, place: Hashable) -> Taken | Zeroed | str | None:
        """What a late answer amounts to; None when something else is waited for by now."""
        if late.place != place:
            return None
        if late.kind == "zero":
            return self._zeroed(late.gauge, late.found)
        return self._settled(late.kind, self.station.settings[late.gauge], late.found, place)

    def switch(self, gauge: str, unit: str) -> None:
        """A gauge was switched to this unit: its lock holds that from now on, and nothing of before is compared with."""
        self._forget(gauge)
        self.station.change_unit(gauge, unit)

    def _forget(self, gauge: str) -> None:
        """What was begun with this gauge, or last read of it, is no end, no zero and no comparison any more."""
        self._last.pop(gauge, None)
        self._zeros.pop(gauge, None)
        if self._open is not None and self._open.gauge == gauge:
            self._open = None

    def by_button(self, sent: Sent) -> Taken:
        """A value that a gauge's own button sent."""
        return self._reading(self.station.settings[sent.gauge], sent.reading, (sent.reading,), "sent by its button")

    def _settled(self, kind: Kind, settings: GaugeSettings, found: Settled | NotSettled, place: Hashable) -> Taken | str:
        gauge = settings.name
        if isinstance(found, NotSettled):
            return self._told("not_steady", gauge, reason=self.phrases.reason(found.reason))
        if found.is_first_after_return:
            self.station.acknowledge_return(gauge)
            # It may count from another zero now: an end that was read before is no end any more.
            self._open = None
            self._zeros.pop(gauge, None)
            return self._told("was_away", gauge)
        if gauge in self._zero_gone:
            self._zero_gone.discard(gauge)
            return self._told("zero_gone", gauge)
        value = found.reading.value
        is_unmoved = self._last.get(gauge) == value and self.station.is_stuck(gauge)
        if is_unmoved and not self.tells_unmoved and self._warned != (place, gauge):
            self._warned = (place, gauge)
            return self._told("unmoved", gauge)
        if kind == "swing" and not settings.is_zeroed:
            return self._swing(settings, found, place)
        self._last[gauge] = value
        how = f"settled for {found.until - found.since:.1f} s, {found.count} readings{', after the word' if found.is_late else ''}"
        zero = self._zeros.get(gauge)
        if zero is not None:
            how += f"; {found.reading.text} less {zero.text}, where it was zeroed by word"
            value -= zero.value
        # Which way the dial turns says nothing about the size of a swing from zero.
        taken = self._reading(settings, found.reading, (found.reading,), how, abs(value) if kind == "swing" else value)
        return replace(taken, unmoved=is_unmoved and self.tells_unmoved)

    def _swing(self, settings: GaugeSettings, found: Settled, place: Hashable) -> Taken | str:
        if self._open is None or self._open.first is None:
            self._open = _Open(place, settings.name, found)
            value = self.phrases.say(Quantity(found.reading.value, found.reading.unit))
            return self._told("one_end", settings.name, value=value)
        first, self._open = self._open.first, None
        result = swing(first, found)
        if isinstance(result, Void):
            return self._told("swing_again", settings.name, reason=self.phrases.reason(result.reason))
        self._last[settings.name] = found.reading.value
        ends = (first.reading, found.reading)
        how = f"from {ends[0].text} to {ends[1].text}, each settled{', the second after the word' if found.is_late else ''}"
        return self._reading(settings, found.reading, ends, how, abs(result.value))

    def _motion(self, kind: Kind, settings: GaugeSettings, place: Hashable) -> Taken | str:
        """A value of something that moves: the first word begins it, the second ends it."""
        gauge = settings.name
        if self._open is None:
            self._open = _Open(place, gauge)
            self.station.watch(gauge)
            return self._told(f"begin_{kind}", gauge)
        self._open = None
        events = self.station.watched(gauge)
        if len(events) >= MOST_EVENTS:
            return self._again(gauge, self._told("too_long", gauge))
        faults = [event for event in events if isinstance(event, Fault)]
        # A refused frame may have been the peak; a turn looks at its neighbours, and a mean does not mind.
        spoiled = next((fault for fault in faults if kind == "pull" or fault.code not in LINE_DAMAGE), None)
        if spoiled is not None:
            return self._again(gauge, self._told("said_meanwhile", gauge, code=spoiled.code, detail=spoiled.detail))
        readings = [event for event in events if isinstance(event, Reading)]
        if kind == "turn":
            turn = total_reading(_moving(events), needs_agreement=settings.row.needs_agreement)
            if isinstance(turn, Void):
                return self._again(gauge, turn.reason)
            how = f"{turn.high.text} minus {turn.low.text}, {turn.per_turn} readings in a turn, at most {turn.missed_percent} % missed"
            return self._reading(settings, turn.high, (turn.high, turn.low), how, turn.value)
        if kind == "pull":
            top = peak(readings, range_end=settings.range_end)
            return (
                self._again(gauge, top.reason)
                if isinstance(top, Void)
                else self._reading(settings, top, (top,), "peak of a pull", abs(top.value))
            )
        drag = turning_resistance(_turning(readings), turns=FEWEST_TURNS, fewest=_FEWEST_OF_A_DRAG)
        if isinstance(drag, Void):
            return self._again(gauge, drag.reason)
        how = f"mean of {drag.count} readings turning; breakaway {drag.breakaway.text} {drag.unit}"
        return self._reading(settings, drag.breakaway, (drag.breakaway,), how, abs(drag.mean))

    def _told(self, key: str, gauge: str, **values: str) -> str:
        """A sentence about a gauge."""
        return self.phrases.sentence(f"gauge.{key}", **{"gauge": self.phrases.choice(gauge), **values})

    def _again(self, gauge: str, reason: str) -> str:
        return self._told("again", gauge, reason=self.phrases.reason(reason))

    def _reading(self, settings: GaugeSettings, reading: Reading, raws: Sequence[Reading], how: str, value: Decimal | None = None) -> Taken:
        quantity = Quantity(reading.value if value is None else value, reading.unit)
        raw = " ".join(one.raw.hex() for one in raws)
        return Taken(settings.name, quantity, f"{identity_text(settings, reading)}; {how}", raw)


# 36 readings in the turn, and those of the overlap.
_FEWEST_OF_A_DRAG = int(36 * FEWEST_TURNS)


def _turning(readings: Sequence[Reading]) -> Sequence[Reading]:
    """The readings up to where the part was let go: the fall to zero is no drag."""
    sizes = sorted(abs(reading.value) for reading in readings)
    let_go = sizes[len(sizes) // 2] / 5 if sizes else Decimal(0)
    last = next((index for index in range(len(readings), 0, -1) if abs(readings[index - 1].value) > let_go), 0)
    return readings[:last]


def _moving(events: Sequence[Event]) -> Sequence[Event]:
    """The events without the rest before and after the turn: readings at rest are no readings of the turn."""
    places = [(index, event) for index, event in enumerate(events) if isinstance(event, Reading)]
    if not places:
        return events
    (_, first), (_, last) = places[0], places[-1]
    begins = next((index for index, event in places if abs(event.value - first.value) > event.count), len(events))
    ends = next((index for index, event in reversed(places) if abs(event.value - last.value) > event.count), -1)
    return events[max(0, begins - 1) : ends + 2]


# ---- the job


class JobGauges(Takes):
    """The gauges of a job: which of them measures a step's quantity, and what kind of value that is."""

    tells_unmoved = True

    def __init__(
        self, parts: Sequence[Part], give: Callable[[FromStation | Late], None], *, station: Station | None = None,
        phrases: Phrases | None = None,
    ) -> None:  # fmt: skip
        """give: gets what happens by itself. Raises BadInputError for a gauge of which nobody knows what it measures."""
        super().__init__(Station(parts, give, phrases=phrases) if station is None else station, give)
        self._measures: dict[str, tuple[str, ...]] = {}
        for name, settings in self.station.settings.items():
            self._measures[name] = settings.uses or MEASURES.get(name, ())
            if not self._measures[name]:
                raise BadInputError(
                    f"gauge {name!r}: nobody knows what it measures, expected one of {', '.join(MEASURES)}, or `uses` in its settings"
                )

    def change_unit(self, gauge: str, unit: str) -> None:
        """A gauge (empty: all that can) was switched to this unit. One that isn't here any more is none of ours."""
        for name in self._in_unit(unit):
            if gauge in ("", gauge_named(name)):
                self.switch(name, unit)

    def switched(self, command: Command, quantity: str | None) -> str | None:
        """The gauge of this bench that "change unit" means, in plain words; None where that cannot be told.

        The one that was named; else the one that measures what is waited for; else the only one of that kind.
        """
        able = self._in_unit(command.argument or "")
        if command.gauge is not None:
            return next((gauge_named(name) for name in able if gauge_named(name) == command.gauge), None)
        here = self.gauge_for(quantity)
        chosen = here if here in able else able[0] if len(able) == 1 else None
        return None if chosen is None else gauge_named(chosen)

    def _in_unit(self, unit: str) -> list[str]:
        """The gauges that can show this unit, by what they measure."""
        dimension = unit_named(unit).dimension
        return [name for name, quantities in self._measures.items() if any(QUANTITIES[one] is dimension for one in quantities)]

    def gauge_for(self, quantity: str | None) -> str | None:
        """The gauge that measures this quantity; None when none does."""
        return next((name for name, quantities in self._measures.items() if quantity in quantities), None)

    def zeroed(self, quantity: str, onset: float, place: Hashable) -> Zeroed | str | None:
        """As `zero`, by the gauge that measures this quantity."""
        gauge = self.gauge_for(quantity)
        return self._told("measures_nothing", "") if gauge is None else self.zero(kind_of(quantity), gauge, onset, place)

    def taken(self, quantity: str, onset: float, place: Hashable) -> Taken | str | None:
        """As `measure`, by the gauge that measures this quantity."""
        gauge = self.gauge_for(quantity)
        return self._told("say_value", "") if gauge is None else self.measure(kind_of(quantity), gauge, onset, place)

    def sent(self, sent: Sent, quantity: str | None) -> Taken | str:
        """What a value that a button sent means where this quantity is waited for (None: no reading is)."""
        if quantity is not None and quantity not in self._measures[sent.gauge]:
            other = self.gauge_for(quantity)
            if other is None:
                return self._told("use_none", sent.gauge)
            return self._told("use_other", sent.gauge, other=self.phrases.choice(other))
        if quantity in _DRAGS and self.station.settings[sent.gauge].row.is_event:
            return self._told("sends_peak", sent.gauge)
        return self.by_button(sent)


def kind_of(quantity: str) -> Kind:
    """What one value of a quantity is."""
    if quantity in _SWINGS:
        return "swing"
    if quantity in _TURNS:
        return "turn"
    return "drag" if quantity in _DRAGS else "pull" if quantity in _TIGHTENINGS else "settled"
