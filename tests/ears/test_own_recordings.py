"""Reading phrases aloud and measuring them: on a voice of the bundled espeak in place of a technician."""

import json
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.core.errors import BadInputError
from assistant.core.grammar import phrases
from assistant.ears.net import NetEar
from assistant.ears.own_recordings import COUNT, LIST, README, Phrase, figures, kept_in, phrase_list, record_all
from tests.ears.speaking import said, silence


class Reader:
    """Reads what is shown, in its own voice; the first phrases only, then the session is broken off."""

    def __init__(self, *, mutters: int = 0, reads: int = 5, says: dict[int, str] | None = None) -> None:
        self.mutters, self.reads, self.says = mutters, reads, says or {}
        self.text, self.shown = "", list[str]()

    def tell(self, line: str) -> None:
        self.shown.append(line)
        if " of 120: " in line:
            number, _, self.text = line.partition(" of 120: ")
            self.text = self.says.get(int(number), self.text)

    def listen(self, seconds: float) -> NDArray[np.int16]:
        if self.reads == 0:
            raise KeyboardInterrupt
        if self.mutters:
            self.mutters -= 1
            return silence(seconds).astype(np.int16)
        self.reads -= 1
        return np.rint(said(self.text) * 32767).astype(np.int16)


def session(folder: Path, reader: Reader, answer: bool = True) -> list[Phrase]:
    kept = []
    try:
        for phrase in record_all(folder, reader.listen, reader.tell, lambda _: answer):
            kept.append(phrase)  # noqa: PERF402 - what came before the interruption counts
    except KeyboardInterrupt:
        pass
    return kept


def test_there_are_120_phrases_always_the_same_and_each_is_legal_at_its_step() -> None:
    found = phrase_list()
    assert len(found) == COUNT
    assert found == phrase_list()
    assert [phrase.number for phrase in found] == list(range(1, COUNT + 1))
    for phrase in found:
        meaning = dict(phrases(phrase.expectation()))[phrase.text]
        assert phrase.means(meaning), phrase


def test_both_answers_to_a_read_back_are_among_them_many_times() -> None:
    said_here = [phrase.command for phrase in phrase_list() if phrase.wait == "confirm"]
    assert said_here.count("yes") + said_here.count("no") >= 5


def test_a_session_can_be_broken_off_and_goes_on_where_it_was(tmp_path: Path) -> None:
    first = session(tmp_path, Reader(reads=3))
    assert [phrase.number for phrase in first] == [1, 2, 3]
    second = session(tmp_path, Reader(reads=2))
    assert [phrase.number for phrase in second] == [4, 5]
    assert kept_in(tmp_path) == list(phrase_list()[:5])


def test_nothing_is_recorded_without_consent(tmp_path: Path) -> None:
    folder = tmp_path / "own"
    with pytest.raises(BadInputError, match="did not agree"):
        session(folder, Reader(), answer=False)
    assert not folder.exists()


def test_the_folder_says_what_it_holds(tmp_path: Path) -> None:
    session(tmp_path, Reader(reads=1))
    assert "consent in writing" in (tmp_path / README).read_text(encoding="utf-8")


def test_a_phrase_that_was_not_heard_is_asked_for_again_and_given_up_after_three_times(tmp_path: Path) -> None:
    reader = Reader(mutters=2, reads=1)
    assert len(session(tmp_path, reader)) == 1
    assert reader.shown.count("Nothing was heard; once more.") == 2
    with pytest.raises(BadInputError, match="three times nothing was heard at phrase 2"):
        session(tmp_path, Reader(mutters=9))


def test_the_figures_count_right_wrong_and_asked_again(tmp_path: Path) -> None:
    # Phrase 2 is read wrongly on purpose: another legal value of its step.
    second = phrase_list()[1]
    other = next(words for words, meaning in phrases(second.expectation()) if not second.means(meaning) and words != second.text)
    session(tmp_path, Reader(reads=4, says={2: other}))
    found = figures(tmp_path, NetEar())
    assert found.count == 4
    assert found.right + found.again + len(found.wrong) == 4
    assert [(phrase.number, heard) for phrase, heard in found.wrong] in ([(2, other)], [])
    assert found.right >= 2


def test_a_damaged_list_is_refused_with_its_line(tmp_path: Path) -> None:
    session(tmp_path, Reader(reads=1))
    with (tmp_path / LIST).open("a", encoding="utf-8") as listed:
        listed.write(json.dumps({"number": 2}) + "\n")
    with pytest.raises(BadInputError, match=r"phrases\.jsonl, line 2"):
        kept_in(tmp_path)
