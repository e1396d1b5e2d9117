"""A user's own words: checked at start, typed, and heard by our own ear (clips made by the bundled espeak)."""

from pathlib import Path
from typing import Any

import pytest

from assistant.bench import Bench, new_bench
from assistant.core.errors import BadInputError
from assistant.core.inputs import Quit, Said
from assistant.core.tongues import TONGUES
from assistant.core.words import Choice, Command, Expectation, understand
from assistant.hearing import Hearing
from assistant.journal.lines import LinesJournal
from assistant.own_words import OwnWord, own_words, own_words_from
from tests.cli.test_run import job_file as job_file
from tests.cli.test_run import printed, run
from tests.conftest import job_with
from tests.ears.speaking import said

OKEY = {"okey-dokey": {"means": "done", "sounds_like": "oh key doe key"}}


def problem(written: str, row: Any) -> str:
    with pytest.raises(BadInputError) as told:
        own_words_from({written: row}, "settings.toml")
    text = str(told.value)
    assert text.startswith(f'settings.toml: words."{written}": ')
    assert "\n" not in text
    return text


def test_an_own_word_is_understood_as_typed_and_as_it_sounds_and_only_as_a_whole() -> None:
    own = own_words_from({**OKEY, "zap that": {"means": "nothing found"}}, "x")
    assert own.words[0] == OwnWord("okey dokey", "done", "oh key doe key")
    assert [own.meant(text) for text in ("Okey-dokey!", "oh key doe key", "zap that", "okey", "done", "okey dokey six")] == [
        "done", "done", "nothing found", "okey", "done", "okey dokey six",
    ]  # fmt: skip
    assert own.plainly(Said("okey dokey", "typed")) == Said("done", "typed")
    assert own.plainly(Quit()) == Quit()


def test_phones_may_stand_for_a_sound() -> None:
    assert own_words_from({"schluss": {"means": "stop", "sounds_like": "SH L UH S"}}, "x").words[0].sounds == "SH L UH S"


@pytest.mark.parametrize(
    ("written", "row", "told"),
    [
        ("okey-dokey", {"means": "done", "sounds_like": "oh qix doe"}, "no sound is known for qix: expected sounds_like"),
        ("xyzzy", {"means": "done"}, "no sound is known for xyzzy"),
        ("okey-dokey", {"means": "finished"}, "means 'finished', which is no command and no choice"),
        ("take", {"means": "done"}, "means 'take' already"),
        ("toe root", {"means": "heel tip"}, "means 'toe root' already"),
        ("aye aye", {"means": "yes"}, "that has no second word"),
        ("got that", {"means": "understood"}, "that has no second word"),
        ("five by five", {"means": "done"}, "holds 'five': a number is a reading"),
        ("all right", {"means": "done", "sounds_like": "six thou"}, "holds 'six'"),
        ("bother", {"means": "done", "sounds_like": "UH N D UW"}, "sounds like 'undo', which means something else"),
        ("no way", {"means": "done", "sounds_like": "nothing found"}, "sounds like 'nothing found'"),
        ("yo", {"means": "done"}, "is heard by 2 sounds, expected at least 4"),
        ("okey-dokey", "done", "is 'done', expected as in"),
        ("okey-dokey", {"means": "done", "sound": "key"}, "expected as in"),
        ("!", {"means": "done"}, "holds no word"),
    ],
)
def test_a_wrong_row_is_one_clear_line(written: str, row: Any, told: str) -> None:
    assert told in problem(written, row)


def test_two_own_words_of_one_sound_and_two_meanings_are_refused_and_of_one_meaning_are_not() -> None:
    both = {**OKEY, "okie dokie": {"means": "help", "sounds_like": "oh key doe key"}}
    with pytest.raises(BadInputError, match=r"okie dokie.*sounds like 'oh key doe key'"):
        own_words_from(both, "x")
    assert len(own_words_from({**OKEY, "okie dokie": {"means": "done", "sounds_like": "oh key doe key"}}, "x").words) == 2
    with pytest.raises(BadInputError, match="stands there twice"):
        own_words_from({**OKEY, "Okey, dokey": {"means": "done", "sounds_like": "oh key doe key"}}, "x")
    with pytest.raises(BadInputError, match="expected a table"):
        own_words_from([], "x")


