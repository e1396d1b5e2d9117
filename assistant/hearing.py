"""An ear for this job: it is asked only for what can be said now, with what the belief expects, and its answer becomes an input.

The prediction orders the candidates; it never lifts one over a bar (`assistant.ears`).
"""

import math
import threading
from collections.abc import Hashable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assistant.core import predictions as pr
from assistant.core.errors import BadInputError
from assistant.core.grammar import heard_values, phrases, vocabulary
from assistant.core.inputs import Said, Unheard
from assistant.core.quantities import Quantity
from assistant.core.state import State
from assistant.core.tongue import Tongue
from assistant.core.tongues import ENGLISH
from assistant.core.waits import expectation, wait
from assistant.core.words import Command, Expectation, Value
from assistant.ears import READ_BACK, Bars, Heard, Prior, UnknownWordError, Verdict
from assistant.ears.prior import bell
from assistant.own_words import NO_OWN_WORDS, OwnWords

if TYPE_CHECKING:
    from concurrent.futures import Future, ThreadPoolExecutor

    from assistant.ears import Ear, Samples

EARS = ("typed", "net", "vosk")

# What may be said over the assistant's own voice: nothing of it can be taken for a reading or a yes.
INTERRUPTS = ("stop", "repeat", "undo", "hold")

# Without these, and the ten digits, an ear is of no use here.
_NEEDED = ("yes", "no", "stop", "done", "understood")
CANDIDATES = 4
"""Kept of what unclear speech may have been: two to offer, and two more in case those were refused."""

# How far from what is expected a value is still called likely: the belief's own spread is widened, for it orders only.
_WIDER = 2.0
# Commands stand as tall as a value at two spreads.
_COMMANDS = 0.15


@dataclass(frozen=True)
class _Early:
    """What is being decoded before it was asked for."""

    sound: "Samples"
    state: State
    only_interrupts: bool
    asleep: bool
    found: "Future[tuple[Heard, Said | Unheard]]"

    def is_of(self, sound: "Samples", state: State, *, only_interrupts: bool, asleep: bool) -> bool:
        """Whether it is of this very sound, at this very wait."""
        import numpy as np

        same = self.state is state and (self.only_interrupts, self.asleep) == (only_interrupts, asleep)
        return same and np.array_equal(self.sound, sound)


class Hearing:
    """An ear, loaded once, with the grammar of the wait that stands."""

    def __init__(
        self, ear: "Ear[Samples, Any] | None" = None, bars: Bars = READ_BACK, own: OwnWords = NO_OWN_WORDS, tongue: Tongue = ENGLISH
    ) -> None:
        """Take `ear`, or load our own. bars: how sure it must be of what is read back. own: the user's own words, heard beside ours.
        tongue: the language that is spoken; our own ear hears English.

        Raises BadInputError when our own weights are not the ones that were measured, or when the ear lacks words that a job cannot do without.
        """
        if ear is None:
            if tongue is not ENGLISH:
                raise BadInputError(NET_HEARS_ENGLISH.format(name=tongue.name))
            from assistant.ears.net import NetEar

            ear = NetEar()
        self.ear, self.bars, self.own, self.tongue = ear, bars, own, tongue
        own_sounds = {word for one in own.words for word in one.sounds.split()}
        self.unlearnt = tuple(ear.unknown(vocabulary(tongue) | own_sounds))
        """What this ear can never hear: said at start, and left out of what is listened for."""
        needed = sorted(set(self.unlearnt) & needed_words(tongue))
        if needed:
            raise UnknownWordError(f"{ear.name} has not learnt {', '.join(needed)}: expected a model of {tongue.name}")
        self.last: Heard | None = None
        self._early: _Early | None = None
        self._worker: ThreadPoolExecutor | None = None
        self._one_at_a_time = threading.Lock()

    def close(self) -> None:
        """End the thread that decodes ahead, if it was ever needed."""
        if self._worker is not None:
            self._worker.shutdown(wait=True, cancel_futures=True)

    def begin(self, sound: "Samples", state: State, *, only_interrupts: bool = False, asleep: bool = False) -> None:
        """Decode ahead, on a thread of its own, what is said if nobody speaks on. `hear` takes the result if it is asked for the very same.

        Another utterance, or another state, and it is as if this had not been called. Any thread may call it.
        """
        if self._worker is None:
            from concurrent.futures import ThreadPoolExecutor

            self._worker = ThreadPoolExecutor(1, "ear")
        if self._early is not None:
            self._early.found.cancel()
        found = self._worker.submit(self._decoded, sound, state, only_interrupts=only_interrupts, asleep=asleep)
        self._early = _Early(sound, state, only_interrupts, asleep, found)

    def listen(self, clip: Path, state: State) -> Said | Unheard:
        """Hear one clip as what can be said now. Raises BadInputError for a clip that cannot be read."""
        from assistant.ears.audio import read

        return self.hear(read(clip).samples, state)

    def hear(self, sound: "Samples", state: State, *, only_interrupts: bool = False, asleep: bool = False) -> Said | Unheard:
        """Hear one utterance. Nothing that passed no bar becomes words: it is asked for again.

        only_interrupts: our own voice may be in it, so neither a value nor a yes is taken from it. asleep: only what wakes is heard.
        """
        early, self._early = self._early, None
        if early is not None and early.is_of(sound, state, only_interrupts=only_interrupts, asleep=asleep):
            self.last, meant = early.found.result()
        else:
            if early is not None:
                early.found.cancel()
            self.last, meant = self._decoded(sound, state, only_interrupts=only_interrupts, asleep=asleep)
        return meant

    def _decoded(self, sound: "Samples", state: State, *, only_interrupts: bool, asleep: bool) -> "tuple[Heard, Said | Unheard]":
        """What the ear makes of it, and what that means here."""
        if asleep:
            grammar: tuple[tuple[str, Hashable], ...] = waking(self.tongue)
        else:
            interrupts = Expectation(None, None, commands=INTERRUPTS, tongue=self.tongue)
            grammar = phrases(interrupts) if only_interrupts else grammar_for(state)
        grammar = (*grammar, *self.own.heard_beside(grammar))
        if self.unlearnt:
            # Also the names of steps and causes, which no list at start can hold.
            unlearnt = set(self.ear.unknown(word for words, _ in grammar for word in words.split()))
            grammar = tuple((words, meaning) for words, meaning in grammar if unlearnt.isdisjoint(words.split()))
        with self._one_at_a_time:
            heard = self.ear.hear(sound, self.ear.load(grammar, self.bars), None if only_interrupts or asleep else prior_for(state))
        fit = round(heard.fit, 4) if math.isfinite(heard.fit) else None
        if heard.verdict is Verdict.ACCEPT and heard.chosen is not None:
            instead = heard.candidates[0].words if heard.is_surprise else ""
            posterior = round(heard.chosen.posterior, 6)
            return heard, Said(self.own.meant(heard.chosen.words), "spoken", posterior, fit, heard.is_surprise, instead, self.ear.name)
        likely = sorted(heard.candidates, key=lambda candidate: -candidate.posterior)[:CANDIDATES]
        best = round(likely[0].posterior, 6) if likely else None
        for_us = heard.verdict is not Verdict.SILENT
        words = tuple(self.own.meant(candidate.words) for candidate in likely)
        return heard, Unheard(words, heard.reason, best, fit, for_us, self.ear.name)


