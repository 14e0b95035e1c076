"""The night sheet: one printed page for the mount's side, black on white, in type that is read at arm's length.

Self-contained HTML: no script, no link, no picture but lines, no font but the reader's own.
"""

import html
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
from astropy import units as u
from astropy.coordinates import SkyCoord

from planner.files.targets.stars import stars_around
from planner.files.writing import write_answer
from planner.session.advice.sky_field import SkyField, camera_words, guide_words, pick_off_words, sky_field
from planner.session.night.model import NightPlan
from planner.session.night.report.sheet import Sheet, SheetRow, night_sheet
from planner.session.night.sky import NightSky, night_sky
from planner.signs import minus

WHAT = "night sheet"
# One page of A4 or Letter: Letter has 255 mm of height inside the margins, 5 mm are left in hand.
PAGE_MM = 250.0
LARGEST_PT, SMALLEST_PT = 15.0, 5.5
MM_PER_PT = 25.4 / 72
LINE = 1.25  # height of a line over its type
WIDTH_MM = 180.0
CHART_MM, CHART_WIDTH_MM, AXIS_MM = 38.0, 186.0, 5.0
SMALLEST_BESIDE_A_CHART_PT = 8.0  # a longer night is told without one
CHARACTER = 0.55  # mean width of a character over its type
STYLE = """
@page { margin: 12mm; }
* { box-sizing: border-box; }
html { background: #fff; color: #000; }
body { margin: 0 auto; max-width: 186mm; font: %(size).2fpt/1.25 "DejaVu Sans", Verdana, Arial, sans-serif; }
h1 { font-size: 1.5em; line-height: 1.2; margin: 0; }
p { margin: 0; }
.sub { margin-bottom: 0.5em; }
dl { display: grid; grid-template-columns: auto 1fr; gap: 0 0.7em; margin: 0 0 0.5em; font-size: 0.8em; }
dd { margin: 0; font-weight: bold; }
table { border-collapse: collapse; width: 100%%; }
th { text-align: left; font-size: 0.7em; font-weight: normal; border-bottom: 0.4mm solid #000; padding: 0 0.6em 0 0; }
td { vertical-align: top; padding: 0.1em 0.6em 0.1em 0; border-bottom: 0.2mm solid #000; }
td.time i { display: inline-block; width: 0.7em; height: 0.7em; border: 0.3mm solid #000; margin-right: 0.4em; }
td.time, td.subs, td.side { white-space: nowrap; }
td.side, td.subs { font-size: 0.8em; line-height: 1.56; }
tr.block td { font-weight: bold; border: 0; padding-bottom: 0; }
tr.small td { font-size: 0.68em; padding-top: 0; }
tr.event td, tr.flip td { font-size: 0.8em; }
tr.flip td { border: 0.6mm solid #000; border-width: 0.6mm 0; font-weight: bold; }
svg { display: block; width: 100%%; height: 38mm; fill: none; stroke: #000; stroke-width: 0.2; margin-top: 0.5em; }
svg text { font-size: 3.2px; fill: #000; stroke: #fff; stroke-width: 0.9; paint-order: stroke; }
h2 { font-size: 0.85em; margin: 0.6em 0 0; }
ul { margin: 0; padding-left: 1.2em; font-size: 0.75em; }
@media screen { body { padding: 8mm; } }
"""


def night_sheet_html(plan: NightPlan) -> str:
    """Return the plan as one printable page, an HTML text."""
    targets = list({block.target.name: block.target for block in plan.blocks}.values())
    fields = [sky_field(target, plan.rig, stars_around(target, plan.rig)) for target in targets]
    shaded = dict.fromkeys(pick_off_words(field) for field in fields if field.shaded)
    bare = night_sheet(plan)
    bare = replace(bare, cautions=(*shaded, *bare.cautions))
    sheet = replace(bare, places=tuple(_place(field, plan) for field in fields))
    if type_size(sheet) <= SMALLEST_PT:  # a crowded night has room for its blocks alone
        sheet = bare
    small = type_size(sheet, PAGE_MM - CHART_MM) < SMALLEST_BESIDE_A_CHART_PT
    return _sheet_html(sheet, "" if small or not targets else _chart(night_sky(plan, targets)))


