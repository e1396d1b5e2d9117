"""What may be journalled: one frozen record for each thing that happened, each with its version.

House rules: an event says what happened, never what to do about it; it is never changed once a journal holds it (a new meaning is a new
version); everything the state needs is in it, so that replaying a journal gives the same state bit for bit.
"""

import dataclasses
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from itertools import islice
from types import NoneType, UnionType
from typing import Any, ClassVar, Union, get_args, get_origin, get_type_hints

from assistant.core.axle import Job
from assistant.core.errors import BadInputError
from assistant.core.quantities import Quantity


@dataclass(frozen=True)
class JobStarted:
    """The job as its file told it; procedure: the checksum of the procedure it was started with."""

    version: ClassVar[int] = 1
    job: Job
    job_id: str
    procedure: str


@dataclass(frozen=True)
class SpokenIn:
    """Right after the start: the job is spoken, and goes on, in this language; a job without it is in English."""

    version: ClassVar[int] = 1
    language: str


@dataclass(frozen=True)
class Learned:
    """One sensitivity as the shop's own builds have it; name, mean and spread as `core.shop_priors.NAMES` tells. builds: how many said it."""

    name: str
    mean: Decimal
    spread: Decimal
    builds: int


@dataclass(frozen=True)
class ShopTaught:
    """At the start: what is supposed of this axle comes from the shop's own finished builds of its kind, where they say anything."""

    version: ClassVar[int] = 1
    learned: tuple[Learned, ...]


@dataclass(frozen=True)
class CautionShown:
    """The caution that guards a step was said; nothing but "understood" accepts it."""

    version: ClassVar[int] = 1
    step: str


@dataclass(frozen=True)
class CautionAccepted:
    """ "Understood" was said to it."""

    version: ClassVar[int] = 1
    step: str


@dataclass(frozen=True)
class StepBegan:
    """A step was shown."""

    version: ClassVar[int] = 1
    step: str


@dataclass(frozen=True)
class StepDone:
    """A step is finished: "done" was said, or its last reading is on disk."""

    version: ClassVar[int] = 1
    step: str


@dataclass(frozen=True)
class Offered:
    """A value or a choice was understood and read back; it waits for its yes. question: the read-back says that it surprises."""

    version: ClassVar[int] = 1
    quantity: str
    value: Quantity | None
    choice: str | None
    form: str
    source: str
    question: bool = False
    posterior: float | None = None
    fit: float | None = None


@dataclass(frozen=True)
class Dropped:
    """The read-back was refused; the value is gone and the same wait stands."""

    version: ClassVar[int] = 1
    quantity: str
    value: Quantity | None
    choice: str | None


@dataclass(frozen=True)
class Doubted:
    """A value that the prediction does not explain; it was asked for once more and is not recorded. looks: what was to be looked at, by id."""

    version: ClassVar[int] = 1
    quantity: str
    value: Quantity
    spot: int
    source: str
    reason: str
    looks: tuple[str, ...] = ()


@dataclass(frozen=True)
class Recorded:
    """A confirmed reading. gauge and raw: instrument and frame where a gauge gave it; replaces: the id of the reading it corrects."""

    version: ClassVar[int] = 1
    id: str
    step: str
    quantity: str
    value: Quantity | None
    choice: str | None
    spot: int
    part: str | None
    source: str
    gauge: str = ""
    raw: str = ""
    replaces: str | None = None


@dataclass(frozen=True)
class Voided:
    """Readings whose ground is gone (`changed`) or which were wrong (`wrong`); they stay in the record."""

    version: ClassVar[int] = 1
    ids: tuple[str, ...]
    why: str
    reason: str


@dataclass(frozen=True)
class StepsUndone:
    """Steps that have to be made again."""

    version: ClassVar[int] = 1
    steps: tuple[str, ...]
    reason: str


@dataclass(frozen=True)
class Answered:
    """A choice that is no reading: how the job stands, what a mark means."""

    version: ClassVar[int] = 1
    step: str
    choice: str


@dataclass(frozen=True)
class SpecGiven:
    """A limit read aloud from the manual. which: low, high, value, target, tolerance or variation."""

    version: ClassVar[int] = 1
    quantity: str
    which: str
    value: Quantity


@dataclass(frozen=True)
class SpecTakenBack:
    """The last limit that was read aloud was wrong; it is asked for again."""

    version: ClassVar[int] = 1
    quantity: str
    which: str


@dataclass(frozen=True)
class Change:
    """One part's change. before, after and change are thicknesses, notches or degrees; stack: every shim of the pack to fit."""

    part: str
    before: Quantity
    after: Quantity
    change: Quantity
    stack: tuple[Quantity, ...]


