"""Practice in German: the learner and the axle meet in German, the hands know the interface alone, and it goes as it goes in English."""

import re
from pathlib import Path
from typing import ClassVar

import pytest

from assistant.bench import new_bench
from assistant.files import phrases_for, read_job
from assistant.journal.lines import LinesJournal
from assistant.practice import Outcome, Practice, told
from assistant.virtual_axle import MISTAKES, Build, Fault, VirtualAxle
from tests.test_practice import Learner

DE = phrases_for("de")
ENGLISH_ONLY = re.compile(r"\b(the|and|or|of|is|are|with|your|thousandths?|inch(es)?|millimetres?|left|right|toe|heel|yes|done|you)\b")
# What is no sentence: names of layouts and of mistakes, which are typed as they stand.
NAMES = re.compile("|".join(map(re.escape, sorted((*MISTAKES, "at-the-yoke"), key=len, reverse=True))))


class GermanLearner(Learner):
    """The same learner, who is told in German what is wanted."""

    one_of, wants = "[Werkbank] Eines von: ", "[Werkbank] Hier ist ein Wort nötig: "
    hinted: ClassVar = {"verstanden": "verstanden", "ja oder nein": "ja"}


def practised(build: Build, folder: Path, learner: Learner, *faults: Fault, language: str = "de", auto: bool = False) -> Outcome:
    folder.mkdir(exist_ok=True)
    axle = VirtualAxle(build, 3, faults)
    path = folder / "job.toml"
    path.write_text(axle.job_toml(), encoding="utf-8")
    journal = LinesJournal(folder, "practice", new=True)
    try:
        bench, first = new_bench(read_job(path), journal, lambda: "0", language=language)
        return Practice(bench, axle, learner.write, None if auto else learner.read).run(first)
    finally:
        journal.close()


@pytest.mark.parametrize("build", [Build(), Build("head-cup", "crush-sleeve", "side-shims", "mm")])
def test_a_learner_who_does_as_told_ends_in_spec_and_meets_no_english(build: Build, tmp_path: Path) -> None:
    learner = GermanLearner()
    outcome = practised(build, tmp_path, learner)
    assert outcome.verdict == "in spec"
    assert outcome.happened == []
    assert ENGLISH_ONLY.findall(" ".join(learner.shown)) == []
    assert not re.search(r"\d\.\d", " ".join(learner.shown)), "figures have a comma"


@pytest.mark.parametrize(
    "fault",
    [Fault("decimal-slip", "read:pinion_depth"), Fault("burr", "fit:preload_shims", 2), Fault("caps-loose", "torque:caps", 2),
     Fault("one-side-only", "turn:opposite_adjuster", 2)],
    ids=lambda fault: fault.name,
)  # fmt: skip
def test_a_bench_that_plays_alone_notices_the_same_in_both_languages(fault: Fault, tmp_path: Path) -> None:
    outcomes = []
    for language in ("en", "de"):
        learner = GermanLearner()
        again = Fault(fault.name, fault.at, fault.nth)
        outcomes.append(practised(Build(), tmp_path / language, learner, again, language=language, auto=True))
    english, german = outcomes
    assert (german.verdict, german.happened, german.false_alarms) == (english.verdict, english.happened, english.false_alarms)
    assert "> verstanden" in learner.shown
    lines = NAMES.sub("", " ".join([*learner.shown, *told(german, DE)]))
    assert ENGLISH_ONLY.findall(re.sub(r"\([a-z_ ]+\)", "", lines)) == []


def test_what_is_asked_of_the_bench_itself_is_answered_in_german(tmp_path: Path) -> None:
    lines = iter(["!singen", "!check", "fertig", "noch zusammengebaut", "!look"])
    learner = GermanLearner()
    learner.read = lambda: next(lines, None)  # type: ignore[method-assign]  # an input that ends
    outcome = practised(Build(), tmp_path, learner)
    assert outcome.verdict == "stopped"
    assert any("!singen ist kein Wort der Werkbank: !look: noch einmal auf das Messgerät sehen" in line for line in learner.shown)
    assert "[Werkbank] Alles durchgesehen. Alles ist, wie es sein soll." in learner.shown
    assert any(line.startswith("[Werkbank] Abgelesen: 0,0") and line.endswith(" in, wie vorher.") for line in learner.shown)


def test_what_happened_names_parts_and_figures_as_german_does() -> None:
    assert DE.reason("2 notches on the wrong adjuster") == "2 Rasten am falschen Einstellring"
    assert DE.reason("0.0050 in was said for pinion depth, 0.0500 in was there").startswith(
        "0,0050 in gesagt für Einstelltiefe des Ritzels"
    )
