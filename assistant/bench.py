"""The loop around the core: an input in, its events to the journal, the new state, its effects out.

Nothing leaves `give` before the journal has it. The ear, when there is one, is asked only for what can be heard now.
"""

import importlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from assistant.core.axle import Job
from assistant.core.decide import decide, restarted, start
from assistant.core.effects import Effect
from assistant.core.errors import BadInputError, JournalError
from assistant.core.events import Event, JobStarted, Learned, language_of
from assistant.core.evolve import begin, evolve, replay
from assistant.core.inputs import Input
from assistant.core.show import show, where_it_stands
from assistant.core.state import State
from assistant.files import check, language_named, phrases_for, procedure_for
from assistant.journal import Journal
from assistant.own_words import NO_OWN_WORDS, OwnWords

if TYPE_CHECKING:
    from assistant.hearing import Hearing

Clock = Callable[[], str]


class Watcher(Protocol):
    """Who looks on. Neither call may wait or fail: the job does not depend on being looked at."""

    def watch(self, state: State, effects: Sequence[Effect]) -> None:
        """A batch and the state after it, both on disk."""
        ...

    def note(self, text: str, urgency: str) -> None:
        """Something said that is no answer to an input: a gauge that is gone, a disk that refuses."""
        ...


@dataclass
class Bench:
    """One job on one bench."""

    state: State
    journal: Journal
    clock: Clock
    hearing: "Hearing | None" = None
    own: OwnWords = NO_OWN_WORDS

    def give(self, given: Input, at: str | None = None) -> tuple[Effect, ...]:
        """Take one input in. On return its events are on disk; the effects are what to say, show and print.

        at: the time, on a clock that the caller owns. Raises JournalError when the disk refuses: then nothing of the input counts.
        """
        events = decide(self.state, self.own.plainly(given))
        effects = show(self.state, events)
        self._keep(events, at)
        return effects

    def hear(self, clip: Path, at: str | None = None) -> tuple[Effect, ...]:
        """Take a sound clip in, through the recogniser, as what can be heard now. Raises BadInputError for a clip that cannot be read."""
        from assistant.hearing import Hearing

        if self.hearing is None:
            self.hearing = Hearing(own=self.own, tongue=self.state.phrases.tongue)
        return self.give(self.hearing.listen(clip, self.state), at)

    def _keep(self, events: tuple[Event, ...], at: str | None) -> None:
        self.journal.append(events, at or self.clock())
        for event in events:
            self.state = evolve(self.state, event)


def _warm_up() -> None:
    """Import before the first wait what the first number needs, which would else stand between a reading and its answer."""
    importlib.import_module("scipy.special")


def new_bench(
    job: Job, journal: Journal, clock: Clock, at: str | None = None, *, language: str = "en", learned: tuple[Learned, ...] = ()
) -> tuple[Bench, tuple[Effect, ...]]:
    """Begin a job, in one of the languages that `files.language_named` knows. Gives the bench and the first batch.

    learned: what the shop's own builds say of this kind of axle (`history.teach`); it is journalled.
    Raises FileProblemsError when no order of work is known for the layout.
    """
    _warm_up()
    procedure, phrases = procedure_for(job.axle), phrases_for(language)
    check(procedure, phrases)
    events = start(job, journal.job_id, procedure, phrases, learned)
    first = events[0]
    assert isinstance(first, JobStarted)
    journal.append(events, at or clock())
    state = begin(first, procedure, phrases)
    effects = show(state, events[1:])
    for event in events[1:]:
        state = evolve(state, event)
    return Bench(state, journal, clock), effects


@dataclass(frozen=True)
class Resumption:
    """A job gone on with. notes: what the user should know first (a torn line set aside, a changed procedure)."""

    bench: Bench
    effects: tuple[Effect, ...]
    notes: tuple[str, ...]


def resume_bench(journal: Journal, clock: Clock) -> Resumption:
    """Go on exactly where the last accepted input left the job. Raises JournalError when the journal is empty or damaged."""
    _warm_up()
    loaded = journal.load()
    if not loaded.events or not isinstance(loaded.events[0], JobStarted):
        raise JournalError(f"job {journal.job_id} has no accepted input: start it anew")
    first = loaded.events[0]
    procedure, phrases = procedure_for(first.job.axle), phrases_for(language_named(language_of(loaded.events)))
    notes = []
    if loaded.torn:
        notes.append(f"{loaded.torn} torn line(s) at the end of the journal were never acknowledged; set aside in {loaded.torn_path}")
    if first.procedure != procedure.checksum:
        notes.append("the procedure has changed since this job began: read each step with the manual in hand")
    try:
        bench = Bench(replay(loaded.events, procedure, phrases), journal, clock)
        again = restarted(bench.state)
        if again:
            bench._keep(again, None)
        return Resumption(bench, where_it_stands(bench.state), tuple(notes))
    except (KeyError, BadInputError) as error:
        raise JournalError(f"job {journal.job_id} does not fit this program's procedure: {error}") from error
