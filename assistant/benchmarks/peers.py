"""Other recognisers on the same clips, for comparison: pocketsphinx with a careful policy, and Whisper tiny.en with its text checked.

Neither is part of benchhand. pocketsphinx comes with its model (PyPI pocketsphinx); faster-whisper needs a model folder, named by path.

The policy for pocketsphinx: the clip cut to the speech; a grammar of exactly the legal phrases as one prefix tree; two signals, raw and
seven tenths of a log-MMSE estimate; the winner's value taken out of the grammar for the next candidate (two of the raw signal, three of the
other), mean scores per value; a margin under .3 a frame is asked again, and what a loop of phones explains better by 5 a frame is not for us.
Whisper hears without a grammar, and is believed only where its text is a legal phrase of the step.
"""

import math
import time
from collections.abc import Hashable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from assistant.benchmarks.speech_kit import Item
from assistant.core.errors import BadInputError
from assistant.core.grammar import phrases, value_set
from assistant.core.waits import CONFIRM_COMMANDS, READING_COMMANDS, WAIT_COMMANDS
from assistant.core.words import Choice, Command, Expectation, Value, understand
from assistant.ears import RATE
from assistant.ears.crop import MARGIN_SECONDS, Endpointer, speech_in
from assistant.ears.spellings import PHONES, table

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

    Sound = NDArray[numpy.float64]

Line = dict[str, Any]
CLOSE_MARGIN_SECONDS = MARGIN_SECONDS / 2
LEAST_MARGIN, LEAST_OVER_LOOP, MISSING = 0.3, -5.0, 10.0
_SETTINGS = {
    "bestpath": False, "silprob": 0.3, "wip": 0.2, "remove_noise": False, "beam": 1e-64, "wbeam": 1e-48, "pbeam": 1e-64, "loglevel": "FATAL",
}  # fmt: skip


class Peer(Protocol):
    """Another recogniser."""

    name: str

    def hear(self, wave: "Sound", expected: Expectation) -> Line:
        """One clip of 16 kHz, as `benchhand listen` would print it."""
        ...


def expectation_of(item: Item) -> Expectation:
    """What `benchhand listen` expects where an item is said."""
    if item.expect in ("confirm", "command"):
        return Expectation(None, None, commands=CONFIRM_COMMANDS if item.expect == "confirm" else WAIT_COMMANDS)
    return Expectation(item.expect, item.unit, commands=READING_COMMANDS)


def peer(name: str, whisper_model: Path | None) -> Peer:
    """The peer of this name. Raises BadInputError: not known, not installed, or without its model."""
    try:
        if name == "pocketsphinx":
            return PocketsphinxPeer()
        if name == "whisper" and whisper_model is not None:
            return WhisperPeer(whisper_model)
    except ImportError as error:
        raise BadInputError(f"--peers {name}: {error.name} is not installed") from error
    raise BadInputError(
        "--peers whisper needs --whisper-model FOLDER" if name == "whisper" else f"--peers {name!r}: expected pocketsphinx or whisper"
    )


def line_of(meaning: object, heard: str, seconds: float) -> Line:
    """What was heard as `benchhand listen` prints it; None as the meaning is not accepted."""
    line: Line = {"accepted": meaning is not None, "value": None, "unit": None, "command": None, "heard": heard, "seconds": seconds}
    if isinstance(meaning, Value):
        line |= {"value": meaning.quantity.text, "unit": meaning.quantity.unit}
    elif isinstance(meaning, Command):
        line["command"] = meaning.name
    elif isinstance(meaning, Choice):
        line["value"] = meaning.text
    return line


