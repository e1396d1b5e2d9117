"""Our own ear: a small net that writes down phones (net.onnx), and the exact posterior of every phrase that can be said now.

The net is the encoder of a public speech model, cut to six seconds, retrained, with one layer to 40 labels: blank and 39 phones, a frame
each 20 ms. It knows no words; spellings.py does. Licence and origin of the weights: net.LICENCE.md.
"""

import hashlib
import threading
import time
from collections.abc import Hashable, Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import accumulate
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.core.errors import BadInputError
from assistant.core.words import Choice, Command
from assistant.ears import READ_BACK, UNCONFIRMED, Bars, Candidate, Heard, Phrases, Prior, UnknownWordError, Verdict
from assistant.ears.crop import Endpointer, cropped, signal_to_noise_db, speech_in
from assistant.ears.spellings import TABLE, Spelling, spelled, unknown_words
from assistant.ears.tree import PhoneTree

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

    from assistant.ears import Samples

NET = Path(__file__).with_name("net.onnx")
NET_SHA256 = "91286d677bd63acb4bab4a812724d34073048252d47ccfaebcaa0b4eba9665cc"

SHORTEST_SECONDS = 0.18
"""Speech shorter than this is a knock."""
LONGEST_SECONDS = 5.4
"""Speech longer than this is no reading: with its margins it would not fit the net's 5.98 s."""
TALK_SECONDS = 6.0
"""Speech longer than this is not for us at all."""
FEWEST_SAMPLES, MOST_SAMPLES = 400, 95_680
PEAK = 0.5
YES = Command("yes")
PHRASE_FIT, PHRASE_HEED = -0.25, -0.30
"""For a command or choice of several words. Measured on seven unseen voices, in quiet and at 15 dB, causes and patterns: heard .96 and .91
instead of .74 and .64; of 371 other causes each, and 630 sentences of talk, none more was taken for one."""
MOST_CANDIDATES = 10
LEAST_PRIOR = 1e-6
"""No meaning is ever ruled out before it is heard."""


class ChangedNetError(BadInputError):
    """The weights file is missing or not the one that was measured. Scenes: a half-copied installation; a file put in its place."""


@dataclass(frozen=True)
class NetGrammar:
    """Phrases as one tree of phones.

    meanings: each once; their strings lie one after another in the tree. first_strings: where each meaning's strings begin.
    phrases: for each string its words with their own meaning; equal meanings may still differ in what they do not compare.
    """

    tree: PhoneTree
    meanings: tuple[Hashable, ...]
    first_strings: tuple[int, ...]
    phrases: tuple[tuple[str, Hashable], ...]
    bars: Bars


class NetEar:
    """The net with its detector of speech. One utterance at a time: a second thread waits."""

    is_calibrated = True  # on twelve unseen synthetic voices and three unseen people

    def __init__(self, path: Path = NET) -> None:
        """Load the weights. Raises ChangedNetError; there is no other recogniser to fall back to."""
        import onnxruntime

        self.name = f"net {_checked(path)[:12]}"
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        options.log_severity_level = 3
        self._session = onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])
        self._endpointer = Endpointer()
        self._one_at_a_time = threading.Lock()

    def unknown(self, words: Iterable[str]) -> list[str]:
        """The words without phones."""
        return unknown_words(words)

    def load(self, phrases: Phrases, bars: Bars = READ_BACK) -> NetGrammar:
        """Make the tree of `phrases`; the same phrases again cost nothing. Raises UnknownWordError, naming every word without phones."""
        return _grammar(tuple(phrases), bars)

    def hear(self, sound: "Samples", grammar: NetGrammar, prior: Prior | None = None) -> Heard:
        """Find the speech in one clip of 16 kHz and weigh every phrase against it."""
        started = time.perf_counter()
        wave = as_floats(sound)
        with self._one_at_a_time:
            span = speech_in(wave, self._endpointer)
        if span is None or span.seconds < SHORTEST_SECONDS:
            return Heard(Verdict.SILENT, "nobody spoke", seconds=time.perf_counter() - started)
        snr = signal_to_noise_db(wave, span)
        if span.seconds > LONGEST_SECONDS:
            verdict = Verdict.SILENT if span.seconds > TALK_SECONDS else Verdict.AGAIN
            reason = f"{span.seconds:.1f} s of speech: a reading takes at most {LONGEST_SECONDS} s"
            return Heard(verdict, reason, seconds=time.perf_counter() - started, speech_seconds=span.seconds, snr_db=snr)
        ranked, fit = weighed(grammar, self.phones(cropped(wave, span)), prior)
        chosen, verdict, reason = judged(ranked, fit, grammar.bars)
        return Heard(verdict, reason, chosen, ranked, fit, time.perf_counter() - started, span.seconds, snr)

    def phones(self, speech: "NDArray[numpy.float64]") -> "NDArray[numpy.float32]":
        """What the net makes of cut speech (16 kHz): [frames, 40], the natural log of each label's probability, a frame each 20 ms."""
        import numpy as np

        speech = speech[:MOST_SAMPLES]
        loudest = float(np.abs(speech).max()) if len(speech) else 0.0
        wave = np.zeros((1, max(len(speech), FEWEST_SAMPLES)), np.float32)
        wave[0, : len(speech)] = speech * (PEAK / loudest) if loudest > 0.0 else speech
        with self._one_at_a_time:
            (log_labels,) = self._session.run(None, {"wav": wave})
        return np.asarray(log_labels[0])


