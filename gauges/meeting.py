"""The first meeting with a gauge: ten steps, each an instruction and a judgement of what was heard meanwhile. Pure; nothing is sent to it.

House rules: what an instrument cannot do or does not show is noted as "cannot be seen", never guessed; a value that is wrong on a block ends
the meeting, because no setting but the right one may be kept.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction

from gauges.feed import Back, Lost, Notice, Received, Stale
from gauges.probing import FEWEST_FRAMES, FEWEST_SHARE, step_of
from gauges.reading import Fault, Reading
from gauges.settings import GaugeSettings
from gauges.settling import LINE_DAMAGE, SILENT_SECONDS

UNSEEN = "cannot be seen"
_MM_PER_INCH = Fraction(254, 10)
# How soon a pulled plug must be told.
_TOLD_SECONDS = 2.0


@dataclass(frozen=True)
class Finding:
    """What a step found. text: for the record. is_ok: False ends the meeting. settings: with what the step has learnt."""

    text: str
    is_ok: bool
    settings: GaugeSettings


@dataclass(frozen=True)
class Again:
    """The step cannot be judged yet. text: what was seen, what was expected, what to do."""

    text: str


@dataclass(frozen=True)
class Heard:
    """All that came while a step was done, and what is known by then. block: the size of the gauge block, in the unit of the settings."""

    settings: GaugeSettings
    notices: Sequence[Notice]
    block: Decimal | None = None

    @property
    def readings(self) -> list[Reading]:
        """The exact values, in order."""
        return [notice.event for notice in self.notices if isinstance(notice, Received) and isinstance(notice.event, Reading)]

    @property
    def faults(self) -> list[Fault]:
        """The refused frames, in order."""
        return [notice.event for notice in self.notices if isinstance(notice, Received) and isinstance(notice.event, Fault)]

    @property
    def last(self) -> Reading | None:
        """The last value."""
        return self.readings[-1] if self.readings else None

    def found(self, text: str, **learnt: object) -> Finding:
        """A finding that lets the meeting go on."""
        return Finding(text, True, replace(self.settings, **learnt))  # type: ignore[arg-type]  # each step names fields of the settings


_NOTHING = Again("nothing came: does it send by itself? If it has a data button, press it; then say done")


def _exact(heard: Heard) -> Finding | Again:
    frames, damaged = len(heard.readings), sum(fault.code in LINE_DAMAGE for fault in heard.faults)
    if not frames:
        return _NOTHING
    share = Fraction(frames, frames + damaged)
    text = f"{frames} exact frames, {damaged} damaged"
    if frames < FEWEST_FRAMES:
        return Again(f"{text}, expected at least {FEWEST_FRAMES} exact ones: let it send a little longer")
    if share < Fraction(str(FEWEST_SHARE)):
        return Finding(f"{text}: the format, the speed, the parity or the plug is not right", False, heard.settings)
    channels = {reading.channel for reading in heard.readings}
    if len(channels) > 1:
        names = ", ".join(sorted(str(channel) for channel in channels))
        return Finding(f"it sends several channels ({names}): meet each by its own, with --channel", False, heard.settings)
    return heard.found(f"{text}, {float(share):.0%} exact")


def _zero(heard: Heard) -> Finding | Again:
    if heard.last is None:
        return _NOTHING
    if abs(heard.last.value) > heard.last.count:
        return Again(f"it reads {heard.last.text} {heard.last.unit}, expected zero: set it to zero first")
    return heard.found(f"zero reads {heard.last.text} {heard.last.unit}")


# What a wrong setting makes of a size, and what it means.
_SLIPS = (
    (Fraction(2), "a leading bit is counted, or a factor of two is switched on"),
    (Fraction(1, 2), "a radius is shown for a diameter"),
    (_MM_PER_INCH, "inches are taken for millimetres, or the reverse"),
    (1 / _MM_PER_INCH, "inches are taken for millimetres, or the reverse"),
    (Fraction(10), "a decimal is out of place"),
    (Fraction(1, 10), "a decimal is out of place"),
    (Fraction(-1), "the sign is turned round"),
    (Fraction(65536), "the two words of the value are in the other order"),
)


def _block(heard: Heard) -> Finding | Again:
    if heard.block is None:
        return Again("type the size of the block, in the unit of the gauge, such as 10.000")
    if heard.last is None:
        return _NOTHING
    reading, block = heard.last, heard.block
    seen = f"the block of {block} {reading.unit} reads {reading.text}"
    if abs(reading.value - block) <= reading.count:
        return heard.found(f"{seen}: right to one count")
    ratio = Fraction(reading.value) / Fraction(block)
    why = next(
        (told for factor, told in _SLIPS if abs(ratio / factor - 1) < Fraction(1, 100)), "is it clean, square and at zero without it?"
    )
    return Finding(f"{seen}, expected {block} to one count: {why}", False, heard.settings)


def _unit(heard: Heard) -> Finding | Again:
    codes = {fault.code for fault in heard.faults} & {"unit-change", "decimals-change", "width-change"}
    if not heard.readings and not heard.faults:
        return _NOTHING
    if codes:
        if heard.last is None:
            return Again("the other unit was seen and refused, and nothing else came since: switch it back, then say done")
        return heard.found(f"the other unit is seen ({', '.join(sorted(codes))}) and refused until it is back")
    return heard.found(f"{UNSEEN}: the unit key must stay alone while it is used")


def _sign(heard: Heard) -> Finding | Again:
    if len(heard.readings) < 2:
        return _NOTHING
    way = heard.readings[-1].value - heard.readings[0].value
    if abs(way) < 10 * heard.readings[0].count:
        return Again(f"it moved by {way} {heard.readings[0].unit} only: move it further inward")
    found, step = f"inward counts {'up' if way > 0 else 'down'}", step_of(heard.readings)
    if step is None or step == heard.readings[0].count:
        return heard.found(found)
    return heard.found(f"{found}, in steps of {step} {heard.readings[0].unit}", step=step)


def _zero_key(heard: Heard) -> Finding | Again:
    if any(fault.code == "offset-change" for fault in heard.faults):
        return heard.found("the zero key moves the counts against each other: seen, and refused until it is begun anew")
    if not heard.readings:
        return _NOTHING
    first, last = heard.readings[0], heard.readings[-1]
    if abs(last.value) <= last.count < abs(first.value):
        return heard.found(f"the zero key takes {first.text} to {last.text} {last.unit}")
    return heard.found(f"{UNSEEN}: it reads {last.text} {last.unit} as before")


def _range(heard: Heard) -> Finding | Again:
    told = sorted({fault.code for fault in heard.faults if fault.code not in LINE_DAMAGE})
    if told:
        return heard.found(f"beyond its range it says {', '.join(told)}")
    if not heard.readings:
        return _NOTHING
    top = max(heard.readings, key=lambda reading: abs(reading.value))
    if set(top.text.lstrip("-").replace(".", "")) == {"9"}:
        return heard.found(f"beyond its range it repeats {top.text}", range_end=abs(top.value))
    return heard.found(f"{UNSEEN}: its greatest was {top.text} {top.unit}")


def _hold(heard: Heard) -> Finding | Again:
    if any(fault.code == "mode-change" for fault in heard.faults):
        return heard.found("another mode is seen and refused (mode-change)")
    if any("hold" in reading.marks for reading in heard.readings):
        return heard.found("hold is seen (a mark on the value)")
    return heard.found(f"{UNSEEN}: a value that stands still is asked about instead")


def _plug(heard: Heard) -> Finding | Again:
    values = [notice.at for notice in heard.notices if isinstance(notice, Received)]
    lost = next((notice.at for notice in heard.notices if isinstance(notice, Lost | Stale)), None)
    if lost is None:
        return Again("no loss was seen: pull its plug, wait two seconds, and put it back")
    if not any(isinstance(notice, Back) for notice in heard.notices) and any(isinstance(notice, Lost) for notice in heard.notices):
        return Again("it is not back yet: plug it in again, wait, then say done")
    before = max((at for at in values if at <= lost), default=lost)
    known = "by its number" if not isinstance(heard.settings.port, str) and heard.settings.port.is_certain else "by its place only"
    if lost - before > _TOLD_SECONDS + 0.5:
        return heard.found(f"its loss was told late, after {lost - before:.1f} s; it is known again {known}")
    return heard.found(f"its loss is told within {_TOLD_SECONDS:.0f} s; it is known again {known}")


@dataclass(frozen=True)
class Step:
    """One of the ten. id: its key in the record. say: the instruction. can_be_left: "no" notes it as one that cannot be seen."""

    id: str
    say: str
    judge: Callable[[Heard], Finding | Again]
    can_be_left: bool = True


STEPS = (
    Step("frames", "Let it send for two seconds, or press its button eight times; then say done.", _exact, can_be_left=False),
    Step("zero", "Bring it to zero, on the table or closed; then say done.", _zero, can_be_left=False),
    Step("block", "Measure the block, and hold it there; then say done.", _block, can_be_left=False),
    Step("unit", "Switch it to the other unit, wait, and switch it back; then say done. Say no if it has one unit only.", _unit),
    Step("sign", "Move plunger or jaw inward, a good way; then say done.", _sign),
    Step("zero key", "Leave it where it is and press its zero key; then say done. Say no if it has none.", _zero_key),
    Step("range", "Take it beyond its range; then say done. Say no if that cannot be done.", _range),
    Step("hold", "Press hold, or minimum or maximum, and back again; then say done. Say no if it has none.", _hold),
    Step("plug", "Pull its plug, wait two seconds, put it back, wait until it sends; then say done.", _plug),
    Step("timing", "Let it send once more for two seconds; then say done.", lambda heard: heard.found("noted")),
)


def modem_rule(vendor: int, product: int) -> str:
    """The udev rule that keeps a desktop's search for modems away from this cable: it would send `AT…` to the gauge (V, issue reports)."""
    return f'ATTRS{{idVendor}}=="{vendor:04x}", ATTRS{{idProduct}}=="{product:04x}", ENV{{ID_MM_DEVICE_IGNORE}}="1"'


