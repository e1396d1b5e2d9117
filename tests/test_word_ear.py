"""The words of a capture and of a meeting, spoken by the bundled synthesiser, through the real recogniser: takes by voice."""

from pathlib import Path

import numpy as np
import pytest

from assistant.capture import WORDS
from assistant.cli.meet import WORDS as OF_A_MEETING
from assistant.core.inspection import Plan
from assistant.ears.microphone import Utterance
from assistant.ears.spellings import UnknownWordError
from assistant.word_ear import WordEar
from gauges.settings import GaugeSettings
from tests.ears.speaking import hum, said
from tests.test_capture import Work
from tests.test_live_gauges import reading


def utterance(words: str, *, began: float = 0.0, over: bool = False) -> Utterance:
    return Utterance((said(words) * 32767).astype(np.int16), began, began + 1.0, over, False)


@pytest.fixture(scope="module")
def ear() -> WordEar:
    return WordEar(WORDS)


@pytest.mark.parametrize("word", WORDS)
def test_every_word_is_heard_as_itself_or_asked_for_again_and_never_as_another(word: str, ear: WordEar) -> None:
    assert ear.hear(utterance(word)) in (word, "")


def test_most_words_are_heard_at_once(ear: WordEar) -> None:
    # One synthetic voice: it shows that the words are in the grammar, and promises nothing for a workshop.
    assert sum(ear.hear(utterance(word)) == word for word in WORDS) >= len(WORDS) * 3 // 4


def test_over_our_own_voice_only_what_silences_is_heard(ear: WordEar) -> None:
    assert ear.hear(utterance("take", over=True)) is None
    assert ear.hear(utterance("yes", over=True)) is None
    assert ear.hear(utterance("stop", over=True)) in ("stop", None)


def test_noise_is_no_word(ear: WordEar) -> None:
    assert not ear.hear(Utterance((hum(2.0) * 8000).astype(np.int16), 0.0, 2.0, over_own_voice=False, is_clipped=False))


def test_the_words_of_a_meeting_are_known_and_an_unknown_one_is_refused() -> None:
    assert WordEar(OF_A_MEETING).hear(utterance("done")) in ("done", "")
    with pytest.raises(UnknownWordError, match="xylophone"):
        WordEar(("xylophone",))


def test_take_said_aloud_takes_the_value_of_its_onset(tmp_path: Path, ear: WordEar) -> None:
    work = Work(tmp_path, Plan(), GaugeSettings("micrometer", "ascii-signed-cr", "x", unit="mm", uses=("size",)))
    work.capture.ear = ear
    work.bench.reads(*[reading("25.400")] * 10, gauge="micrometer")
    onset = work.bench.now
    work.bench.reads(reading("26.000"), reading("27.000"), gauge="micrometer")
    work.do(utterance("take", began=onset))
    assert work.values == ["25.400 mm"]
    work.spool.close()