@dataclass(frozen=True)
class MoveProposed:
    """A change to make when "done" is said next. expect: what the next measurement should give (quantity, value, low, high).

    chance: probability that it lands in spec, a decimal; why: the reason, one sentence to be said. start: the first pack, not a correction.
    """

    version: ClassVar[int] = 1
    group: str
    step: str
    changes: tuple[Change, ...]
    quantity: str
    expected: Quantity | None
    low: Quantity | None
    high: Quantity | None
    chance: Decimal | None
    why: str
    start: bool = False


@dataclass(frozen=True)
class MoveMade:
    """The proposed change was made."""

    version: ClassVar[int] = 1
    group: str


@dataclass(frozen=True)
class Suspect:
    """One likely cause. odds: a decimal share; redo: the steps to make again when it is confirmed."""

    cause: str
    odds: Decimal
    check: str
    redo: tuple[str, ...] = ()


@dataclass(frozen=True)
class AlarmRaised:
    """Something does not add up; the step stays until it is answered."""

    version: ClassVar[int] = 1
    id: str
    step: str
    quantity: str
    text: str
    evidence: tuple[str, ...]
    likely: tuple[Suspect, ...]


@dataclass(frozen=True)
class AlarmAnswered:
    """What the look at the axle gave: a cause, `nothing found` or `measure again`."""

    version: ClassVar[int] = 1
    id: str
    answer: str


@dataclass(frozen=True)
class LimitsUnreachable:
    """No change that the kit allows brings this quantity into the manual's range; it was said, and the job goes on out of spec."""

    version: ClassVar[int] = 1
    quantity: str
    reason: str


@dataclass(frozen=True)
class Asked:
    """A yes/no question about the job itself.

    action: stop, go back, correct, change unit, zero; argument: the step, reading, unit or value it is about, a gauge behind the last two.
    """

    version: ClassVar[int] = 1
    action: str
    argument: str

    @classmethod
    def about_zero(cls, gauge: str, offset: Quantity) -> "Asked":
        """Whether a gauge's values count from this offset."""
        return cls("zero", f"{offset.text} {offset.unit} {gauge}")

    @classmethod
    def about_unit(cls, gauge: str, unit: str) -> "Asked":
        """Whether a gauge was switched to this unit; the gauge is empty where none was named."""
        return cls("change unit", f"{unit} {gauge}".rstrip())

    @property
    def zero(self) -> tuple[str, Quantity]:
        """Gauge and offset of `about_zero`."""
        value, unit, gauge = self.argument.split(" ", 2)
        return gauge, Quantity.of(value, unit)

    @property
    def switched(self) -> tuple[str, str]:
        """Gauge and unit of `about_unit`."""
        unit, _, gauge = self.argument.partition(" ")
        return gauge, unit


@dataclass(frozen=True)
class GaugeUnitChanged:
    """A gauge was switched to another unit, and yes was said to it: from here on it gives values in this unit only.

    gauge: its channel or name; empty for all that measure the same kind of thing.
    """

    version: ClassVar[int] = 1
    gauge: str
    unit: str


@dataclass(frozen=True)
class GaugeZeroed:
    """A gauge was zeroed by word at this value; each later reading names the offset that came off it."""

    version: ClassVar[int] = 1
    gauge: str
    offset: Quantity


@dataclass(frozen=True)
class Replied:
    """Something was said that changed nothing: repeat, why, help, what do you have."""

    version: ClassVar[int] = 1
    command: str


@dataclass(frozen=True)
class Missed:
    """An input that was not understood, or is impossible; question: what was said about it."""

    version: ClassVar[int] = 1
    question: str
    reason: str


@dataclass(frozen=True)
class EarOpened:
    """Which recogniser listens from here on, by name and version: figures of two are not to be mixed."""

    version: ClassVar[int] = 1
    ear: str


@dataclass(frozen=True)
class Misheard:
    """Speech for us that passed no bar, or a value that had been refused here; question: what was said about it.

    words: what it may have been, best first, with the first one's posterior and the sound's fit.
    """

    version: ClassVar[int] = 1
    question: str
    reason: str
    words: tuple[str, ...]
    posterior: float | None
    fit: float | None


@dataclass(frozen=True)
class TwoOffered:
    """On the second miss the two likeliest readings were offered to choose from; what is chosen is read back like any other."""

    version: ClassVar[int] = 1
    words: tuple[str, str]
    posterior: float | None
    fit: float | None


@dataclass(frozen=True)
class TwoRefused:
    """Neither of the two was meant."""

    version: ClassVar[int] = 1
    words: tuple[str, str]


