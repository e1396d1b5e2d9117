"""The voices of the benchmarks."""

from pathlib import Path
from subprocess import CompletedProcess

import numpy as np
import pytest

from assistant.benchmarks.voices import HEARD_IN_TRAINING, NEVER_HEARD, is_here, spoken
from assistant.core.errors import BadInputError
from assistant.ears import RATE
from assistant.ears.audio import write


def test_no_voice_is_on_both_lists() -> None:
    assert set(HEARD_IN_TRAINING).isdisjoint(NEVER_HEARD)


@pytest.mark.parametrize("voice", [name for name in HEARD_IN_TRAINING + NEVER_HEARD if name.startswith("espeak:")])
def test_every_bundled_voice_speaks_without_silence_round_it(voice: str) -> None:
    assert is_here(voice)
    speech = spoken(voice, "six thou")
    assert np.abs(speech).max() == pytest.approx(0.5)
    assert 0.3 < len(speech) / RATE < 2.0
    assert np.abs(speech[: RATE // 20]).max() > 0.005


def test_a_quick_voice_is_quicker() -> None:
    assert len(spoken("espeak:en-us", "six point five thou", 1.4)) < 0.85 * len(spoken("espeak:en-us", "six point five thou"))


@pytest.mark.parametrize(("voice", "fault"), [("espeak:nosuch", "no voice 'nosuch'"), ("robot", "expected espeak:NAME or flite:NAME")])
def test_a_voice_that_is_not_here_is_named(voice: str, fault: str) -> None:
    with pytest.raises(BadInputError, match=fault):
        spoken(voice, "six")


def test_flite_where_it_is_not_installed_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shutil.which", lambda _name: None)
    assert not is_here("flite:awb")
    with pytest.raises(BadInputError, match="flite is not installed"):
        spoken("flite:awb", "six")


def test_flite_is_given_words_that_it_would_spell_out_as_they_sound(monkeypatch: pytest.MonkeyPatch) -> None:
    said = []

    def speak(command: list[str], **_: object) -> CompletedProcess[str]:
        said.append(command[command.index("-t") + 1])
        write(Path(command[-1]), spoken("espeak:en-us", "six"))
        return CompletedProcess(command, 0, "", "")

    monkeypatch.setattr("shutil.which", lambda _name: "flite")
    monkeypatch.setattr("subprocess.run", speak)
    assert len(spoken("flite:awb", "half a thousandth")) > 0
    spoken("flite:awb", "six thou")
    assert said == ["half a thowzenth", "six thow"]


def test_a_voice_that_says_nothing_is_told() -> None:
    with pytest.raises(BadInputError, match="says nothing for ' '"):
        spoken("espeak:en-us", " ")
