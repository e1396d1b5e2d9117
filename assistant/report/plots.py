"""Two plots of a finished or running job, as SVG: backlash round the ring, and pinion drag against what squeezes the bearings.

What stands is a filled disc with its figure, what is void an open ring: no sign is by colour alone, so that it prints in grey.
matplotlib is imported here and nowhere else; the same sheet gives the same bytes.
"""

import io
import math
import re
from typing import Any

from assistant.core.quantities import Quantity, unit_named
from assistant.report import Sheet

_INK, _FAINT, _BAND = "#1d2b33", "#7b8790", "#cfe0d4"
_MOST_FIGURES = 6  # beyond that the figures of void readings would lie over each other
_SIZE = (3.5, 3.0)  # inches: two beside each other on either paper


def plots(sheet: Sheet, *, text_as_paths: bool) -> tuple[tuple[str, str], ...]:
    """(title, SVG) of each plot that has something to show. text_as_paths: for a reader of SVG that brings no fonts."""
    drawn = ((sheet.words("plot.ring"), _ring(sheet, text_as_paths)), (_drag_title(sheet), _drag(sheet, text_as_paths)))
    return tuple((title, svg) for title, svg in drawn if svg)


def _drag_title(sheet: Sheet) -> str:
    return sheet.words("plot.nut" if sheet.job.axle.preload == "crush-sleeve" else "plot.pack")


def _figure(text_as_paths: bool) -> tuple[Any, Any]:
    from matplotlib.figure import Figure

    # A fixed salt: the names of shapes inside the SVG would else differ from run to run.
    settings = {
        "svg.hashsalt": "benchhand",
        "svg.fonttype": "path" if text_as_paths else "none",
        "font.family": "DejaVu Sans",
        "font.size": 8,
    }
    return Figure(figsize=_SIZE, layout="constrained"), settings


def _svg(figure: Any) -> str:
    out = io.StringIO()
    figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None})
    text = out.getvalue()
    # A part in a page, not a file of its own: without the file's heading, and without the block about its making.
    return re.sub(r"<metadata>.*?</metadata>\s*", "", text[text.index("<svg") :], flags=re.DOTALL).strip()


def _number(value: Quantity, unit: str) -> float:
    return float(value.number_in(unit))


def _ring(sheet: Sheet, text_as_paths: bool) -> str:
    if not sheet.ring:
        return ""
    import matplotlib as mpl

    figure, settings = _figure(text_as_paths)
    words, unit, limits = sheet.words, sheet.ring[-1].value.unit, sheet.job.limits("backlash")
    with mpl.rc_context(settings):
        axes = figure.add_subplot(projection="polar")
        axes.set_theta_zero_location("N")
        axes.set_theta_direction(-1)
        around = [math.tau * step / 180 for step in range(181)]
        values = [_number(point.value, unit) for point in sheet.ring]
        ends = [_number(limit, unit) for limit in (limits.low, limits.high) if limit is not None] if limits is not None else []
        if len(ends) == 2:
            axes.fill_between(around, ends[0], ends[1], color=_BAND, linewidth=0)
        for end in ends:
            axes.plot(around, [end] * len(around), color=_INK, linewidth=0.8, linestyle=(0, (4, 2)))
        angles = [math.radians(point.degrees) for point in sheet.ring]
        axes.plot([*angles, angles[0]], [*values, values[0]], color=_FAINT, linewidth=0.8)
        axes.plot(angles, values, "o", color=_INK, markersize=5)
        top = max([*values, *ends]) * 1.25 or 1.0
        for angle, value, point in zip(angles, values, sheet.ring, strict=True):
            axes.annotate(words.number(point.value), (angle, value), textcoords="offset points", xytext=(5, 5), color=_INK)
        axes.set_ylim(0, top)
        axes.set_yticks(ends or [top / 2])
        axes.set_yticklabels(
            [words.number(limit) for limit in (limits.low, limits.high) if limit is not None] if limits is not None and ends else [""]
        )
        axes.set_rlabel_position(180 / len(angles))
        axes.set_xticks(angles)
        axes.set_xticklabels([words("plot.place", spot=number) for number in range(1, len(angles) + 1)])
        axes.tick_params(axis="x", pad=6)
        axes.grid(color=_FAINT, linewidth=0.3)
        axes.set_title(words("plot.limits", unit=unit), fontsize=8)
        return _svg(figure)


def _drag(sheet: Sheet, text_as_paths: bool) -> str:
    if not sheet.drag:
        return ""
    import matplotlib as mpl

    figure, settings = _figure(text_as_paths)
    words, unit, limits = sheet.words, sheet.drag[-1].value.unit, sheet.job.limits("pinion_drag")
    is_nut = sheet.job.axle.preload == "crush-sleeve"
    length = sheet.job.units
    micrometre = 1.0 if is_nut else float(1000 / unit_named(length).factor)
    with mpl.rc_context(settings):
        axes = figure.add_subplot()
        ends = [limit for limit in (limits.low, limits.high) if limit is not None] if limits is not None else []
        numbers = [_number(end, unit) for end in ends]
        if len(numbers) == 2:
            axes.axhspan(numbers[0], numbers[1], color=_BAND, linewidth=0)
        for number in numbers:
            axes.axhline(number, color=_INK, linewidth=0.8, linestyle=(0, (4, 2)))
        for stands in (False, True):
            points = [point for point in sheet.drag if point.stands is stands]
            at = [point.at * micrometre for point in points]
            fill = _INK if stands else "none"
            axes.plot(at, [_number(point.value, unit) for point in points], "o", color=_INK, markerfacecolor=fill, markersize=5)
        is_crowded = len(sheet.drag) > _MOST_FIGURES
        for point in sheet.drag:
            if is_crowded and not point.stands:
                continue
            place = (point.at * micrometre, _number(point.value, unit))
            # On either side of the point: what stands and what is void often lie over each other.
            side, reach = ("left", 5) if point.stands else ("right", -5)
            colour = _INK if point.stands else _FAINT
            axes.annotate(words.number(point.value), place, textcoords="offset points", xytext=(reach, 4), ha=side, color=colour)
        axes.margins(x=0.2, y=0.2)
        axes.set_ylim(bottom=0)
        axes.locator_params(axis="x", nbins=5)
        axes.ticklabel_format(axis="x", useOffset=False)
        if words.phrases.tongue.decimal_mark != ".":
            for axis in (axes.xaxis, axes.yaxis):
                axis.set_major_formatter(lambda number, _: words.phrases.figures(f"{number:g}"))
        axes.set_xlabel(_drag_axis(sheet, is_nut, length))
        axes.set_ylabel(words("plot.drag", unit=unit))
        axes.spines[["top", "right"]].set_visible(False)
        axes.set_title(words("plot.signs"), fontsize=8)
        return _svg(figure)


def _drag_axis(sheet: Sheet, is_nut: bool, length: str) -> str:
    if is_nut:
        return sheet.words("plot.at_nut")
    return sheet.words("plot.at_pack" if sheet.job.axle.pinion_shims != "head-cup" else "plot.at_difference", unit=length)
