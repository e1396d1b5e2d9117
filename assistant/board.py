"""What a bench is doing, told to the shop's own board over MQTT: one retained message a bench, always the newest, and "away" when it is gone.

The job's thread only puts the newest state down; a thread of our own makes the message and hands it to the broker. A broker that is slow, away
or refuses costs the bench nothing, and what was not told in time is not told later: a board shows what is, and the journal keeps what was.
"""

import secrets
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from fractions import Fraction
from typing import Any, Literal

from pydantic import AliasChoices, BaseModel, ConfigDict, Field

from assistant.core.effects import Effect
from assistant.core.quantities import Quantity
from assistant.core.state import Reading, State, Wait, depth_offset
from assistant.core.waits import wait
from assistant.mqtt import Address

KEEPALIVE_SECONDS = 10
"""A bench whose power was cut says nothing any more; after one and a half times this the broker tells that it is away (MQTT 3.1.1, 3.1.2.10)."""
_LAST_WORD_SECONDS = 2.0


class _Told(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class StepNow(_Told):
    """The step on the bench."""

    id: str
    phase: str
    kind: str
    title: str = Field(description="As it is shown to the technician.")


class WaitNow(_Told):
    """What is waited for."""

    kind: Literal["reading", "confirm", "done", "choice", "caution"] = Field(
        validation_alias=AliasChoices("for", "kind"), serialization_alias="for"
    )
    quantity: str | None = None
    unit: str | None = None
    spot: int | None = Field(default=None, description="The place round the ring, from 1.")
    of: int | None = Field(default=None, description="How many places there are.")


class LastNumber(_Told):
    """The last reading that was recorded."""

    id: str
    quantity: str
    value: str = Field(description="A decimal as it was recorded, or the words of a pattern.")
    unit: str | None = None
    spot: int | None = None
    limits: Literal["inside", "below", "above"] | None = Field(
        default=None,
        description="Against the manual's limits, inclusive; null where there are none, or where they judge several places together.",
    )
    void: Literal["changed", "wrong"] | None = Field(
        default=None, description="Whether it no longer counts: its ground is gone, or it was wrong."
    )


class Told(_Told):
    """One retained message: what a bench is doing now. Of a bench that is away nothing is known but the job that it had."""

    version: Literal[1] = 1
    state: Literal["working", "held", "resting", "over", "away"] = Field(
        description="over: the verdict is there; resting: stopped, to be gone on with; held: it listens to nothing but resume; "
        "away: the bench is gone without a word."
    )
    bench: str = Field(description="The last level of the topic.")
    job: str
    title: str
    at: str | None = Field(default=None, description="When this was so, ISO 8601 in UTC.")
    step: StepNow | None = None
    wait: WaitNow | None = None
    last: LastNumber | None = None
    void: tuple[str, ...] = Field(default=(), description="Quantities that have to be taken again.")
    caution: str | None = Field(
        default=None, description="Before what a caution waits to be understood: torque, press, heat, lift, spring or chemical."
    )
    alarm: str | None = Field(default=None, description="What does not add up, while it is open.")
    trouble: str | None = Field(
        default=None, description="What the bench itself has just warned of: a disk that refuses, a gauge that is gone."
    )
    verdict: Literal["in spec", "out of spec"] | None = None
    failed: tuple[str, ...] = ()

    def text(self) -> str:
        """As it goes over the wire."""
        return self.model_dump_json(by_alias=True)


def told(state: State, bench: str, at: str, trouble: str | None = None) -> Told:
    """The message for a state."""
    step, now = state.step(), wait(state)
    over = state.verdict is not None
    return Told(
        state="over" if over else "resting" if state.stopped else "held" if state.held else "working",
        bench=bench,
        job=state.job_id,
        title=state.job.title,
        at=at,
        step=StepNow(id=step.id, phase=step.phase, kind=step.kind, title=state.phrases.steps[step.text].title) if step else None,
        wait=_wait(now) if now is not None and not state.stopped else None,
        last=_last(state, state.readings[-1]) if state.readings else None,
        void=_void(state),
        caution=step.caution if step is not None and state.caution_open else None,
        alarm=state.alarm.text if state.alarm is not None else None,
        trouble=trouble,
        verdict=state.verdict,  # type: ignore[arg-type]  # pydantic holds it to the two
        failed=state.failed,
    )


def _wait(now: Wait) -> WaitNow:
    return WaitNow(kind=now.kind, quantity=now.quantity, unit=now.unit, spot=now.spot or None, of=now.spots or None)  # type: ignore[arg-type]


def _last(state: State, reading: Reading) -> LastNumber:
    return LastNumber(
        id=reading.id,
        quantity=reading.quantity,
        value=reading.value.text if reading.value is not None else reading.choice or "",
        unit=reading.value.unit if reading.value is not None else None,
        spot=reading.spot or None,
        limits=_against_limits(state, reading.quantity, reading.value) if reading.value is not None else None,
        void=reading.void,  # type: ignore[arg-type]
    )


def _against_limits(state: State, quantity: str, value: Quantity) -> Literal["inside", "below", "above"] | None:
    limits = state.limits(quantity)
    shift = depth_offset(state) if quantity == "pinion_depth" else Fraction(0)
    if limits is None or limits.judge != "all" or shift is None:
        return None
    return limits.side_of(value.base - shift)


def _void(state: State) -> tuple[str, ...]:
    """Quantities whose readings lost their ground and do not stand again."""
    lost = dict.fromkeys(reading.quantity for reading in state.readings if reading.void == "changed")
    return tuple(quantity for quantity in lost if not state.current(quantity))


def address_of(url: str) -> Address:
    """Where the board listens; without a topic, at one of this computer's name. Raises BadInputError."""
    import socket

    return Address.parse(url, "--board", f"benchhand/board/{socket.gethostname()}")


class Board:
    """Who tells the board. `watch` and `note` are called by the job's thread and never wait (`bench.Watcher`)."""

    def __init__(self, address: Address, state: State, clock: Callable[[], str], tell: Callable[[str], None]) -> None:
        """Begin to connect. state: of the job as it begins; tell: gets what the bench should know of the broker, once each."""
        self._address = address
        self._bench = address.topic.rpartition("/")[2]
        self._clock, self._tell = clock, tell
        self._news = threading.Condition()
        self._newest: tuple[State, str, str | None] | None = None
        self._is_new = self._is_connected = self._is_closed = False
        self._said: set[str] = set()
        self._client = self._address.client(f"benchhand-board-{secrets.token_hex(4)}", is_kept=False)
        gone = Told(state="away", bench=self._bench, job=state.job_id, title=state.job.title)
        self._client.will_set(self._address.topic, gone.text(), qos=1, retain=True)
        self._client.on_connect = self._connected
        self._client.on_connect_fail = self._away
        self._client.on_disconnect = self._away
        self._client.reconnect_delay_set(1, 30)
        self._client.connect_async(self._address.host, self._address.port, keepalive=KEEPALIVE_SECONDS)
        self._client.loop_start()
        self._thread = threading.Thread(target=self._run, name="board", daemon=True)
        self._thread.start()

    def watch(self, state: State, effects: Sequence[Effect]) -> None:
        """A state that is on disk."""
        del effects
        self._put(state, None)

    def note(self, text: str, urgency: str) -> None:
        """Something that the bench warns of, and that changes nothing."""
        with self._news:
            newest = self._newest
        if newest is not None and urgency in ("warn", "stop"):
            self._put(newest[0], text)

    def close(self) -> None:
        """Tell how the job was left, and go with a word: the board then shows it resting or over, not away."""
        with self._news:
            self._is_closed = True
            self._news.notify()
        self._thread.join(_LAST_WORD_SECONDS)
        self._client.disconnect()
        self._client.loop_stop()

    def _put(self, state: State, trouble: str | None) -> None:
        with self._news:
            self._newest = (state, self._clock(), trouble)
            self._is_new = True
            self._news.notify()

    def _run(self) -> None:
        sent = None
        while True:
            with self._news:
                self._news.wait_for(lambda: (self._is_new and self._is_connected) or self._is_closed)
                newest, is_last = self._newest if self._is_new and self._is_connected else None, self._is_closed
                self._is_new = self._is_new and newest is None
            if newest is not None:
                state, at, trouble = newest
                sent = self._client.publish(self._address.topic, told(state, self._bench, at, trouble).text(), qos=1, retain=True)
            if is_last:
                if sent is not None:
                    with suppress(ValueError, RuntimeError):  # it went down with the connection
                        sent.wait_for_publish(_LAST_WORD_SECONDS)
                return

    def _connected(self, _client: object, _data: object, _flags: object, code: Any, _properties: object) -> None:
        if code.is_failure:
            self._once(f"the board's broker at {self._address.where} refused us ({code}): the job goes on without it")
            return
        with self._news:
            # The broker may have told meanwhile that we are away.
            self._is_connected, self._is_new = True, self._newest is not None
            self._news.notify()

    def _away(self, *_told: object) -> None:
        with self._news:
            self._is_connected = False
            is_ours = self._is_closed
        if not is_ours:
            self._once(f"no broker for the board at {self._address.where}: the job goes on without it, and tells it when it is there")

    def _once(self, text: str) -> None:
        if text not in self._said:
            self._said.add(text)
            self._tell(text)