def test_own_words_stand_in_the_settings_file_beside_the_gauges(tmp_path: Path) -> None:
    path = tmp_path / "settings.toml"
    assert own_words(path).words == ()
    path.write_text('[gauge.dial]\nformat = "x"\n[words]\n"okey-dokey" = { means = "done", sounds_like = "oh key doe key" }\n', "utf-8")
    assert [word.said for word in own_words(path).words] == ["okey dokey"]
    path.write_text("[words", "utf-8")
    with pytest.raises(BadInputError, match="is not TOML"):
        own_words(path)
    with pytest.raises(BadInputError, match="expected a settings file that can be read"):
        own_words(tmp_path)


def test_an_own_word_goes_where_its_meaning_goes_and_never_into_a_confirm() -> None:
    own = own_words_from({**OKEY, "right on": {"means": "no", "sounds_like": "right on"}}, "x")
    assert own.heard_beside([("done", Command("done")), ("toe root", Choice("toe root"))]) == [("oh key doe key", Command("done"))]
    assert own.heard_beside([("yes", Command("yes")), ("no", Command("no"))]) == []


@pytest.fixture
def bench(tmp_path: Path) -> Any:
    journal = LinesJournal(tmp_path, "job", new=True)
    made, _ = new_bench(job_with(), journal, lambda: "0")
    yield made
    journal.close()


def test_an_own_word_is_heard_by_our_own_ear(bench: Bench) -> None:
    """The first wait of a job is for "done"."""
    hearing = Hearing(own=own_words_from(OKEY, "x"))
    clip = said("okey dokey")
    meant = hearing.hear(clip, bench.state)
    assert isinstance(meant, Said), hearing.last
    assert meant.words == "done"
    assert not isinstance(Hearing().hear(clip, bench.state), Said)


def test_an_own_word_works_on_json_lines_and_a_wrong_one_stops_before_a_job_is_begun(job_file: Path, tmp_path: Path) -> None:
    settings = tmp_path / "settings.toml"
    settings.write_text('[words]\n"okey-dokey" = { means = "done", sounds_like = "oh key doe key" }\n', "utf-8")
    arguments = ("run", "--job", job_file, "--headless", "--store", tmp_path / "store", "--settings", settings)
    done = run(*arguments, lines=({"say": "okey-dokey"},))
    steps = [line["step"]["id"] for line in printed(done) if "step" in line]
    assert steps == ["intake.manual", "baseline.state"]
    settings.write_text('[words]\n"okey-dokey" = { means = "done" }\n"qix" = { means = "take" }\n', "utf-8")
    refused = run(*arguments[:-3], tmp_path / "none", "--settings", settings)
    assert (refused.returncode, refused.stdout) == (2, "")
    assert refused.stderr.count("\n") == 1
    assert 'words."qix": no sound is known for qix' in refused.stderr
    assert not (tmp_path / "none").exists()


def test_a_row_of_another_language_holds_in_jobs_of_that_language() -> None:
    table = {**OKEY, "basta": {"means": "fertig", "language": "de"}}
    english, german = own_words_from(table, "x"), own_words_from(table, "x", "de")
    assert [word.said for word in english.words] == ["okey dokey"]
    assert [word.said for word in german.words] == ["basta"]
    assert german.meant("Basta!") == german.words[0].means
    assert understand(german.meant("basta"), Expectation(None, None, commands=("done",), tongue=TONGUES["de"])) == Command("done")
    assert "language 'xx' is not known, expected one of en, de" in problem("basta", {"means": "fertig", "language": "xx"})
    with pytest.raises(BadInputError, match="no command and no choice"):
        own_words_from({"basta": {"means": "finito", "language": "de"}}, "x", "de")
