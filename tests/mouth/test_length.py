"""How long it takes to listen: both hands are busy, and nobody can skip a sentence. Measured with the bundled voice at its usual speed."""

from itertools import combinations

import pytest

from assistant.core.axle import CARRIERS, PRELOADS
from assistant.core.quantities import Quantity
from assistant.core.tongues import TONGUES
from assistant.files import phrases_for
from assistant.mouth.bundled import VOICES, rendered, sentences
from assistant.mouth.espeak import espeak

MOST_SECONDS = 8.0
JUDGED = ("pinion_drag", "carrier_drag", "total_drag", "pinion_depth", "backlash")
SURPRISES = (
    ("0.0045 in", "0.0085 in"), ("2.6365 in", "2.6390 in"), ("66.68 mm", "67.12 mm"), ("0.14 mm", "0.25 mm"), ("18 lb-in", "24 lb-in"),
    ("2.1 N·m", "3.2 N·m"), ("125 lb-ft", "175 lb-ft"),
)  # fmt: skip


def seconds(text: str, language: str) -> float:
    return len(rendered(text, voice=VOICES[language])) / espeak().rate


@pytest.mark.parametrize("language", TONGUES)
def test_three_things_to_look_at_first_are_said_in_eight_seconds(language: str) -> None:
    """Every three that can be named together, of any layout."""
    phrases = phrases_for(language)
    said = set()
    for quantity in JUDGED:
        for preload in PRELOADS:
            for carrier in CARRIERS:
                fitting = [
                    look.text
                    for look in phrases.looks
                    if quantity in look.quantities
                    and (not look.when or look.when & {preload, carrier})
                    and not look.unless & {preload, carrier}
                ]
                said |= {phrases.sentence("doubt.looks", looks="; ".join(three)) for three in combinations(fitting, min(3, len(fitting)))}
    assert len(said) > len(JUDGED)
    assert {text: length for text in said if (length := seconds(text, language)) > MOST_SECONDS} == {}


@pytest.mark.parametrize("language", TONGUES)
def test_each_sentence_of_a_surprise_is_said_in_eight_seconds(language: str) -> None:
    phrases = phrases_for(language)
    for value, expected in SURPRISES:
        read, wanted = (phrases.say(Quantity.parse(text)) for text in (value, expected))
        for key in ("doubt.expected", "doubt.unusual", "doubt.twice"):
            for quantity in JUDGED:
                text = phrases.sentence(key, value=read, expected=wanted, quantity=phrases.name(quantity), slip="", looks="")
                assert all(seconds(part, language) <= MOST_SECONDS for part in sentences(text)), text
