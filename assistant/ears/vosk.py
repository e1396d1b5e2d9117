"""An ear of the technician's choice: a Vosk model in a folder on this computer.

Vosk takes the phrases as a list, but may string their words together otherwise; what it then says is legal only if it is one of them to
the word. Its confidence is 1 even where it is wrong in that mode, so it is no measure: the scores of its alternatives are, and of what
it hears once its first choice is taken out of the list.
"""

import json
import math
import time
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assistant.core.errors import BadInputError
from assistant.core.tongue import Tongue
from assistant.core.tongues import ENGLISH
from assistant.ears import RATE, READ_BACK, Bars, Candidate, Heard, Phrases, Prior, UnknownWordError, Verdict
from assistant.ears.crop import Endpointer, cropped, signal_to_noise_db, speech_in
from assistant.ears.net import LEAST_PRIOR, LONGEST_SECONDS, SHORTEST_SECONDS, TALK_SECONDS, as_floats, judged

if TYPE_CHECKING:
    from assistant.ears import Samples

MOST_ALTERNATIVES = 10
UNKNOWN = "[unk]"
"""What Vosk puts where nothing of the list fits, with models that have it."""
# The two layouts of a model folder, by the files without which it cannot run.
_LAYOUTS = (("am/final.mdl", "conf/mfcc.conf", "graph/HCLr.fst", "graph/Gr.fst"), ("final.mdl", "mfcc.conf", "HCLr.fst", "Gr.fst"))


class VoskModelError(BadInputError):
    """A model folder cannot be used. Scenes: a name in place of a path; a folder copied in part; a model with a fixed vocabulary."""


@dataclass(frozen=True)
class VoskGrammar:
    """The phrases, as they are given to Vosk."""

    meanings: Mapping[str, Hashable]
    bars: Bars


class VoskEar:
    """A Vosk model. Not for two threads."""

    is_calibrated = False  # seen accepting a wrong digit with all alternatives agreeing, in Korean; no English model was at hand

    def __init__(self, folder: Path, tongue: Tongue = ENGLISH) -> None:
        """Load the model in `folder`, of the language `tongue`. Raises VoskModelError, with the folder in it; no other recogniser takes its place."""
        self._folder, self._same_word = checked_folder(folder), tongue.same_word
        import vosk

        vosk.SetLogLevel(-1)
        try:
            # Always a path: for a name that it does not know, the library ends the process.
            self._model: Any = vosk.Model(str(self._folder))
        except Exception as error:  # the library raises nothing narrower
            raise VoskModelError(f"{folder}: Vosk cannot load this model: copy it again, whole") from error
        self._recogniser_of: Any = vosk.KaldiRecognizer
        self.name = f"vosk {self._folder.name}"
        self._endpointer = Endpointer()

    def unknown(self, words: Iterable[str]) -> list[str]:
        """The words that the model has not learnt, in either spelling."""
        return sorted({word for word in words if self._model.vosk_model_find_word(self._learnt(word)) < 0})

    def _learnt(self, word: str) -> str:
        """A word as this model spells it: "center" where it has not learnt "centre"."""
        if self._model.vosk_model_find_word(word) >= 0:
            return word
        others = (other for other, ours in self._same_word.items() if ours == word)
        return next((other for other in others if self._model.vosk_model_find_word(other) >= 0), word)

    def load(self, phrases: Phrases, bars: Bars = READ_BACK) -> VoskGrammar:
        """Keep the phrases. Raises UnknownWordError for words that the model has not learnt."""
        meanings = {" ".join(map(self._learnt, words.split())): meaning for words, meaning in phrases if words.strip()}
        unknown = self.unknown(word for phrase in meanings for word in phrase.split())
        if unknown:
            raise UnknownWordError(f"the model in {self._folder} has not learnt {', '.join(unknown)}")
        return VoskGrammar(meanings, bars)

    def hear(self, sound: "Samples", grammar: VoskGrammar, prior: Prior | None = None) -> Heard:
        """Find the speech in one clip of 16 kHz, let Vosk hear it, and once more without its first choice."""
        import numpy as np

        started = time.perf_counter()
        wave = as_floats(sound)
        span = speech_in(wave, self._endpointer)
        if span is None or not SHORTEST_SECONDS <= span.seconds <= TALK_SECONDS or not grammar.meanings:
            spoken = 0.0 if span is None else span.seconds
            return Heard(Verdict.SILENT, "nothing for us", seconds=time.perf_counter() - started, speech_seconds=spoken)
        snr = signal_to_noise_db(wave, span)
        if span.seconds > LONGEST_SECONDS:
            reason = f"{span.seconds:.1f} s of speech: a reading takes at most {LONGEST_SECONDS} s"
            return Heard(Verdict.AGAIN, reason, seconds=time.perf_counter() - started, speech_seconds=span.seconds, snr_db=snr)
        pcm = np.rint(np.clip(cropped(wave, span), -1.0, 1.0) * 32767).astype("<i2").tobytes()
        scores = self._scores(pcm, list(grammar.meanings))
        first = max((text for text in scores if text in grammar.meanings), key=scores.__getitem__, default=None)
        others = [words for words, meaning in grammar.meanings.items() if first is None or meaning != grammar.meanings[first]]
        if first is not None and others:
            scores = self._scores(pcm, others) | scores
        ranked, fit = weighed(scores, grammar.meanings, prior)
        chosen, verdict, reason = judged(ranked, fit, grammar.bars)
        return Heard(verdict, reason, chosen, ranked, fit, time.perf_counter() - started, span.seconds, snr)

    def _scores(self, pcm: bytes, phrases: list[str]) -> dict[str, float]:
        """What Vosk hears in `pcm` with these phrases: each alternative's words with its score."""
        known = [*phrases, UNKNOWN] if self._model.vosk_model_find_word(UNKNOWN) >= 0 else phrases
        recogniser = self._recogniser_of(self._model, RATE, json.dumps(known, ensure_ascii=False))
        recogniser.SetMaxAlternatives(MOST_ALTERNATIVES)
        # A pause inside the crop ends an utterance for Vosk; what it had until then is in Result, and the rest in FinalResult.
        parts = [alternatives(recogniser.Result())] if recogniser.AcceptWaveform(pcm) else []
        return joined([*parts, alternatives(recogniser.FinalResult())])


