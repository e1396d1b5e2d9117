"""The ear of a job in German: what it is asked for, and which ear is refused. No German model was at hand: what one hears is not tested here."""

import json
from collections.abc import Hashable, Iterable, Iterator
from pathlib import Path
from typing import Any, ClassVar

import numpy as np
import pytest

from assistant.bench import Bench, new_bench
from assistant.core.errors import BadInputError
from assistant.core.grammar import phrases, vocabulary
from assistant.core.inputs import Said
from assistant.core.quantities import Quantity
from assistant.core.tongues import GERMAN
from assistant.core.waits import expectation
from assistant.core.words import Expectation, Value, understand
from assistant.ears import RATE, READ_BACK, Bars, Heard, Phrases, Prior, UnknownWordError, Verdict
from assistant.ears.vosk import VoskEar
from assistant.hearing import Hearing, open_hearing
from assistant.journal.lines import LinesJournal
from tests.conftest import job_with
from tests.ears.speaking import said


class Listed:
    """An ear that hears nothing and keeps what it was told to listen for. unknown_: the words that it has not learnt."""

    is_calibrated = False
    name = "listed"

    def __init__(self, *unknown_: str) -> None:
        self.unknown_, self.listed = set(unknown_), dict[str, Hashable]()

    def unknown(self, words: Iterable[str]) -> list[str]:
        return sorted(self.unknown_ & set(words))

    def load(self, phrases: Phrases, bars: Bars = READ_BACK) -> None:
        del bars
        self.listed = dict(phrases)

    def hear(self, sound: Any, grammar: None, prior: Prior | None = None) -> Heard:
        del sound, grammar, prior
        return Heard(Verdict.SILENT, "nobody spoke")


@pytest.fixture
def german(tmp_path: Path) -> Iterator[Bench]:
    journal = LinesJournal(tmp_path, "job", new=True)
    made, _ = new_bench(job_with(), journal, lambda: "0", language="de")
    for words in ("fertig", "noch zusammengebaut"):
        made.give(Said(words))
    yield made
    journal.close()


def test_a_german_ear_is_asked_for_german_phrases_alone(german: Bench) -> None:
    ear = Listed()
    hearing = Hearing(ear, tongue=GERMAN)
    hearing.hear(np.zeros(RATE), german.state)
    assert {"sechs komma fünf tausendstel zoll", "null komma null null sechs fünf", "rückgängig", "wiederholen", "stopp"} <= set(ear.listed)
    assert not {"six thou", "undo", "repeat", "six point five thou"} & set(ear.listed)
    hearing.hear(np.zeros(RATE), german.state, only_interrupts=True)
    assert set(ear.listed) == {"stopp", "halt", "wiederholen", "wie war das", "rückgängig", "zurücknehmen", "pause", "stumm"}
    hearing.hear(np.zeros(RATE), german.state, asleep=True)
    assert set(ear.listed) == {"aufwachen", "fortsetzen"}
    assert all(understand(words, expectation(german.state)) for words in ear.listed)


def test_our_own_ear_is_refused_for_german_with_what_to_do_instead(german: Bench, tmp_path: Path) -> None:
    refused = r"our own ear \(net\) hears English only: for German take --ears vosk with a model of that language, or type"
    with pytest.raises(BadInputError, match=refused):
        Hearing(tongue=GERMAN)
    with pytest.raises(BadInputError, match=refused):
        open_hearing("net", None, tmp_path, tongue=GERMAN)
    with pytest.raises(BadInputError, match=refused):
        german.hear(tmp_path / "clip.wav")


def test_a_model_of_another_language_is_refused_by_the_words_that_it_lacks() -> None:
    with pytest.raises(UnknownWordError, match="has not learnt fünf, verstanden: expected a model of German"):
        Hearing(Listed("fünf", "verstanden"), tongue=GERMAN)


def test_what_a_model_has_not_learnt_is_told_and_not_listened_for(german: Bench) -> None:
    ear = Listed("zollpfund", "tausendstel")
    hearing = Hearing(ear, tongue=GERMAN)
    assert hearing.unlearnt == ("tausendstel", "zollpfund")
    hearing.hear(np.zeros(RATE), german.state)
    assert "null komma null null sechs fünf zoll" in ear.listed
    assert not any("tausendstel" in words for words in ear.listed)


class Model:
    """As far as our adapter asks a model: the words that it has learnt."""

    def __init__(self, folder: str) -> None:
        del folder
        self.words = vocabulary(GERMAN) - {"rückgängig"}

    def vosk_model_find_word(self, word: str) -> int:
        return 1 if word in self.words else -1


class Recogniser:
    """Keeps the grammar that it was given, and says that nothing was heard."""

    told: ClassVar[list[str]] = []

    def __init__(self, model: Model, rate: int, grammar: str) -> None:
        del model, rate
        Recogniser.told.append(grammar)

    def SetMaxAlternatives(self, most: int) -> None:  # noqa: N802 - the library's name
        pass

    def AcceptWaveform(self, pcm: bytes) -> bool:  # noqa: N802
        return len(pcm) == 0

    def FinalResult(self) -> str:  # noqa: N802
        return '{"alternatives": [{"confidence": 120.0, "text": "null komma drei null millimeter"}]}'


def test_a_vosk_model_gets_a_german_grammar_with_its_umlauts(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    # In place of the library: it keeps what it was given, and answers in the library's form.
    vosk = pytest.importorskip("vosk")
    monkeypatch.setattr(vosk, "Model", Model)
    monkeypatch.setattr(vosk, "KaldiRecognizer", Recogniser)
    for name in ("am/final.mdl", "conf/mfcc.conf", "graph/HCLr.fst", "graph/Gr.fst"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"")
    ear = VoskEar(tmp_path, GERMAN)
    assert ear.unknown(["fünf", "rückgängig"]) == ["rückgängig"]
    values = (Quantity.of("0.30", "mm"), Quantity.of("0.31", "mm"))
    grammar = ear.load(phrases(Expectation("backlash", "mm", commands=("stop", "help"), tongue=GERMAN), values))
    heard = ear.hear(said("null Komma drei null Millimeter", voice="de"), grammar)
    told = json.loads(Recogniser.told[0])
    assert "null komma drei null millimeter" in told
    assert "dreißig hundertstel" in Recogniser.told[0]  # as letters, not as escapes
    assert heard.chosen is not None
    assert heard.chosen.meaning == Value(Quantity.of("0.30", "mm"), "", "")
