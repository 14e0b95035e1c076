"""The tables of the U.S. Naval Observatory that ship in the tests folder of the package ephem, read as printed."""

import datetime
import re
from pathlib import Path

import ephem


def text(name):
    return (Path(ephem.__file__).parent / "tests" / "usno" / name).read_text()


def rise_and_set_of_a_year(name, year):
    """Yield (date, "rise" | "set", minutes of the day or None) from the one-page-a-year tables."""
    for line in text(name).splitlines():
        if not re.match(r"\d\d  ", line):
            continue
        for month in range(1, 13):
            try:
                date = datetime.date(year, month, int(line[:2]))
            except ValueError:
                continue
            cell = line[4 + (month - 1) * 11:][:9].ljust(9)
            for kind, clock in (("rise", cell[:4]), ("set", cell[5:9])):
                yield date, kind, minutes(clock)


def minutes(clock):
    clock = clock.replace(":", "").strip()
    return int(clock[:2]) * 60 + int(clock[2:]) if clock.isdigit() else None


def rise_transit_set(name):
    """Yield (date, rise, transit, set) in minutes of the day (None where none) from the day-by-day tables."""
    for line in text(name).splitlines():
        match = re.match(r"(\d{4} \w{3} \d\d) \(\w{3}\)", line)
        if match:
            date = datetime.datetime.strptime(match[1], "%Y %b %d").date()
            yield date, *(minutes(line[at:at + 5]) for at in (25, 42, 59))


def moon_phases(year):
    """Yield (phase, datetime in UT) from the table of phases."""
    names = ("new", "first", "full", "last")
    for line in text("moon_phases.txt").splitlines():
        for match in re.finditer(r"([A-Z][a-z]{2}) +(\d+) +(\d+) +(\d+)", line):
            column = min(range(4), key=lambda at: abs(match.start() - (4 + 16 * at)))
            month = datetime.datetime.strptime(match[1], "%b").month
            yield names[column], datetime.datetime(year, month, int(match[2]), int(match[3]), int(match[4]),
                                                   tzinfo=datetime.UTC)
