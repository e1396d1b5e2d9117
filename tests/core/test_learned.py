"""What was learned is told in one sentence, with the numbers of the readings themselves."""

import re

from assistant.core.learned import learned_words
from tests.conftest import job_with
from tests.table import Table


def test_nothing_is_claimed_before_a_change_was_measured() -> None:
    table = Table(job_with(), {"backlash": "0.0150 in"}).until("backlash.measure")
    table.say("why")
    assert "learned" not in table.spoken
    assert learned_words(table.state, "backlash") == ""


def test_how_backlash_answered_is_told_in_one_sentence_by_why() -> None:
    """From fifteen thousandths to about nine: the ring came in by what the prior's 0.7 asks for, so what is learned stays near it."""
    table = Table(job_with(), {"backlash": ["0.0150 in"] * 3 + ["0.0090 in"] * 40}).until("final.backlash")
    words = learned_words(table.state, "backlash")
    found = re.fullmatch(
        r"On this axle .*ten thousandths of ring movement change backlash by (.+), give or take (.+), and it swings by .+ round the ring: "
        r"learned from (.+) readings\.",
        words,
    )
    assert found is not None, words
    assert re.match(r"(five|six|seven|eight|nine)\b", found[1]), found[1]
    table.say("why")
    assert words in table.spoken


def test_a_drag_that_answered_tells_how_much_a_thousandth_brings() -> None:
    table = Table(job_with(), {"pinion_drag": ["12 lb-in", "22 lb-in"]})
    table.until("depth.fit")
    words = learned_words(table.state, "pinion_drag")
    assert words.startswith("On this axle one thousandth of shim changes the drag by ")
    assert words.endswith("learned from two readings.")


def test_a_quantity_that_nothing_is_changed_for_teaches_nothing() -> None:
    table = Table(job_with()).until("backlash.measure")
    assert learned_words(table.state, "ring_runout") == ""
