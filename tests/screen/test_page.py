"""The one file that a browser gets: small, whole, and with nothing from anywhere else."""

import base64
import hashlib
import json
import re

from assistant.screen.page import page_for
from assistant.screen.words import words_for

PAGE = page_for(words_for("en"))
TEXT = PAGE.body.decode()
MOST_BYTES = 100_000  # the measure of the screen: one page of at most 100 kB


def test_the_page_is_small() -> None:
    assert len(PAGE.body) <= MOST_BYTES


def test_the_page_asks_for_nothing_from_outside() -> None:
    assert not re.search(r"""(?:src|href|action)\s*=\s*["'](?!data:|#)""", TEXT)
    assert not re.search(r"@import|url\((?!#)", TEXT)
    # The only addresses in it are names of the SVG standard, which no browser fetches.
    assert set(re.findall(r"https?://[^\s'\"]+", TEXT)) <= {"http://www.w3.org/2000/svg"}


def test_nothing_is_left_to_fill_in() -> None:
    assert "{{" not in TEXT.replace("`${{thicker:", "")
    assert not re.search(r"/\*(?:style|script|labels)\*/", TEXT)


def test_the_browser_is_told_to_run_this_script_and_no_other() -> None:
    assert "default-src 'none'" in PAGE.policy
    assert "unsafe" not in PAGE.policy
    for tag, rule in (("style", "style-src"), ("script", "script-src")):
        text = re.search(rf"<{tag}>(.*?)</{tag}>", TEXT, re.DOTALL)
        assert text is not None
        digest = base64.b64encode(hashlib.sha256(text[1].encode()).digest()).decode()
        assert f"{rule} 'sha256-{digest}'" in PAGE.policy  # CSP level 3, hash sources


def test_the_labels_are_in_the_page_as_data() -> None:
    found = re.search(r'<script type="application/json" id="labels">(.*?)</script>', TEXT, re.DOTALL)
    assert found is not None
    assert json.loads(found[1]) == dict(words_for("en").labels)


def test_nothing_in_the_script_turns_text_into_markup() -> None:
    assert not re.search(r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\b|new Function", TEXT)
