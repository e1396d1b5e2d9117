"""The build sheet as one HTML file that needs nothing else: its style and its plots are inside, and it prints on A4 and Letter alike."""

from assistant.report import Sheet
from assistant.report.mark import mark
from assistant.report.plots import plots
from assistant.report.sections import moment, sections, verdict


def as_html(sheet: Sheet) -> str:
    """The whole sheet; everything that was typed or sent stands in it as text, never as markup."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("assistant.report", "."), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    parts = sections(sheet)
    return environment.get_template("sheet.html").render(
        sheet=sheet,
        words=sheet.words,
        mark=mark(sheet),
        verdict=verdict(sheet),
        began=moment(sheet.began),
        ended=moment(sheet.ended),
        finals=parts[0],
        others=parts[1:],
        plots=plots(sheet, text_as_paths=False),
    )
