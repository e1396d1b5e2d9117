"""Many readings → one steady one, and what a spoken "take" means.

House rules: the clock is an input (monotonic seconds, taken by whoever read the bytes); nothing is averaged; where there is no steady
value, the answer says why. The numbers are starting values, to be set from what is seen at benches.
"""

from collections import Counter, deque
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import takewhile

from gauges.formats import Format
from gauges.reading import Event, Fault, FaultCode, Reading, Status

KEPT_SECONDS = 5.0
# A word is understood 0.3 to 1.5 s after it began, and by then the hand has moved: what counts is the value at its onset. If there is
# none, the next one may be taken within this time, and is said to be late.
LATE_SECONDS = 2.0
# A gauge in hold, or an adapter that repeats its buffer, looks settled: after so long without a change of one count, ask.
STUCK_SECONDS = 30.0
SILENT_SECONDS = 2.0

# Damage on the line says nothing about the gauge: the readings around it stay one run. All other faults end the run.
LINE_DAMAGE: frozenset[FaultCode] = frozenset(
    ("parity", "shape", "not-ascii", "overlong", "bad-terminator", "partial-tail", "no-frame", "resync", "checksum", "header", "sign",
     "bcd-digit", "decimal-point", "unit", "reserved-bits", "implausible", "width-change", "duplicate")
)  # fmt: skip


@dataclass(frozen=True)
class SettleRule:
    """When a value counts as steady: so many readings over so many seconds, all within some counts of the last.

    needs_agreement: damage can pass as a value, so the value given must have come at least twice in the run.
    silent_seconds: a gap longer than this ends a run. range_end: at this size the gauge is beyond its range.
    step: the resolution where it is coarser than one count (0.0005 in); a value between two steps is damage.
    """

    seconds: float = 0.6
    readings: int = 4
    within_counts: int = 1
    needs_agreement: bool = True
    silent_seconds: float = SILENT_SECONDS
    range_end: Decimal | None = None
    step: Decimal | None = None


def rule_for(row: Format) -> SettleRule:
    """The rule of a family: a slow gauge needs the time of four readings (1.3 s for one every 320 ms)."""
    seconds = 0.6 if row.period_seconds is None else max(0.6, round(4 * row.period_seconds, 1))
    return SettleRule(seconds=seconds, needs_agreement=row.needs_agreement, silent_seconds=silent_after(row))


def silent_after(row: Format) -> float:
    """Seconds without a frame after which a gauge of this family is stale: three periods, at least 0.5 s and at most 2 s."""
    if row.period_seconds is None:
        return SILENT_SECONDS
    return min(SILENT_SECONDS, max(0.5, 3 * row.period_seconds))


@dataclass(frozen=True)
class Settled:
    """A steady value.

    reading: the one whose value counts. since, until: when the run began (5 s back at most) and when its last reading came, in seconds.
    count: readings in it.
    is_late: it settled after the word that asked for it began. is_first_after_return: the port was lost before it: never take it unasked.
    """

    reading: Reading
    since: float
    until: float
    count: int
    is_late: bool = False
    is_first_after_return: bool = False


@dataclass(frozen=True)
class NotSettled:
    """No steady value to take. reason: for a person. is_final: waiting longer won't help."""

    reason: str
    is_final: bool


