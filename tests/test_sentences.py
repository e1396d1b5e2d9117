"""What is said aloud or printed for people are whole sentences, in every language: a capital letter or a figure first, a mark last."""

import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core.effects import as_sentences
from assistant.core.tongues import TONGUES
from assistant.files import phrases_for
from assistant.practice import told
from assistant.virtual_axle import Build, Fault
from tests.test_dialogues import FILES, play
from tests.test_practice import Learner
from tests.test_practice_german import practised

# Layouts and mistakes that bring every kind of step, move, doubt and alarm between them.
JOBS = (
    (Build(), (Fault("at-the-yoke", "read:backlash"), Fault("shim-left-out", "fit:pinion_shims"), Fault("burr", "fit:preload_shims", 2))),
    (Build("head-cup", "crush-sleeve", "side-shims", "mm"), (Fault("wrong-side", "fit:ring_side_shims"),)),
    (Build("head-cone", "spacer-shims", "case-shims", "mm"), (Fault("not-seated", "fit:preload_shims"),)),
)


def broken(text: str) -> list[str]:
    """The sentences of a text that begin small or do not end."""
    parts = re.split(r"(?<=[.?!]) +", text)
    return [part for part in parts if not re.match(r"[^\W\d_]|\d", part) or part[0].islower() or part[-1] not in ".?!:"]


@pytest.mark.parametrize("language", TONGUES)
@pytest.mark.parametrize(("build", "faults"), JOBS, ids=lambda part: getattr(part, "pinion_shims", None))
def test_everything_that_is_said_in_a_whole_job_is_whole_sentences(
    build: Build, faults: tuple[Fault, ...], language: str, tmp_path: Path
) -> None:
    learner = Learner()
    outcome = practised(build, tmp_path, learner, *faults, language=language, auto=True)
    said = [line.strip() for line in learner.shown if line.startswith("  ")]
    assert len(said) > 50
    # A mistake's name stands in front as it is typed for --faults.
    printed = [re.sub(r"^[a-z-]+: ", "", line) for line in told(outcome, phrases_for(language))]
    assert [text for text in (*said, *printed[:1]) if broken(text)] == []
    assert [text for text in printed if text[-1] not in ".?!"] == []


@pytest.mark.parametrize("path", FILES, ids=[path.stem for path in FILES])
def test_everything_that_is_said_in_a_dialogue_is_whole_sentences(path: Path) -> None:
    batches = play(tomllib.loads(path.read_text(encoding="utf-8"))).batches
    said = [line["speak"] for batch in batches for line in batch if "speak" in line]
    assert [text for text in said if broken(text)] == []


@pytest.mark.parametrize("language", TONGUES)
def test_what_a_step_says_is_whole_sentences(language: str) -> None:
    """Those that no job above comes to."""
    for step, text in phrases_for(language).steps.items():
        # What is filled in after a mark is a sentence of its own, or nothing.
        assert broken(re.sub(r"(?<=[.?!]) ?{\w+}", "", text.say)) == [], step
        assert broken(text.why) == [], step
        assert not text.caution or broken(text.caution) == [], step


@given(st.text(alphabet="aä .?!:7;", min_size=1).filter(str.strip))
def test_a_text_made_to_sentences_keeps_its_words(text: str) -> None:
    made = as_sentences(text)
    assert made.casefold().rstrip(".") == text.strip().casefold().rstrip(".")
    assert as_sentences(made) == made