class PocketsphinxPeer:
    """The policy above."""

    name = "pocketsphinx"

    def __init__(self) -> None:
        """Load the model that comes with the package. Raises ImportError where the package is not installed."""
        import pocketsphinx  # type: ignore[import-not-found,import-untyped,unused-ignore]

        models = Path(pocketsphinx.get_model_path()) / "en-us"
        self._decoder: Any = pocketsphinx.Decoder(hmm=str(models / "en-us"), dict=str(models / "cmudict-en-us.dict"), lm=None, **_SETTINGS)
        self._decoder.add_allphone_file("loop", str(models / "en-us-phone.lm.bin"))
        self._added: set[str] = set()
        self._endpointer = Endpointer()

    def hear(self, wave: "Sound", expected: Expectation) -> Line:
        """One clip, by the policy."""
        started = time.perf_counter()
        meaning, heard = self._judged(wave, dict(phrases(expected)))
        return line_of(meaning, heard, time.perf_counter() - started)

    def _judged(self, wave: "Sound", legal: Mapping[str, Hashable]) -> tuple[object, str]:
        span = speech_in(wave, self._endpointer)
        if span is None or not 0.18 <= span.seconds <= 6.0:
            return None, ""
        margin = round(CLOSE_MARGIN_SECONDS * RATE)
        first, last = max(0, span.start - margin), span.end + margin
        raw = wave[first:last]
        clean = 0.7 * enhanced(wave, span.start)[first:last] + 0.3 * raw
        frames = len(raw) / (RATE / 100)
        by_raw, by_clean = self._best(raw, legal, 2), self._best(clean, legal, 3)
        if not by_raw and not by_clean:
            return None, ""
        floors = [min((score for score, _ in best.values()), default=0.0) - MISSING for best in (by_raw, by_clean)]
        sums = {
            meaning: sum(best[meaning][0] if meaning in best else floor for best, floor in zip((by_raw, by_clean), floors, strict=True)) / 2
            for meaning in {**by_raw, **by_clean}
        }
        ranked = sorted(sums, key=lambda meaning: -sums[meaning])
        words = next(best[ranked[0]][1] for best in (by_clean, by_raw) if ranked[0] in best)
        if len(ranked) > 1 and (sums[ranked[0]] - sums[ranked[1]]) / frames < LEAST_MARGIN:
            return None, words
        loop = self._decoded(clean, "loop")
        if loop is not None and by_clean and (max(score for score, _ in by_clean.values()) - loop[0]) / frames < LEAST_OVER_LOOP:
            return None, words
        return ranked[0], words

    def _best(self, sound: "Sound", legal: Mapping[str, Hashable], count: int) -> dict[Hashable, tuple[float, str]]:
        """The first meanings with score and words, each found after those before it were taken out of the grammar."""
        found: dict[Hashable, tuple[float, str]] = {}
        for _ in range(count):
            left = {words: meaning for words, meaning in legal.items() if meaning not in found}
            if not left:
                break
            self._listen_for(left)
            decoded = self._decoded(sound, "step")
            if decoded is None or decoded[1] not in left:
                break
            found[left[decoded[1]]] = decoded
        return found

    def _listen_for(self, legal: Mapping[str, Hashable]) -> None:
        """The legal phrases as one prefix tree, with the same chance for each."""
        moves, final = tree_moves(list(legal))
        for word in {word for words in legal for word in words.split()} - self._added:
            self._added.add(word)
            for number, spelling in enumerate(table()[word], start=1):
                if number > 1 or self._decoder.lookup_word(word) is None:
                    phones = " ".join(PHONES[phone - 1] for phone in spelling)
                    self._decoder.add_word(word if number == 1 else f"{word}({number + 8})", phones, True)
        self._decoder.add_fsg("step", self._decoder.create_fsg("step", 0, final, moves))

    def _decoded(self, sound: "Sound", search: str) -> tuple[float, str] | None:
        """Score and words of one decoding, None for no hypothesis."""
        import numpy as np

        self._decoder.activate_search(search)
        self._decoder.start_utt()
        self._decoder.process_raw(np.rint(np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes(), no_search=False, full_utt=True)
        self._decoder.end_utt()
        hypothesis = self._decoder.hyp()
        if hypothesis is None or hypothesis.score <= 0.0:
            return None
        # The score comes as a power of the decoder's base; a word's second pronunciation as "word(2)".
        return math.log(hypothesis.score) / math.log(1.0001), " ".join(word.partition("(")[0] for word in hypothesis.hypstr.split())


def tree_moves(listed: list[str]) -> tuple[list[tuple[int, int, float, str] | tuple[int, int, float]], int]:
    """Phrases as the moves (from, to, chance, word) of one prefix tree, and its end; each phrase is as likely as any other."""
    children: list[dict[str, int]] = [{}]
    through, ends = [0], [0]
    for words in listed:
        at = 0
        through[0] += 1
        for word in words.split():
            if word not in children[at]:
                children[at][word] = len(children)
                children.append({})
                through.append(0)
                ends.append(0)
            at = children[at][word]
            through[at] += 1
        ends[at] += 1
    final = len(children)
    moves: list[tuple[int, int, float, str] | tuple[int, int, float]] = [
        (at, below, through[below] / through[at], word) for at, named in enumerate(children) for word, below in named.items()
    ]
    moves += [(at, final, count / through[at]) for at, count in enumerate(ends) if count]
    return moves, final


def enhanced(wave: "Sound", speech_start: int) -> "Sound":
    """`wave` with the noise that is there in the 0.3 s before the speech taken off.

    The log-spectral estimate of Ephraim and Malah (IEEE Transactions on Acoustics, Speech, and Signal Processing 33, 1985), a priori ratio by
    decision (.98); 32 ms frames, half overlapping.
    """
    import numpy as np
    from scipy.special import exp1

    size, hop = 512, 256
    window = np.hanning(size + 1)[:size]
    padded = np.concatenate([np.zeros(size), wave, np.zeros(size)])
    spectra = np.fft.rfft(np.lib.stride_tricks.sliding_window_view(padded, size)[::hop] * window, axis=1)
    power = np.abs(spectra) ** 2
    first, last = (speech_start - round(0.35 * RATE)) // hop + 2, (speech_start - round(0.05 * RATE)) // hop
    before = power[max(2, first) : max(4, last)]
    noise = before.mean(axis=0) + 1e-12
    estimate = np.zeros_like(power[0])
    cleaned = np.zeros_like(spectra)
    for at, now in enumerate(power):
        posterior = np.minimum(now / noise, 40.0)
        prior = np.maximum(0.98 * estimate / noise + 0.02 * np.maximum(posterior - 1, 0), 10**-2.5)
        v = prior * posterior / (1 + prior)
        gain = prior / (1 + prior) * np.exp(0.5 * exp1(np.maximum(v, 1e-8)))
        cleaned[at] = spectra[at] * gain
        estimate = np.abs(cleaned[at]) ** 2
    frames = np.fft.irfft(cleaned, size, axis=1)
    out = np.zeros(len(padded) + size)
    for at, frame in enumerate(frames):
        out[at * hop : at * hop + size] += frame
    result: Sound = out[size : size + len(wave)]
    return result


class WhisperPeer:
    """tiny.en, or another model in a folder, through faster-whisper."""

    name = "whisper"

    def __init__(self, folder: Path) -> None:
        """Load the model in `folder`. Raises ImportError without faster-whisper, BadInputError without a model."""
        import faster_whisper  # type: ignore[import-not-found,import-untyped,unused-ignore]

        if not (folder / "model.bin").is_file():
            raise BadInputError(f"--whisper-model {folder}: expected a folder with model.bin")
        self._model: Any = faster_whisper.WhisperModel(str(folder), device="cpu", compute_type="int8", cpu_threads=1)

    def hear(self, wave: "Sound", expected: Expectation) -> Line:
        """One clip: what it writes, if that is legal here."""
        import numpy as np

        started = time.perf_counter()
        parts, _ = self._model.transcribe(
            wave.astype(np.float32), language="en", beam_size=1, without_timestamps=True, condition_on_previous_text=False
        )
        text = " ".join(part.text for part in parts).strip()
        meant = understand(text, expected)
        legal = isinstance(meant, Command | Choice) or (
            isinstance(meant, Value)
            and expected.quantity is not None
            and meant.quantity in value_set(expected.quantity, expected.unit or "")
        )
        return line_of(meant if legal else None, text, time.perf_counter() - started)
