"""The page in German: its words are longer, its numbers have a comma, and what is sent is what stands there."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from assistant.core.axle import Job
from assistant.core.inputs import Said
from tests.browser.conftest import Opened
from tests.browser.hands import Hands
from tests.browser.test_seen import looked_at, violations
from tests.screen.running import Running, new_job

if TYPE_CHECKING:
    from playwright.sync_api import Page


@pytest.fixture
def german(job: Job, tmp_path: Path) -> Iterator[Running]:
    """A new job in German with its screen."""
    with new_job(job, tmp_path, language="de") as found:
        yield found


def at_the_first_reading(page: "Page", bench: Running) -> Hands:
    hands = Hands(page, bench)
    for words in ("done", "still together"):
        hands.press(words)
    return hands


@pytest.mark.parametrize("width", [320, 1366])
def test_longer_words_have_not_to_be_scrolled_sideways_and_axe_finds_nothing(german: Running, opened: Opened, width: int) -> None:
    page = opened(german.place.url, width, 700, bypass_csp=True)
    assert page.get_attribute("html", "lang") == "de"
    with looked_at(page, german) as moments:
        for name in moments:
            Hands(page, german).picture(f"german-{width}-{name}")
            assert page.evaluate("document.documentElement.scrollWidth") <= width, name
            assert violations(page) == [], name
            for button in page.query_selector_all("button"):
                if button.is_visible():
                    assert button.evaluate("node => node.scrollWidth <= node.clientWidth + 1"), f"{button.inner_text()} at {name}"


# The words of a button that stand on more than one line; a soft hyphen is a place where one may be broken.
BROKEN_WORDS = """(node) => {
    const texts = document.createTreeWalker(node, NodeFilter.SHOW_TEXT), broken = [];
    for (let text = texts.nextNode(); text; text = texts.nextNode())
        for (const word of text.data.matchAll(/[^ \\u00ad]+/g)) {
            const range = document.createRange();
            range.setStart(text, word.index + (word[0].length > 1 ? 1 : 0));  // a hyphen before it counts with its first letter
            range.setEnd(text, word.index + word[0].length);
            if (new Set([...range.getClientRects()].filter((box) => box.width > 0).map((box) => box.top)).size > 1) broken.push(word[0]);
        }
    return broken;
}"""


# "No, not 0.0150 in" stands among the quick ones only right after a gauge's reading.
FOURTH_BUTTON = """() => {
    const row = document.querySelector('#quick'), last = row.lastElementChild;
    if (!last || row.querySelector('[data-say=no]')) return;
    const copy = last.cloneNode(true);
    copy.dataset.say = 'no';
    copy.firstChild.data = 'No, not 0.0150 in ';
    row.insertBefore(copy, last);
}"""


@pytest.mark.parametrize("language", ["de", "en"])
def test_no_word_of_a_button_is_broken_on_a_wide_screen(job: Job, tmp_path: Path, opened: Opened, language: str) -> None:
    with new_job(job, tmp_path, language=language) as bench:
        page = opened(bench.place.url, 1280, 800)
        with looked_at(page, bench) as moments:
            for name in moments:
                page.evaluate(FOURTH_BUTTON)
                broken = [
                    word for node in page.query_selector_all("#bottom button") if node.is_visible() for word in node.evaluate(BROKEN_WORDS)
                ]
                assert broken == [], name


def test_a_number_on_the_pad_has_a_comma_and_is_understood_as_it_stands(german: Running, opened: Opened) -> None:
    page = opened(german.place.url)
    hands = at_the_first_reading(page, german)
    hands.enter("0,0120")
    offered = german.bench.state.offered
    assert offered is not None
    assert offered.value is not None
    assert offered.value.text == "0.0120"
    assert page.inner_text("#number .figure").split()[0] == "0,0120"


def test_numbers_are_shown_with_a_comma_and_choices_by_their_german_words(german: Running, opened: Opened) -> None:
    page = opened(german.place.url)
    hands = Hands(page, german)
    hands.press("done")
    assert page.inner_text('[data-say="still together"]') == "noch zusammengebaut"
    hands.press("still together")
    before = hands.at
    german.loop.put(Said("0,0120 Zoll"))
    hands.moved_on(before)
    hands.press("yes")
    assert not re.search(r"\d\.\d", page.inner_text("#main"))
    assert "0,0120 in" in page.inner_text("body")
