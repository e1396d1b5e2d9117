"""The core knows no clock, file, dice or screen: what import-linter cannot see, because it needs no import, is looked for in the syntax trees.

The decoders of `gauges` are held to the same rule. What this cannot see either is a call through a name made up at run time.
"""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import assistant.core
import gauges.formats

CORE = Path(assistant.core.__file__).parent
DECODERS = Path(gauges.formats.__file__).parent
PURE = (*sorted(CORE.rglob("*.py")), *sorted(DECODERS.glob("*.py")), DECODERS.parent / "framing.py", DECODERS.parent / "reading.py")

_OUTSIDE = {"open", "print", "input", "breakpoint", "exec", "eval", "compile", "__import__", "globals"}
# Attributes that ask a clock, roll dice or touch a file, whatever they are asked of.
_IMPURE_ATTRIBUTES = {
    "now", "utcnow", "today", "monotonic", "perf_counter", "time_ns", "random", "default_rng", "shuffle", "urandom", "uuid4", "environ", "getenv",
    "read_text", "write_text", "read_bytes", "write_bytes", "stdout", "stderr", "stdin", "fromfile", "tofile", "rvs",
}  # fmt: skip
# Modules that may be imported only where they are used: each takes longer than the whole of `benchhand --help`.
_HEAVY = {"numpy", "scipy", "pydantic", "onnxruntime"}


def impurities(source: str) -> list[str]:
    """What a module's text does that the core must not, as "line: what"."""
    return sorted(f"{line}: {what}" for line, what in _impurities(ast.parse(source)))


def _impurities(tree: ast.Module) -> Iterator[tuple[int, str]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Name) and node.id in _OUTSIDE:
            yield node.lineno, node.id
        elif isinstance(node, ast.Attribute) and node.attr in _IMPURE_ATTRIBUTES:
            yield node.lineno, f".{node.attr}"
        elif isinstance(node, ast.Global):
            yield node.lineno, "global"
        elif isinstance(node, ast.Await | ast.AsyncFunctionDef):
            yield node.lineno, "await"
    for node in tree.body:
        names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
        names += [node.module] if isinstance(node, ast.ImportFrom) and node.module else []
        for name in names:
            if name.split(".")[0] in _HEAVY:
                yield node.lineno, f"import of {name} before it is used"


@pytest.mark.parametrize("path", PURE, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_a_pure_module_reaches_for_nothing_outside_itself(path: Path) -> None:
    assert impurities(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("handle = open('journal')", "1: open"),
        ("print('done')", "1: print"),
        ("at = datetime.now()", "1: .now"),
        ("def f() -> None:\n    global count", "2: global"),
        ("noise = numpy.random", "1: .random"),
        ("text = place.read_text()", "1: .read_text"),
        ("import numpy as np", "1: import of numpy before it is used"),
        ("from scipy.optimize import milp", "1: import of scipy.optimize before it is used"),
    ],
)
def test_a_reach_outside_is_seen(line: str, found: str) -> None:
    assert impurities(line) == [found]


def test_what_is_imported_where_it_is_used_is_left_alone() -> None:
    assert impurities("def chance() -> float:\n    import numpy\n    return 1.0\n") == []


def test_the_whole_core_is_looked_at() -> None:
    names = {path.name for path in PURE}
    assert {"decide.py", "evolve.py", "show.py", "words.py", "stacks.py", "ascii_signed_cr.py", "framing.py"} <= names