@dataclass
class Meeting:
    """One meeting at work: give it every notice and every word; it says what to do next.

    block: the size of the gauge block, in the unit that the gauge is set to; it may be told later.
    """

    settings: GaugeSettings
    block: Decimal | None = None
    findings: dict[str, str] = field(default_factory=dict)
    _at: int = 0
    _heard: list[Notice] = field(default_factory=list)
    _gaps: list[float] = field(default_factory=list)
    _last_at: float | None = None
    _failed: bool = False

    @property
    def step(self) -> Step | None:
        """The step that is done now; None when the meeting is over."""
        return STEPS[self._at] if self._at < len(STEPS) and not self._failed else None

    @property
    def is_met(self) -> bool:
        """Whether all steps are done, so that the settings may be kept."""
        return self._at == len(STEPS) and not self._failed

    def hear(self, notice: Notice) -> None:
        """Take in a notice of the gauge."""
        self._heard.append(notice)
        if isinstance(notice, Received):
            if self._last_at is not None:
                self._gaps.append(notice.at - self._last_at)
            self._last_at = notice.at
        else:
            self._last_at = None

    def done(self) -> str:
        """The step was made: judge it. Gives what was found, or what to do again."""
        step = self.step
        assert step is not None
        result = self._timing() if step.id == "timing" else step.judge(Heard(self.settings, tuple(self._heard), self.block))
        if isinstance(result, Again):
            return f"{result.text[:1].upper()}{result.text[1:]}."
        self.settings = result.settings
        self._failed = not result.is_ok
        return self._note(result.text)

    def left(self) -> str:
        """The instrument cannot do this step."""
        step = self.step
        assert step is not None
        return self._note(UNSEEN) if step.can_be_left else "That step cannot be left out."

    def _note(self, text: str) -> str:
        self.findings[STEPS[self._at].id] = text
        self._heard.clear()
        if not self._failed:
            self._at += 1
        return f"{text[:1].upper()}{text[1:]}."

    def _timing(self) -> Finding | Again:
        """The shortest period and the longest silence between two frames that both belong to a stream."""
        gaps = [gap for gap in self._gaps if gap > 0]
        if len(gaps) < FEWEST_FRAMES:
            return _NOTHING
        if not self.settings.is_streaming:
            return Finding("it sends by its own button: no time-out", True, self.settings)
        usual = sorted(gaps)[len(gaps) // 2]
        longest = max(gap for gap in gaps if gap <= max(SILENT_SECONDS, 10 * usual))
        silent = min(SILENT_SECONDS, max(0.5, round(3 * longest, 1)))
        text = f"shortest period {min(gaps):.3f} s, longest silence {longest:.2f} s: stale after {silent} s"
        return Finding(text, True, replace(self.settings, silent_seconds=silent))
