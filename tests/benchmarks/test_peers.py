"""The comparison with other recognisers: all that needs none of them installed."""

import sys
from pathlib import Path

import numpy as np
import pytest

from assistant.benchmarks.noises import with_noise
from assistant.benchmarks.peers import enhanced, expectation_of, line_of, peer, tree_moves
from assistant.benchmarks.speech_kit import Item, outcome
from assistant.core.errors import BadInputError
from assistant.core.quantities import Quantity
from assistant.core.words import Command, Value
from assistant.ears import RATE
from tests.ears.speaking import said


def test_the_chances_of_all_moves_from_a_place_add_up_to_one_and_each_phrase_is_as_likely() -> None:
    listed = ["six thou", "six point five thou", "six", "stop"]
    moves, final = tree_moves(listed)
    for at in {move[0] for move in moves}:
        assert sum(move[2] for move in moves if move[0] == at) == pytest.approx(1.0)
    for words in listed:
        at, chance = 0, 1.0
        for word in words.split():
            step = next(move for move in moves if move[0] == at and move[3:] == (word,))
            at, chance = step[1], chance * step[2]
        end = next(move for move in moves if move[:2] == (at, final))
        assert chance * end[2] == pytest.approx(1 / len(listed))


def test_the_enhanced_signal_has_less_noise_and_still_the_speech() -> None:
    clean = np.concatenate([np.zeros(RATE // 2), said("six point five thou")])
    noisy = with_noise(clean, 10.0, "fan", np.random.default_rng(1))
    start = RATE
    out = enhanced(noisy, start)
    assert len(out) == len(noisy)
    before = slice(RATE // 4, RATE * 3 // 4)
    assert np.sqrt(np.mean(out[before] ** 2)) < 0.5 * np.sqrt(np.mean(noisy[before] ** 2))
    assert np.corrcoef(out[start:], noisy[start:])[0, 1] > 0.8


@pytest.mark.parametrize(
    ("meaning", "item"),
    [
        (Value(Quantity.of("0.0065", "in"), "", ""), Item(0, "reading", "", "backlash", "in", value="0.0065")),
        (Command("stop"), Item(0, "command", "stop", "command", "", command="stop")),
    ],
)
def test_a_peers_line_is_scored_like_listens_own(meaning: object, item: Item) -> None:
    assert outcome(item, line_of(meaning, "x", 0.1)) == "right"
    assert outcome(item, line_of(None, "x", 0.1)) == "again"
    assert outcome(item, line_of(Value(Quantity.of("0.0095", "in"), "", ""), "x", 0.1)) == "wrong"


def test_a_peer_expects_what_listen_would() -> None:
    assert "yes" in expectation_of(Item(0, "command", "yes", "confirm", "")).commands
    assert "understood" in expectation_of(Item(0, "command", "done", "command", "")).commands
    assert expectation_of(Item(0, "reading", "", "backlash", "mm")).unit == "mm"


@pytest.mark.parametrize(("name", "says"), [("whisper", "needs --whisper-model FOLDER"), ("parrot", "expected pocketsphinx or whisper")])
def test_a_peer_that_is_not_known_or_lacks_its_model_is_refused(name: str, says: str) -> None:
    with pytest.raises(BadInputError, match=says):
        peer(name, None)


def test_a_peer_that_is_not_installed_is_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for module in ("pocketsphinx", "faster_whisper"):
        monkeypatch.setitem(sys.modules, module, None)
    with pytest.raises(BadInputError, match="pocketsphinx is not installed"):
        peer("pocketsphinx", None)
    with pytest.raises(BadInputError, match="faster_whisper is not installed"):
        peer("whisper", tmp_path)