def write_night_sheet(path: Path | str, plan: NightPlan, *, force: bool = False) -> Path:
    """Write the sheet; an existing file is kept unless `force`."""
    return write_answer(Path(path), night_sheet_html(plan), what=WHAT, force=force)


def _place(field: SkyField, plan: NightPlan) -> str:
    """Return where a target is, how the camera is turned, and what the guider sees on the sides that are planned."""
    target, sides = field.target, plan.sides(field.target)
    return " ".join([f"{target.name}: {_at(SkyCoord(target.ra, target.dec))}; {camera_words(field, sides)}.",
                     *guide_words(field, sides)])


def _at(place: SkyCoord) -> str:
    return minus(str(place.to_string("hmsdms", precision=0)))


def _chart(sky: NightSky) -> str:
    """Return altitude against time: thick where planned; dashed: the Moon; dotted: the lowest altitude."""
    moments = np.array([sky.clock(time) for time in sky.times], dtype="datetime64[s]").astype(float)
    first, last = moments[0], moments[-1]
    high = CHART_MM - AXIS_MM

    def across(moment: np.ndarray) -> np.ndarray:
        return (moment - first) / (last - first) * CHART_WIDTH_MM

    def line(altitude: np.ndarray, keep: np.ndarray, more: str) -> Iterator[str]:
        for run in np.split(np.arange(len(keep)), np.flatnonzero(np.diff(keep)) + 1):
            if keep[run[0]] and len(run) > 1:
                points = " ".join(f"{x:.1f},{high * (1 - y / 90):.1f}"
                                  for x, y in zip(across(moments[run]), altitude[run], strict=True))
                yield f'<polyline points="{points}" {more}/>'

    parts = [f'<path d="M0 0V{high}H{CHART_WIDTH_MM}"/>']
    level = high * (1 - sky.lowest_altitude.to_value(u.deg) / 90)
    parts.append(f'<path d="M0 {level:.1f}H{CHART_WIDTH_MM}" stroke-dasharray="0.4 1.2"/>')
    parts += [f'<text x="0.5" y="{high * (1 - degrees / 90) + 1:.1f}">{degrees}°</text>' for degrees in (30, 60)]
    for hour in sky.hours:
        x = float(across(np.datetime64(hour, "s").astype(float)))
        if x > CHART_WIDTH_MM - 3:
            continue
        parts.append(f'<path d="M{x:.1f} 0V{high}" stroke-width="0.08"/>'
                     f'<text x="{x:.1f}" y="{CHART_MM - 1}" text-anchor="middle">{hour:%H}</text>')
    moon = sky.moon.apparent_altitude.to_value(u.deg)
    parts += line(moon, moon > 0, 'stroke-dasharray="2 1"')
    names = [("Moon", moon, moon)]
    for target, altitude, working in zip(sky.targets, sky.places.apparent_altitude.to_value(u.deg), sky.working,
                                         strict=True):
        parts += line(altitude, altitude > 0, 'stroke-width="0.25"')
        parts += line(altitude, working, 'stroke-width="1"')
        names.append((target.name, altitude, np.where(working, altitude, -90)))
    for name, altitude, written in names:
        at = int(np.argmax(written))
        if altitude[at] > 0:
            x = min(max(float(across(moments[at])), 10), CHART_WIDTH_MM - 10)
            parts.append(f'<text x="{x:.1f}" y="{max(high * (1 - altitude[at] / 90) - 1.5, 3):.1f}" '
                         f'text-anchor="middle">{html.escape(name)}</text>')
    return f'<svg viewBox="0 0 {CHART_WIDTH_MM} {CHART_MM}">{"".join(parts)}</svg>'


