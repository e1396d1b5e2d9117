"""The build sheet as a PDF on A4 or Letter: the same parts as the page, in a font that comes along. The same sheet gives the same bytes."""

import io
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from assistant.report import Sheet
from assistant.report.mark import mark
from assistant.report.plots import plots
from assistant.report.sections import Section, moment, sections, verdict

_MARGIN = 13.0  # millimetres
_INK, _FAINT, _BAND = (29, 43, 51), (86, 99, 107), (238, 242, 239)


def as_pdf(sheet: Sheet, paper: str) -> bytes:
    """The whole sheet. paper: `a4` or `letter`."""
    document = _document(sheet, paper)
    document.add_page()
    _head(document, sheet)
    parts = sections(sheet)
    _section(document, parts[0])
    _plots(document, sheet)
    for part in parts[1:]:
        _section(document, part)
    _foot(document, sheet)
    return bytes(document.output())


def _document(sheet: Sheet, paper: str) -> Any:
    import matplotlib as mpl
    from fpdf import FPDF

    class Pages(FPDF):
        def footer(self) -> None:
            self.set_y(-10)
            self.set_font("sheet", size=7)
            self.set_text_color(*_FAINT)
            self.cell(0, 4, f"{sheet.words('title')} {sheet.job_id}", align="L")
            self.set_x(_MARGIN)
            self.cell(0, 4, f"{self.page_no()} {sheet.words('of')} {{nb}}", align="R")

    document = Pages(format=paper)
    # The standard PDF fonts lack what titles are written with; matplotlib brings a free one with Latin, Greek and Cyrillic.
    fonts = Path(mpl.get_data_path()) / "fonts" / "ttf"
    document.add_font("sheet", "", fonts / "DejaVuSans.ttf")
    document.add_font("sheet", "B", fonts / "DejaVuSans-Bold.ttf")
    document.set_margin(_MARGIN)
    document.set_auto_page_break(True, margin=15)
    document.set_title(f"{sheet.words('title')} {sheet.job_id}: {sheet.job.title}")
    document.set_lang(sheet.words.language)
    document.set_keywords(mark(sheet, paper))
    document.set_creation_date(_created(sheet))
    return document


def _created(sheet: Sheet) -> datetime:
    """The last entry's time: a clock of the caller's own has no date, and then the sheet has none either but the epoch."""
    try:
        found = datetime.fromisoformat(sheet.ended)
    except ValueError:
        return datetime(1970, 1, 1, tzinfo=UTC)
    return found if found.tzinfo else found.replace(tzinfo=UTC)


def _write(document: Any, text: str, size: float, *, bold: bool = False, faint: bool = False, after: float = 0.0) -> None:
    document.set_font("sheet", "B" if bold else "", size)
    document.set_text_color(*(_FAINT if faint else _INK))
    document.multi_cell(0, size * 0.5, text, align="L", new_x="LMARGIN", new_y="NEXT")
    document.ln(after)


def _head(document: Any, sheet: Sheet) -> None:
    _write(document, sheet.words("title"), 17, bold=True, after=1)
    _write(document, f"{sheet.job.title or sheet.words('no_title')}, {sheet.words('job', job=sheet.job_id)}", 10, bold=True)
    _write(document, sheet.words("times", began=moment(sheet.began), ended=moment(sheet.ended)), 9, faint=True, after=2)
    document.set_draw_color(*_INK)
    document.set_line_width(0.8)
    document.set_font("sheet", "B", 13)
    document.set_text_color(*_INK)
    document.multi_cell(0, 8, verdict(sheet), border=1, align="L", new_x="LMARGIN", new_y="NEXT", padding=1.5)


def _section(document: Any, part: Section) -> None:
    # A heading stays with the first lines of its table.
    if document.will_page_break(28):
        document.add_page()
    document.ln(4)
    _write(document, part.title, 11, bold=True, after=0.6)
    if not part.rows:
        _write(document, part.empty, 8, faint=True)
        return
    if part.note:
        _write(document, part.note, 7.5, faint=True, after=0.8)
    _table(document, part)


def _table(document: Any, part: Section) -> None:
    from fpdf.fonts import FontFace

    document.set_font("sheet", "", 7.5)
    document.set_text_color(*_INK)
    document.set_draw_color(185, 194, 199)
    document.set_line_width(0.15)
    head = FontFace(emphasis="BOLD", color=_INK, fill_color=_BAND)
    tones = {"": FontFace(color=_INK), "void": FontFace(color=_FAINT), "bad": FontFace(emphasis="BOLD", color=_INK)}
    with document.table(
        col_widths=tuple(column.share for column in part.columns),
        text_align="LEFT",
        headings_style=head,
        borders_layout="HORIZONTAL_LINES",
        line_height=3.6,
        padding=0.7,
        v_align="TOP",
    ) as table:
        heading = table.row()
        for column in part.columns:
            heading.cell(column.heading)
        for row in part.rows:
            line = table.row(style=tones[row.tone])
            for text in row.cells:
                line.cell(text)


def _plots(document: Any, sheet: Sheet) -> None:
    drawn = plots(sheet, text_as_paths=True)
    if not drawn:
        return
    width = (document.epw - 6) / 2
    height = width * 3.0 / 3.5
    if document.will_page_break(height + 10):
        document.add_page()
    document.ln(4)
    top = document.get_y()
    for index, (title, svg) in enumerate(drawn):
        left = _MARGIN + index * (width + 6)
        document.set_xy(left, top)
        document.set_font("sheet", "B", 9)
        document.set_text_color(*_INK)
        document.cell(width, 5, title)
        document.image(io.BytesIO(svg.encode()), x=left, y=top + 5, w=width, h=height, alt_text=title)
    document.set_xy(_MARGIN, top + 5 + height)


def _foot(document: Any, sheet: Sheet) -> None:
    if document.will_page_break(18):
        document.add_page()
    document.ln(4)
    words = sheet.words
    _write(document, f"{words('limits_are')}\nJournal SHA-256 {sheet.journal_sha256}. {words('proof')}", 7, faint=True)