def checked_folder(folder: Path) -> Path:
    """`folder` if it holds a whole model that can be told what to expect. Raises VoskModelError, saying what is missing."""
    if not folder.is_dir():
        raise VoskModelError(f"{folder} is not a folder: expected the path of an unpacked Vosk model, not its name or archive")
    missing = min(([name for name in layout if not (folder / name).is_file()] for layout in _LAYOUTS), key=len)
    if missing and any((folder / fixed).is_file() for fixed in ("graph/HCLG.fst", "HCLG.fst")):
        raise VoskModelError(f"{folder} holds a model with a fixed vocabulary, which cannot be told what to expect: take its small one")
    if missing:
        raise VoskModelError(f"{folder} is not a whole Vosk model: {', '.join(missing)} missing")
    return folder.resolve()


def alternatives(result: str) -> dict[str, float]:
    """The words of each alternative with the best score they come with, from one JSON result of Vosk. Empty words are silence."""
    found: dict[str, float] = {}
    for alternative in json.loads(result).get("alternatives", []):
        words = " ".join(alternative["text"].split())
        found[words] = max(found.get(words, -math.inf), float(alternative["confidence"]))
    return found


def joined(parts: list[dict[str, float]]) -> dict[str, float]:
    """The results of an utterance that Vosk cut in two, as one: words in a row, scores added."""
    whole = {"": 0.0}
    for part in parts:
        spoken = {words: score for words, score in part.items() if words}
        if spoken:
            whole = {f"{before} {words}".strip(): score + more for before, score in whole.items() for words, more in spoken.items()}
    return {words: score for words, score in whole.items() if words}


def weighed(scores: Mapping[str, float], meanings: Mapping[str, Hashable], prior: Prior | None) -> tuple[tuple[Candidate, ...], float]:
    """The legal meanings, best first, and the fit: the natural log of the share that legal phrases have among all alternatives.

    scores: log likelihoods up to a common constant. The posterior is the share among the legal ones.
    """
    top = max(scores.values(), default=0.0)
    weights = {words: math.exp(score - top) for words, score in scores.items()}
    legal = {words: weight for words, weight in weights.items() if words in meanings}
    total = sum(legal.values())
    if total <= 0.0:
        return (), -math.inf
    by_meaning: dict[Hashable, float] = {}
    said: dict[Hashable, str] = {}
    for words, weight in sorted(legal.items(), key=lambda item: -item[1]):
        by_meaning[meanings[words]] = by_meaning.get(meanings[words], 0.0) + weight
        said.setdefault(meanings[words], words)
    ordered = {meaning: weight * max(prior(meaning) if prior else 1.0, LEAST_PRIOR) for meaning, weight in by_meaning.items()}
    ranked = [
        Candidate(said[meaning], meanings[said[meaning]], by_meaning[meaning] / total, weight / sum(ordered.values()))
        for meaning, weight in sorted(ordered.items(), key=lambda item: -item[1])
    ]
    return tuple(ranked), math.log(total / sum(weights.values()))