@dataclass(frozen=True)
class Pulled:
    """The sound alone chose `words`, with what was expected it would have been `instead`: the read-back is a question, and both are kept."""

    version: ClassVar[int] = 1
    words: str
    instead: str


@dataclass(frozen=True)
class Held:
    """ "Hold": nothing but "resume" is heard."""

    version: ClassVar[int] = 1


@dataclass(frozen=True)
class Resumed:
    """Listening again."""

    version: ClassVar[int] = 1


@dataclass(frozen=True)
class Correcting:
    """A reading is asked for again to replace one."""

    version: ClassVar[int] = 1
    id: str


@dataclass(frozen=True)
class Kept:
    """Something else than "no" was done after a gauge reading: the reading stands."""

    version: ClassVar[int] = 1
    id: str


@dataclass(frozen=True)
class TakenBack:
    """ "No" right after a gauge reading: as if it had not been taken, but it stays in the record as void."""

    version: ClassVar[int] = 1
    id: str


@dataclass(frozen=True)
class Stopped:
    """The job rests; resume goes on at the same wait. asked: by "stop" and its yes (else the input ended)."""

    version: ClassVar[int] = 1
    asked: bool


@dataclass(frozen=True)
class WentOn:
    """A job that rested goes on at the same wait."""

    version: ClassVar[int] = 1


@dataclass(frozen=True)
class Ended:
    """The verdict. failed: every needed quantity that is missing, void or outside its limits."""

    version: ClassVar[int] = 1
    verdict: str
    failed: tuple[str, ...]


Event = (
    JobStarted | SpokenIn | ShopTaught
    | CautionShown | CautionAccepted | StepBegan | StepDone | Offered | Dropped | Doubted | Recorded | Voided | StepsUndone
    | Answered | SpecGiven | SpecTakenBack | MoveProposed | MoveMade | AlarmRaised | AlarmAnswered | LimitsUnreachable | Asked | GaugeUnitChanged
    | GaugeZeroed | Replied
    | Missed | EarOpened | Misheard | TwoOffered | TwoRefused | Pulled | Held | Resumed | Correcting | Kept | TakenBack | Stopped | WentOn | Ended
)  # fmt: skip
KINDS: dict[str, type[Any]] = {kind.__name__: kind for kind in get_args(Event)}


def language_of(events: Iterable[Event]) -> str:
    """The language that a job's events are spoken in: told by the second of them, or English."""
    second = next(islice(events, 1, 2), None)
    return second.language if isinstance(second, SpokenIn) else "en"


def to_json(event: Event) -> dict[str, Any]:
    """One event as plain JSON values: its kind, its version and its fields."""
    return {"event": type(event).__name__, "v": type(event).version, **_plain(event)}


def from_json(data: Mapping[str, Any]) -> Event:
    """The event that `to_json` wrote. Raises BadInputError for a kind, version or field that this program does not know."""
    kind = KINDS.get(str(data.get("event")))
    if kind is None or data.get("v") != kind.version:
        raise BadInputError(f"journal event {data.get('event')!r} version {data.get('v')!r} is not known to this program")
    try:
        fields = {name: data[name] for name in (field.name for field in dataclasses.fields(kind))}
        event: Event = _typed(fields, kind)
    except (KeyError, TypeError, ValueError) as error:
        raise BadInputError(f"journal event {kind.__name__} is damaged: {error!r}") from error
    return event


def _plain(value: Any) -> Any:
    if isinstance(value, Quantity):
        return value.json()
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: _plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    return value


_HINTS: dict[type[Any], dict[str, Any]] = {}


def _typed(value: Any, kind: Any) -> Any:
    origin = get_origin(kind)
    if origin in (Union, UnionType):
        if value is None:
            return None
        return _typed(value, next(option for option in get_args(kind) if option is not NoneType))
    if origin is tuple:
        options = get_args(kind)
        kinds = [options[0]] * len(value) if options[-1] is Ellipsis else options
        return tuple(_typed(item, item_kind) for item, item_kind in zip(value, kinds, strict=True))
    if kind is Quantity:
        return Quantity.of(value["value"], value["unit"])
    if kind is Decimal:
        return Decimal(value)
    if dataclasses.is_dataclass(kind):
        hints = _HINTS.setdefault(kind, get_type_hints(kind))  # type: ignore[arg-type]  # is_dataclass lets instances through, kind is a type here
        return kind(**{field.name: _typed(value[field.name], hints[field.name]) for field in dataclasses.fields(kind)})  # type: ignore[operator]
    return value
