"""The night sheet: one printed page for the mount's side, black on white, in type that is read at arm's length.

Self-contained HTML: no script, no link, no picture, no font but the reader's own.
"""

import html
from pathlib import Path

from planner.files.writing import write_answer
from planner.session.night.model import NightPlan
from planner.session.night.report.sheet import Sheet, SheetRow, night_sheet

WHAT = "night sheet"
# One page of A4 or Letter: Letter has 255 mm of height inside the margins, 5 mm are left in hand.
PAGE_MM = 250.0
LARGEST_PT, SMALLEST_PT = 15.0, 5.5
MM_PER_PT = 25.4 / 72
LINE = 1.25  # height of a line over its type
WIDTH_MM = 180.0
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
td.time, td.subs, td.side { white-space: nowrap; }
td.side, td.subs { font-size: 0.8em; line-height: 1.56; }
tr.block td { font-weight: bold; border: 0; padding-bottom: 0; }
tr.small td { font-size: 0.68em; padding-top: 0; }
tr.event td, tr.flip td { font-size: 0.8em; }
tr.flip td { border: 0.6mm solid #000; border-width: 0.6mm 0; font-weight: bold; }
h2 { font-size: 0.85em; margin: 0.6em 0 0; }
ul { margin: 0; padding-left: 1.2em; font-size: 0.75em; }
@media screen { body { padding: 8mm; } }
"""


def night_sheet_html(plan: NightPlan) -> str:
    """Return the plan as one printable page, an HTML text."""
    return sheet_html(night_sheet(plan))


def write_night_sheet(path: Path | str, plan: NightPlan, *, force: bool = False) -> Path:
    """Write the sheet; an existing file is kept unless `force`."""
    return write_answer(Path(path), night_sheet_html(plan), what=WHAT, force=force)


def sheet_html(sheet: Sheet) -> str:
    """Return a sheet as HTML; the type is as large as one page allows, 5.5 to 15 pt."""
    title, subtitle = html.escape(sheet.title), html.escape(sheet.subtitle)
    zone = f"all times {html.escape(sheet.zone)}" if sheet.zone else "times with their zone"
    parts = [
        f"<h1>{title}</h1>", f'<p class="sub">{subtitle} · {zone}</p>', _facts(sheet), _table(sheet),
        _list("Meridian", sheet.flips), _list("Take care", sheet.cautions),
        _list("Not tonight", [f"{name}: {reason}" for name, reason in sheet.others])]
    style = STYLE % {"size": type_size(sheet)}
    return (f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<title>{title}, {subtitle}</title>\n'
            f"<style>{style}</style>\n</head>\n<body>\n" + "\n".join(part for part in parts if part)
            + "\n</body>\n</html>\n")


def type_size(sheet: Sheet) -> float:
    """Return the largest type [pt], in steps of 0.25, at which the sheet fills no more than one page."""
    size = LARGEST_PT
    while size > SMALLEST_PT and _height_mm(sheet, size) > PAGE_MM:
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
    groups = [sheet.flips, sheet.cautions, [f"{name}: {reason}" for name, reason in sheet.others]]
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
    times = f'<td class="time">{start}</td><td class="time">{end}</td>'
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
