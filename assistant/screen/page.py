"""The one file that a browser gets: the page with its style, its script and its words inside, and nothing from anywhere else."""

import base64
import hashlib
import html
import json
import re
from dataclasses import dataclass
from pathlib import Path

from assistant.screen.words import Words

HERE = Path(__file__).parent


@dataclass(frozen=True)
class Page:
    """The page as bytes, and the policy by which a browser runs nothing but what is in it and talks to nothing but its bench."""

    body: bytes
    policy: str


def page_for(words: Words) -> Page:
    """The page in a language. Raises KeyError when it asks for a label that the language does not have: that is our fault."""
    style = (HERE / "page.css").read_text(encoding="utf-8")
    script = (HERE / "page.js").read_text(encoding="utf-8")
    shell = (HERE / "page.html").read_text(encoding="utf-8")
    labels = json.dumps(dict(words.labels), ensure_ascii=False).replace("<", "\\u003c")
    filled = re.sub(r"\{\{(\w+)\}\}", lambda found: html.escape(words.labels[found[1]]), shell)
    for mark, text in (("/*style*/", style), ("/*labels*/", labels), ("/*script*/", script)):
        filled = filled.replace(mark, text)
    policy = "; ".join(
        (
            "default-src 'none'",
            f"script-src '{_digest(script)}'",
            f"style-src '{_digest(style)}'",
            "connect-src 'self'",
            "img-src data:",
            "base-uri 'none'",
            "form-action 'none'",
            "frame-ancestors 'none'",
        )
    )
    return Page(filled.encode(), policy)


def _digest(text: str) -> str:
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}"