class Settler:
    """Follows one channel of one gauge and knows when it is steady.

    Feed it every event of the channel with the time of its frame; ask it with `settled` (now) and `take` (at the onset of a word).
    """

    def __init__(self, rule: SettleRule | None = None) -> None:
        self._rule = SettleRule() if rule is None else rule
        # What was steady after each reading or break of the last seconds.
        self._kept: deque[tuple[float, Settled | None]] = deque()
        # The readings of the last seconds, since the last break.
        self._recent: deque[tuple[Reading, float]] = deque()
        self._has_returned = False
        self._unchanged: tuple[Decimal, float] | None = None
        self._why_not = "no reading yet"

    def add(self, event: Event, at: float) -> Settled | None:
        """Take in one event; gives the steady value while the channel is steady, None while it isn't."""
        rule = self._rule
        if isinstance(event, Status):
            if event.moving is not None:
                self._break("the gauge says that it is moving", at)
        elif isinstance(event, Fault):
            if event.code not in LINE_DAMAGE:
                self._break(event.detail, at)
        elif rule.range_end is not None and abs(event.value) >= abs(rule.range_end):
            self._break(f"{event.text} {event.unit} is the end of the gauge's range", at)
        elif rule.step is None or event.value % rule.step == 0:
            self._append(event, at)
            self._keep(at, self._steady())
        return self.settled(at)

    def lost(self, at: float) -> None:
        """The port is gone: every value is stale at once, and steady ones after its return are marked until they are acknowledged."""
        self._kept.clear()
        self._break("the gauge is not connected", at)
        self._has_returned = True

    def acknowledge_return(self) -> None:
        """The technician has looked at the gauge after its return (a zero check): its values count as before."""
        self._has_returned = False

    def settled(self, now: float) -> Settled | None:
        """The steady value as of `now`, or None when it moves or the gauge has been silent."""
        if not self._kept:
            return None
        at, settled = self._kept[-1]
        return settled if now - at <= self._rule.silent_seconds else None

    def take(self, onset: float, now: float) -> Settled | NotSettled:
        """The value that a word which began at `onset` means: the steady one at that time, or the next within 2 s, marked late."""
        at, settled = next((kept for kept in reversed(self._kept) if kept[0] <= onset), (onset, None))
        if settled is not None and onset - at <= self._rule.silent_seconds:
            return settled
        for at, settled in self._kept:
            if onset < at <= onset + LATE_SECONDS and settled is not None:
                return replace(settled, is_late=True)
        return NotSettled(self._why_not, is_final=now > onset + LATE_SECONDS)

    def is_stuck(self, now: float) -> bool:
        """Whether the value has not changed by one count for 30 s: in a measurement that should move, ask."""
        return self._unchanged is not None and now - self._unchanged[1] >= STUCK_SECONDS

    def _append(self, reading: Reading, at: float) -> None:
        if self._unchanged is None or abs(reading.value - self._unchanged[0]) >= reading.count:
            self._unchanged = (reading.value, at)
        recent = self._recent
        if recent and at - recent[-1][1] > self._rule.silent_seconds:
            recent.clear()
        recent.append((reading, at))
        while at - recent[0][1] > KEPT_SECONDS:
            recent.popleft()

    def _steady(self) -> Settled | None:
        """The steady value that the last reading ends, if it does."""
        rule = self._rule
        last, until = self._recent[-1]
        reach = rule.within_counts * last.count
        run = list(takewhile(lambda kept: abs(kept[0].value - last.value) <= reach, reversed(self._recent)))
        since = run[-1][1]
        # Times are sums of fractions of a second: a microsecond must not decide.
        if len(run) < rule.readings or until - since < rule.seconds - 1e-6:
            self._why_not = "the value is still moving"
            return None
        reading = last
        if rule.needs_agreement:
            times = Counter(earlier.value for earlier, _ in run)
            agreed = next((earlier for earlier, _ in run if times[earlier.value] >= 2), None)
            if agreed is None:
                self._why_not = "no two readings agree"
                return None
            reading = agreed
        return Settled(reading, since, until, len(run), is_first_after_return=self._has_returned)

    def _break(self, why: str, at: float) -> None:
        self._recent.clear()
        self._why_not = why
        self._keep(at, None)

    def _keep(self, at: float, settled: Settled | None) -> None:
        self._kept.append((at, settled))
        while at - self._kept[0][0] > KEPT_SECONDS:
            self._kept.popleft()


class Agreement:
    """Lets a value of a gauge that sends by a button, or only when asked, pass once two frames in a row agree.

    seconds: how far apart the two may be. A family whose frames check themselves needs no second one.
    """

    def __init__(self, *, needs_agreement: bool, seconds: float = 30.0) -> None:
        self._needs_agreement = needs_agreement
        self._seconds = seconds
        self._first: tuple[Reading, float] | None = None

    def add(self, event: Event, at: float) -> Reading | None:
        """The agreed reading, or None: ask for the same value once more. Any fault, and any other value, begins anew."""
        if not isinstance(event, Reading):
            self._first = None if isinstance(event, Fault) else self._first
            return None
        if not self._needs_agreement:
            return event
        first, self._first = self._first, (event, at)
        if first is None or at - first[1] > self._seconds:
            return None
        earlier = first[0]
        if (earlier.value, earlier.unit, earlier.channel) != (event.value, event.unit, event.channel):
            return None
        self._first = None
        return event