def weighed(grammar: NetGrammar, log_labels: "NDArray[numpy.float32]", prior: Prior | None) -> tuple[tuple[Candidate, ...], float]:
    """The likeliest meanings, best first, the sound's own favourite always among them; and the fit.

    log_labels: [frames, 40] as the net gives them. The fit is the natural log of the probability of anything legal, by frames.
    """
    import numpy as np

    if not grammar.meanings:
        return (), -np.inf
    by_string = grammar.tree.log_probabilities(log_labels)
    by_meaning = np.logaddexp.reduceat(by_string, grammar.first_strings)
    legal = float(np.logaddexp.reduce(by_meaning))
    if not np.isfinite(legal):
        return (), -np.inf
    posterior = np.exp(by_meaning - legal)
    factors = np.array([max(prior(meaning), LEAST_PRIOR) for meaning in grammar.meanings]) if prior else np.ones(len(posterior))
    ordered = posterior * factors / (posterior @ factors)
    best_first = [int(at) for at in np.argsort(-ordered, kind="stable") if posterior[at] > 0.0]
    favourite = int(posterior.argmax())
    kept = best_first[:MOST_CANDIDATES]
    if favourite not in kept:
        kept.append(favourite)
    bounds = (*grammar.first_strings, len(by_string))
    return tuple(
        Candidate(
            *grammar.phrases[bounds[at] + int(by_string[bounds[at] : bounds[at + 1]].argmax())],
            float(posterior[at]),
            float(ordered[at]),
        )
        for at in kept
    ), legal / len(log_labels)


def judged(ranked: tuple[Candidate, ...], fit: float, bars: Bars) -> tuple[Candidate | None, Verdict, str]:
    """The candidate to go on with, if any; the verdict; and its reason. The prior has no part in it.

    bars: those of the grammar; `held_to` says where others hold.
    """
    best = max(ranked, key=lambda candidate: candidate.posterior, default=None)
    needed = bars if best is None else held_to(best, bars)
    if best is None or fit < needed.heed:
        return None, Verdict.SILENT, f"like nothing that can be said here (fit {fit:.2f}, heeded from {needed.heed:.2f})"
    if fit < needed.fit:
        return None, Verdict.AGAIN, f"unclear: {best.words!r} at best (fit {fit:.2f}, wanted {needed.fit:.2f})"
    if best.posterior < needed.posterior:
        return None, Verdict.AGAIN, f"unsure: {best.words!r} with {best.posterior:.3f}, wanted {needed.posterior:.3f}"
    return best, Verdict.ACCEPT, f"{best.words!r} with {best.posterior:.4f}, fit {fit:.2f}"


def held_to(candidate: Candidate, bars: Bars) -> Bars:
    """The bars for one candidate.

    A yes is acted on at once, and needs the full bars whatever the grammar's are. A command or choice of several words may fit less well:
    the net was trained on few of them, and the more sounds a phrase has, the less can be taken for it by chance.
    """
    if candidate.meaning == YES:
        return UNCONFIRMED
    if isinstance(candidate.meaning, Command | Choice) and " " in candidate.words:
        return replace(bars, fit=min(bars.fit, PHRASE_FIT), heed=min(bars.heed, PHRASE_HEED))
    return bars


@lru_cache(maxsize=32)
def _grammar(phrases: tuple[tuple[str, Hashable], ...], bars: Bars) -> NetGrammar:
    missing = unknown_words(words for words, _ in phrases)
    if missing:
        raise UnknownWordError(f"no phones for {', '.join(missing)}: add a line for each to {TABLE.name}")
    by_meaning: dict[Hashable, dict[Spelling, tuple[str, Hashable]]] = {}
    for words, meaning in phrases:
        # An empty phrase would be the root of the tree, which silence spells.
        for spelling in spelled(words) if words.strip() else ():
            # Once each: a string that came twice would count twice.
            by_meaning.setdefault(meaning, {}).setdefault(spelling, (words, meaning))
    counts = [len(strings) for strings in by_meaning.values()]
    return NetGrammar(
        PhoneTree([spelling for strings in by_meaning.values() for spelling in strings]),
        tuple(by_meaning),
        tuple(accumulate(counts, initial=0))[:-1],
        tuple(phrase for strings in by_meaning.values() for phrase in strings.values()),
        bars,
    )


def as_floats(sound: "Samples") -> "NDArray[numpy.float64]":
    """One channel of samples as fractions of −1 to 1. Raises ValueError for another shape: the caller is at fault."""
    import numpy as np

    if sound.ndim != 1:
        raise ValueError(f"sound of shape {sound.shape}: expected one channel, [samples]")
    return sound.astype(np.float64) / (32768.0 if sound.dtype == np.int16 else 1.0)


def _checked(path: Path) -> str:
    """The SHA-256 of the weights file. Raises ChangedNetError when it is missing or another one."""
    try:
        found = hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError as error:
        raise ChangedNetError(f"{path}: the weights of the recogniser cannot be read ({error.strerror}): install again") from error
    if found != NET_SHA256:
        raise ChangedNetError(f"{path}: SHA-256 is {found}, expected {NET_SHA256}: install again")
    return found