NET_HEARS_ENGLISH = "our own ear (net) hears English only: for {name} take --ears vosk with a model of that language, or type"


def needed_words(tongue: Tongue) -> frozenset[str]:
    """The words without which an ear is of no use here."""
    return frozenset((*tongue.ones[:10], *(tongue.folded(tongue.commands[name][0]) for name in _NEEDED)))


def waking(tongue: Tongue) -> tuple[tuple[str, Hashable], ...]:
    """What wakes the ear."""
    return tuple((words, Command("resume")) for words in tongue.waking)


def open_hearing(ears: str, vosk_model: Path | None, store: Path, own: OwnWords = NO_OWN_WORDS, tongue: Tongue = ENGLISH) -> Hearing | None:
    """The ear of `--ears`; None for "typed". Its bars are those that were fitted to the jobs in `store`, where they were.

    Raises BadInputError: an ear that does not exist, a model folder that is missing, not told or broken. Nothing takes its place.
    """
    from assistant.ears.refit import bars_in

    if ears not in EARS:
        raise BadInputError(f"--ears {ears!r} is not known, expected {', '.join(EARS[:-1])} or {EARS[-1]}")
    if (ears == "vosk") != (vosk_model is not None):
        raise BadInputError("--ears vosk and --vosk-model FOLDER go together: the folder of an unpacked Vosk model, by its path")
    if ears == "typed":
        return None
    hearing = Hearing(own=own, tongue=tongue) if vosk_model is None else _with_vosk(vosk_model, own, tongue)
    hearing.bars = bars_in(store, hearing.ear.name)
    return hearing


def _with_vosk(folder: Path, own: OwnWords, tongue: Tongue) -> Hearing:
    from assistant.ears.vosk import VoskEar

    return Hearing(VoskEar(folder, tongue), own=own, tongue=tongue)


def grammar_for(state: State) -> tuple[tuple[str, Hashable], ...]:
    """Every phrase that can be heard at this wait, with its meaning."""
    expected = expectation(state)
    now = wait(state)
    if expected.quantity is None or expected.unit is None or now is None:
        return phrases(expected)
    predicted = pr.predict(state, expected.quantity, expected.unit, now.spot)
    around, spread = (predicted.value, predicted.spread) if predicted is not None else (window_centre(state, expected.quantity), None)
    return phrases(expected, heard_values(expected.quantity, expected.unit, around, spread))


def window_centre(state: State, quantity: str) -> Quantity | None:
    """Where to look for a large size that the belief cannot tell: the bore from its plane, the plane from its bore."""
    law = pr.other_of_the_bore(state, quantity)
    return pr.quantity_of(law.mean, state.job.units) if law is not None else None


def prior_for(state: State) -> Prior | None:
    """How likely each meaning is before it is heard; None where the belief expects nothing."""
    now = wait(state)
    if now is None or now.kind != "reading" or now.quantity is None:
        return None
    law = pr.law(state, now.quantity, now.spot)
    if law is None:
        return None

    def likely(meaning: Hashable) -> float:
        if not isinstance(meaning, Value):
            return _COMMANDS
        return bell((pr.size(meaning.quantity) - law.mean) / (law.spread * _WIDER))

    return likely