def _sheet_html(sheet: Sheet, chart: str) -> str:
    """Return a sheet as HTML; the type is as large as one page allows, 5.5 to 15 pt."""
    title, subtitle = html.escape(sheet.title), html.escape(sheet.subtitle)
    zone = f"all times {html.escape(sheet.zone)}" if sheet.zone else "times with their zone"
    parts = [
        f"<h1>{title}</h1>", f'<p class="sub">{subtitle} · {zone}</p>', _facts(sheet), _table(sheet), chart,
        _list("Targets", sheet.places), _list("Meridian", sheet.flips), _list("Take care", sheet.cautions),
        _list("Not tonight", [f"{name}: {reason}" for name, reason in sheet.others])]
    style = STYLE % {"size": type_size(sheet, PAGE_MM - CHART_MM if chart else PAGE_MM)}
    return (f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<title>{title}, {subtitle}</title>\n'
            f"<style>{style}</style>\n</head>\n<body>\n" + "\n".join(part for part in parts if part)
            + "\n</body>\n</html>\n")


def type_size(sheet: Sheet, page_mm: float = PAGE_MM) -> float:
    """Return the largest type [pt], in steps of 0.25, at which the sheet fills no more than so much of a page."""
    size = LARGEST_PT
    while size > SMALLEST_PT and _height_mm(sheet, size) > page_mm:
        size -= 0.25
    return size


def _height_mm(sheet: Sheet, size: float) -> float:
    """Estimate the printed height; lines that wrap count as two."""
    def lines(text: str, scale: float, share: float = 1.0) -> float:
        per_line = WIDTH_MM * share / (size * scale * CHARACTER * MM_PER_PT)
        return scale * (1 + len(text) // max(1, int(per_line)))

    total = lines(sheet.title, 1.5) + lines(sheet.subtitle + " · all times CEST", 1) + 2
    total += sum(lines(value, 0.8, 0.8) for _, value in sheet.facts)
    for row in sheet.rows:
        if row.kind == "block":
            total += lines(row.what + row.band, 1, 0.3) + lines(row.small, 0.68, 0.75) + 0.3
        else:
            total += lines(row.what, 0.8, 0.7) + 0.3
    groups = [sheet.places, sheet.flips, sheet.cautions, [f"{name}: {reason}" for name, reason in sheet.others]]
    total += sum(1.5 + sum(lines(text, 0.75, 0.97) for text in group) for group in groups if group)
    return total * LINE * size * MM_PER_PT


def _facts(sheet: Sheet) -> str:
    return "<dl>" + "".join(f"<dt>{html.escape(name)}</dt><dd>{html.escape(value)}</dd>"
                            for name, value in sheet.facts) + "</dl>"


def _table(sheet: Sheet) -> str:
    if not sheet.rows:
        return ""
    head = "".join(f"<th>{name}</th>" for name in ("from", "to", "target", "filter", "subs", "telescope", "altitude"))
    return f"<table>\n<tr>{head}</tr>\n" + "\n".join(_row(row) for row in sheet.rows) + "\n</table>"


def _row(row: SheetRow) -> str:
    start, end, what = html.escape(row.start), html.escape(row.end), html.escape(row.what)
    times = f'<td class="time"><i></i>{start}</td><td class="time">{end}</td>'
    if row.kind != "block":
        kind = "flip" if row.kind == "flip" else "event"
        return f'<tr class="{kind}">{times}<td colspan="5">{what}</td></tr>'
    side = f"{row.side} of pier" if row.side else "–"
    return (f'<tr class="block">{times}<td>{what}</td><td>{html.escape(row.band)}</td>'
            f'<td class="subs">{html.escape(row.subs)}</td><td class="side">{html.escape(side)}</td>'
            f'<td>{html.escape(row.altitude)}</td></tr>\n'
            f'<tr class="small"><td colspan="2"></td><td colspan="5">{html.escape(row.small)}</td></tr>')


def _list(title: str, lines: "tuple[str, ...] | list[str]") -> str:
    if not lines:
        return ""
    items = "".join(f"<li>{html.escape(line)}</li>" for line in lines)
    return f"<h2>{html.escape(title)}</h2>\n<ul>{items}</ul>"
