"""A capture in German: words, sentences and figures; what is kept stays as it is."""

from pathlib import Path

from assistant.core.inspection import summary_lines
from tests.test_capture import CALIPER, MICROMETER, PLAN, Work
from tests.test_live_gauges import reading


def test_a_capture_in_german_is_german_and_takes_the_words_of_both(tmp_path: Path) -> None:
    work = Work(tmp_path, PLAN, MICROMETER, CALIPER, language="de")
    work.bench.reads(*[reading("25.420")] * 10, gauge="micrometer")
    work.say("übernehmen")
    too_large = "Zwei fünf, fünfundzwanzig Komma vier zwei Millimeter, außerhalb, zu groß um null Komma null null sieben Millimeter."
    assert (too_large, "warn") in work.said
    assert work.said[-1] == ("Teil eins: width.", "ask")
    assert any("25,420 mm  außerhalb" in line for kind, lines in work.shown if kind == "chart" for line in lines)
    assert work.say("rueckgaengig").startswith("Zurückgenommen: outer diameter, ")
    assert work.say("25,401", "12,70") == "Teil zwei: outer diameter."
    assert work.values == ["25.401 mm", "12.70 mm"]
    assert work.say("nächstes Teil") == "Teil zwei hat noch keinen Messwert."
    assert work.say("undo") == work.say("wiederholen")
    no_word = work.say("1.234")
    assert no_word.startswith(
        "'1.234' ist hier kein Wort und kein Messwert: erwartet eine Zahl in mm, oder eines von übernehmen, nächstes Teil,"
    )
    assert work.say("Einheit wechseln auf Zoll") == "Zeigt das Messgerät caliper jetzt Zoll? Dann ja."
    assert work.say("ja").startswith("Ab jetzt gibt das Messgerät caliper Zoll")
    assert work.say("stopp").startswith("Die Aufnahme beenden?")
    assert summary_lines(work.capture.state, work.capture.phrases)[0] == "outer diameter: 1 Messwerte, 0 außerhalb, 0 unsicher"
    work.spool.close()
