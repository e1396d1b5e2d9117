"""The build sheet as plain text, 96 columns wide at most, for a terminal or a printer without pictures."""

import textwrap
from collections.abc import Iterator

from assistant.report import AlarmLine, FinalLine, MoveLine, ReadingLine, Sheet
from assistant.report.mark import mark
from assistant.report.sections import (
    builds_words,
    change_words,
    expected_words,
    failed_words,
    final_values,
    part_rows,
    source,
    taught_words,
    value_of,
    what,
)
from assistant.report.words import Words, first_upper

WIDTH = 96
_WIDEST = 46  # beyond that a reading's name pushes its own line aside, not every line


def as_text(sheet: Sheet) -> str:
    """The whole sheet; ends with a line feed."""
    return "\n".join(part for line in _lines(sheet) for part in _wrapped(line)) + "\n"


def _wrapped(line: str) -> list[str]:
    """A line that is too long, on as many as it needs: what belongs to it is set in."""
    return [line] if len(line) <= WIDTH else textwrap.wrap(line, WIDTH, subsequent_indent=" " * 5)


def _lines(sheet: Sheet) -> Iterator[str]:
    words = sheet.words
    yield words("title").upper().ljust(WIDTH - len(sheet.job_id)) + sheet.job_id
    yield "=" * WIDTH
    yield sheet.job.title or words("no_title")
    yield words("times", began=sheet.began, ended=sheet.ended)
    for name, text in part_rows(sheet):
        yield f"{name}: {text}"
    for quantity, which, value in sheet.specs_given:
        yield f"{first_upper(words('read_aloud'))}: {words.phrases.name(quantity)}, {words.phrases.name(which)} {words.quantity(value)}"
    for one in sheet.learned:
        text = taught_words(one, words, is_sleeve=sheet.job.axle.preload == "crush-sleeve")
        yield f"{first_upper(words('taught_thing'))}: {text}; {words('taught_from')} {builds_words(one, words)}"
    yield ""
    yield f"{words('verdict').upper()}: {words.choice(sheet.verdict)}{failed_words(sheet)}"
    yield "-" * WIDTH
    width = max((18, *(len(line.name) + 2 for line in sheet.finals)))
    for final in sheet.finals:
        yield from _final(final, words, width)
    yield from _headed(words("moves"))
    for move in sheet.moves:
        yield from _move(move, words)
    if sheet.alarms:
        yield from _headed(words("mistakes"))
        for alarm in sheet.alarms:
            yield from _alarm(alarm, words)
    yield from _headed(words("readings"))
    widest = max((len(what(line.reading, words)) for line in sheet.readings), default=0)
    yield from (_reading(line, words, min(widest, _WIDEST) + 2) for line in sheet.readings)
    yield ""
    yield words("cautions_count", count=len(sheet.cautions))
    yield from mark(sheet).replace(" sha256=", "\njournal SHA-256 ").splitlines()


def _headed(title: str) -> Iterator[str]:
    yield ""
    yield title.upper()
    yield "-" * WIDTH


def _final(line: FinalLine, words: Words, width: int) -> Iterator[str]:
    figures = final_values(line, words) or "-"
    found = f"{line.name:<{width}}{figures:<28} {line.uncertainty:<13}{words(f'is.{line.verdict}'):<14}"
    if len(found) + len(line.limits) <= WIDTH:
        yield f"{found}{line.limits}".rstrip()
    else:
        yield found.rstrip()
        yield f"     {words('limits_of_manual')}: {line.limits}"


def _move(line: MoveLine, words: Words) -> Iterator[str]:
    made = "" if line.made else f"   ({words('not_made')})"
    for change in line.move.changes:
        yield f"[{line.move.group}] {change_words(change, words)}{made}"
    expected = expected_words(line, words)
    if expected and not line.move.start:
        yield f"     {words('expected')}: {expected}"
    yield f"     {line.move.why}"


def _alarm(line: AlarmLine, words: Words) -> Iterator[str]:
    alarm = line.alarm
    yield f"[{alarm.id}] {alarm.text}"
    answer = words("found", answer=words.choice(line.answer)) if line.answer else words("not_answered")
    yield f"     {words('evidence', ids=', '.join(alarm.evidence))}; {answer}"


def _reading(line: ReadingLine, words: Words, width: int) -> str:
    reading = line.reading
    phase = words("final") if line.phase == "final" else ""
    void = words("void", why=line.void) if line.void else ""
    return f"{reading.id:<5}{what(reading, words):<{width}}{value_of(reading, words):<17} {source(reading, words):<9} {phase:<9} {void}".rstrip()
