"""The engine without disk: one job in memory, with every input, event and batch kept.

The core is pure, so a test may walk through a whole job in a fraction of a second; disk and processes have tests of their own.
"""

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from assistant.core import events as ev
from assistant.core.axle import Job
from assistant.core.decide import decide, restarted, start
from assistant.core.evolve import begin, evolve, replay
from assistant.core.inputs import Input, Pedal, Quit, Said, Taken
from assistant.core.quantities import Quantity
from assistant.core.show import show, where_it_stands
from assistant.core.state import State
from assistant.core.steps import Procedure
from assistant.files import phrases_for, procedure_for

Line = dict[str, Any]
# What a good axle reads on the job of `conftest.JOB`, by quantity, or by quantity and part; a list is used up from its front but for its last.
GOOD: Mapping[str, str | Sequence[str]] = {
    "old_stack_thickness pinion_shims": "0.030 in",
    "old_stack_thickness preload_shims": "0.0205 in",
    "stack_thickness pinion_shims": "0.030 in",
    "stack_thickness preload_shims": "0.0205 in",
    "shim_thickness": "0.0050 in",
    "nut_torque": "180 lb-ft",
    "pinion_drag": "22 lb-in",
    "plane_to_bore": "1.6250 in",
    "bore_diameter": "3.2500 in",
    "pinion_depth": "2.6232 in",
    "cap_torque": "75 lb-ft",
    "ring_runout": "0.0020 in",
    "backlash": "0.0082 in",
    "total_drag": "30 lb-in",
    "baseline_backlash": "0.012 in",
    "baseline_total_drag": "20 lb-in",
    "etch_new": "-2",
    "etch_old": "+1",
}


class Table:
    """One job on the bench. `batch` is the last batch; `answers` what the axle reads, where a test wants something else than `GOOD`."""

    def __init__(
        self,
        job: Job,
        answers: Mapping[str, str | Sequence[str]] | None = None,
        *,
        procedure: Procedure | None = None,
        language: str = "en",
    ) -> None:
        self.procedure, self.phrases = procedure or procedure_for(job.axle), phrases_for(language)
        self.answers = {name: [told] if isinstance(told, str) else list(told) for name, told in {**GOOD, **(answers or {})}.items()}
        first = start(job, "job", self.procedure, self.phrases)
        assert isinstance(first[0], ev.JobStarted)
        self.state = begin(first[0], self.procedure, self.phrases)
        self.events: list[ev.Event] = [first[0]]
        self.batches: list[list[Line]] = []
        self.inputs: list[Input] = []
        self._last_read: tuple[str, str] | None = None
        self._take(first[1:])

    def _take(self, events: Sequence[ev.Event]) -> list[Line]:
        self.batches.append([effect.json() for effect in show(self.state, events)])
        self.events += events
        for event in events:
            self.state = evolve(self.state, event)
        return self.batch

    def give(self, given: Input) -> list[Line]:
        """One input in, its batch out."""
        self.inputs.append(given)
        return self._take(decide(self.state, given))

    def say(self, words: str) -> list[Line]:
        """Typed words."""
        return self.give(Said(words))

    def gauge(self, reading: str, channel: str = "dial") -> list[Line]:
        """A settled gauge reading ("0.0065 in") that was taken."""
        return self.give(Taken(channel, Quantity.parse(reading)))

    def pedal(self) -> list[Line]:
        """The foot pedal."""
        return self.give(Pedal())

    def quit(self) -> list[Line]:
        """Stop now."""
        return self.give(Quit())

    def resume(self) -> list[Line]:
        """As if the power had gone: the job again from its events alone. Gives the batch before any further input."""
        self.state = self.replayed()
        again = restarted(self.state)
        self.events += again
        for event in again:
            self.state = evolve(self.state, event)
        self.batches.append([effect.json() for effect in where_it_stands(self.state)])
        return self.batch

    def replayed(self, upto: int | None = None) -> State:
        """The state of the first `upto` events, written to the journal's form and read again."""
        again = [ev.from_json(ev.to_json(event)) for event in self.events[:upto]]
        return replay(again, self.procedure, self.phrases)

    @property
    def batch(self) -> list[Line]:
        """The last batch."""
        return self.batches[-1]

    @property
    def wait(self) -> Line:
        """What is waited for now."""
        wait: Line = self.batch[-1]["wait"]
        return wait

    @property
    def end(self) -> Line | None:
        """The end, once it came."""
        return self.batch[-1].get("end")

    @property
    def spoken(self) -> str:
        """Everything said in the last batch."""
        return " ".join(line["speak"] for line in self.batch if "speak" in line)

    def lines(self, kind: str) -> list[Any]:
        """The bodies of all lines of a kind in the last batch."""
        return [line[kind] for line in self.batch if kind in line]

    def all_lines(self, kind: str) -> list[Any]:
        """The bodies of all lines of a kind in the whole job."""
        return [line[kind] for batch in self.batches for line in batch if kind in line]

    @property
    def step(self) -> str | None:
        """The step on the bench."""
        return self.state.open_step

    def standing(self, quantity: str) -> list[str]:
        """The values of the readings that stand, oldest first."""
        return [str(r.value or r.choice) for r in self.state.current(quantity)]

    def answer(self) -> list[Line]:
        """Answer the wait as a technician with a good axle would."""
        return self.say(self.answer_words())

    def answer_words(self) -> str:
        """What a technician with this axle says now."""
        wait = self.wait
        kind = wait["for"]
        if kind in ("done", "caution", "confirm"):
            return {"done": "done", "caution": "understood", "confirm": "yes"}[kind]
        if kind == "choice":
            told = self.answers.get(self.step or "", ["centre middle" if "quantity" in wait else wait["choices"][0]])
            return told.pop(0) if len(told) > 1 else told[0]
        if wait["quantity"] == "shim_thickness" and self.standing("shim_thickness"):
            return "done"
        keys = (f"{wait['quantity']} {wait.get('part')}", wait["quantity"])
        told = next(self.answers[key] for key in keys if key in self.answers)
        doubted = self.state.doubted
        again = doubted is not None and any(words in doubted.reason for words in ("mean a change", "right at the manual", "end of it"))
        if again and self._last_read is not None and self._last_read[0] == keys[1]:
            return self._last_read[1]  # only measured twice, it reads the same
        self._last_read = (keys[1], told.pop(0) if len(told) > 1 else told[0])
        return self._last_read[1]

    def until(self, reached: "Callable[[Table], bool] | str", limit: int = 400) -> "Table":
        """Answer until a step is on the bench with its own wait, or until `reached`; fails when the job ends first."""
        for _ in range(limit):
            if self.step == reached and not self.state.caution_open if isinstance(reached, str) else reached(self):
                return self
            assert self.end is None, f"the job ended ({self.end}) before {reached}"
            self.answer()
        raise AssertionError(f"{reached} was not reached in {limit} answers; the wait is {self.wait}")

    def finish(self, limit: int = 400) -> Line:
        """Answer until the job ends; gives its end."""
        self.until(lambda table: table.end is not None, limit)
        assert self.end is not None
        return self.end


def plain(value: Any) -> Any:
    """A state as plain values, every digit kept (two quantities of one size in two units are equal, but not the same)."""
    if isinstance(value, Quantity):
        return (value.text, value.unit)
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, tuple):
        return [plain(item) for item in value]
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        skipped = ("procedure", "phrases")
        return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value) if field.name not in skipped}
    return value
