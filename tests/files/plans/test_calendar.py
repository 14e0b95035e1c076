"""The calendar against RFC 5545: read by hand to its rules, and by a second library."""

import datetime
import re

import pytest
import vobject
from files.night_plans import EVIL, crowded, demo_plan, empty, evil, flipped

from planner.errors import InvalidInputError
from planner.files.plans.calendar import night_calendar, write_night_calendar

NOW = datetime.datetime(2026, 11, 12, 9, 30, 15, 500000, tzinfo=datetime.UTC)
PLANS = {"usual": demo_plan, "flipped": flipped, "crowded": crowded, "evil": evil, "empty": empty}


def content_lines(text):
    """Undo the folding of RFC 5545 sec. 3.1: CR LF and one blank go away, lines are at most 75 octets."""
    assert text.endswith("\r\n")
    raw = text.encode("utf-8")
    assert b"\n" not in raw.replace(b"\r\n", b"")
    assert max(len(line) for line in raw.split(b"\r\n")) <= 75
    return re.sub(b"\r\n[ \t]", b"", raw).decode("utf-8").split("\r\n")[:-1]


def events(text):
    """Read the events by hand: sec. 3.1 (name;parameters:value), 3.3.11 (escapes of TEXT), 3.6.1."""
    lines, found, depth = content_lines(text), [], []
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines[-1] == "END:VCALENDAR"
    for line in lines:
        name, value = re.fullmatch(r"([A-Z-]+)(?:;[^:]*)?:(.*)", line).groups()
        if name == "BEGIN":
            depth.append(value)
            if value == "VEVENT":
                found.append({})
        elif name == "END":
            assert depth.pop() == value
        elif depth[-1] == "VEVENT":
            assert name not in found[-1], f"{name} may stand once"
            found[-1][name] = re.sub(r"\\([\\;,nN])", lambda seen: "\n" if seen[1] in "nN" else seen[1], value)
    assert depth == []
    return found


def moment(text):
    """Read DATE-TIME form 2 (UTC), sec. 3.3.5."""
    return datetime.datetime.strptime(text, "%Y%m%dT%H%M%SZ").replace(tzinfo=datetime.UTC)


@pytest.mark.parametrize("name", PLANS)
def test_every_event_holds_what_the_standard_wants(name):
    plan = PLANS[name]()
    text = night_calendar(plan, now=NOW)
    lines = content_lines(text)
    assert lines.count("VERSION:2.0") == 1
    assert sum(line.startswith("PRODID:") for line in lines) == 1
    found = events(text)
    others = [event for event in plan.events if event.kind in ("flip", "target", "flats", "darks")]
    assert len(found) == 1 + len(plan.blocks) + len(others)
    for event in found:
        assert set(event) >= {"UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "DESCRIPTION", "LOCATION", "GEO"}
        assert moment(event["DTSTAMP"]) == datetime.datetime(2026, 11, 12, 9, 30, 15, tzinfo=datetime.UTC)
        assert moment(event["DTEND"]) > moment(event["DTSTART"])
    assert len({event["UID"] for event in found}) == len(found)


def test_blocks_are_there_to_the_second():
    plan = demo_plan()
    found = events(night_calendar(plan, now=NOW))[1:]
    for block, event in zip(plan.blocks, found, strict=False):
        for time, key in ((block.start, "DTSTART"), (block.end, "DTEND")):
            apart = moment(event[key]) - time.to_datetime(timezone=datetime.UTC)
            assert abs(apart.total_seconds()) <= 0.5
        assert event["SUMMARY"] == f"{block.target.name} {block.band.name}"
        assert f"{block.sub_count} x {block.sub_exposure.value:g} s" in event["DESCRIPTION"]
        assert "CET" in event["DESCRIPTION"]
    latitude, longitude = map(float, found[0]["GEO"].split(";"))
    assert (latitude, longitude) == (47.4, 15.2)


def test_text_survives_whatever_it_holds():
    event = events(night_calendar(evil(), now=NOW))[1]
    assert event["SUMMARY"] == f"{EVIL.strip()} {evil().blocks[0].band.name}"
    assert event["LOCATION"] == "a, b; c"


def test_the_dark_leaves_the_day_free_and_a_flip_warns():
    text = night_calendar(flipped(), now=NOW)
    dark, _, _, flip = events(text)
    assert dark["TRANSP"] == "TRANSPARENT"
    assert "TRANSP" not in flip
    assert "no cable may pull" in flip["DESCRIPTION"]
    lines = content_lines(text)
    alarm = lines[lines.index("BEGIN:VALARM"):lines.index("END:VALARM")]
    # sec. 3.6.6: a display alarm has ACTION, DESCRIPTION and TRIGGER.
    assert "ACTION:DISPLAY" in alarm
    assert "TRIGGER:-PT5M" in alarm
    assert any(line.startswith("DESCRIPTION:") for line in alarm)


@pytest.mark.parametrize("name", PLANS)
def test_a_second_library_reads_the_same(name):
    text = night_calendar(PLANS[name](), now=NOW)
    theirs = vobject.readOne(text).vevent_list
    for mine, other in zip(events(text), theirs, strict=True):
        assert other.uid.value == mine["UID"]
        assert other.dtstart.value == moment(mine["DTSTART"])
        assert other.dtend.value == moment(mine["DTEND"])
        assert other.summary.value == mine["SUMMARY"]
        assert other.description.value == mine["DESCRIPTION"]


def test_a_plan_made_anew_replaces_the_old_one():
    first, again = (night_calendar(demo_plan(), now=NOW + datetime.timedelta(hours=shift)) for shift in (0, 3))
    assert [event["UID"] for event in events(first)] == [event["UID"] for event in events(again)]
    other = night_calendar(demo_plan(date=datetime.date(2026, 11, 13)), now=NOW)
    assert not {event["UID"] for event in events(first)} & {event["UID"] for event in events(other)}


def taken_in(kept, text):
    """Take a file into a calendar as RFC 5546 wants it: the larger SEQUENCE of a UID wins, a cancelled one is gone."""
    for event in events(text):
        known = kept.get(event["UID"])
        if known is None or (int(event["SEQUENCE"]), event["DTSTAMP"]) >= (int(known["SEQUENCE"]), known["DTSTAMP"]):
            kept[event["UID"]] = event
    return {uid: event for uid, event in kept.items() if event.get("STATUS") != "CANCELLED"}


def test_a_plan_of_fewer_blocks_leaves_nothing_of_the_old_one_in_a_calendar(tmp_path):
    path = tmp_path / "night.ics"
    write_night_calendar(path, demo_plan(), now=NOW)
    kept = taken_in({}, path.read_bytes().decode())
    assert {"Slew", "Flats", "Darks", "Dark"} <= {event["SUMMARY"] for event in kept.values()}
    fewer = demo_plan(names=("NGC 891",))
    assert len(fewer.blocks) < len(demo_plan().blocks)
    for hour, plan in enumerate((fewer, empty(), demo_plan()), 1):
        now = NOW + datetime.timedelta(hours=hour)
        write_night_calendar(path, plan, now=now, force=True)
        kept = taken_in(kept, path.read_bytes().decode())
        alone = events(night_calendar(plan, now=now))
        assert sorted((event["SUMMARY"], event["DTSTART"], event["DTEND"]) for event in kept.values()) == sorted(
            (event["SUMMARY"], event["DTSTART"], event["DTEND"]) for event in alone)
        assert len(vobject.readOne(path.read_bytes().decode()).vevent_list) >= len(alone)


def test_a_calendar_of_other_things_is_replaced_without_them(tmp_path):
    path = tmp_path / "night.ics"
    for text in ("BEGIN:VCALENDAR\nnonsense", "BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nUID:mine\r\n"
                 "DTSTART:20261112T200000Z\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"):
        path.write_text(text)
        write_night_calendar(path, demo_plan(), now=NOW, force=True)
        assert path.read_bytes() == night_calendar(demo_plan(), now=NOW).encode()


def test_a_file_is_written_once(tmp_path):
    path = tmp_path / "night.ics"
    write_night_calendar(path, demo_plan(), now=NOW)
    assert path.read_bytes() == night_calendar(demo_plan(), now=NOW).encode()
    path.write_text("mine")
    with pytest.raises(InvalidInputError, match=r"calendar file = .*: is there already\. Give another name"):
        write_night_calendar(path, demo_plan(), now=NOW)
    assert path.read_text() == "mine"
    write_night_calendar(path, demo_plan(), now=NOW, force=True)
    assert path.read_bytes().startswith(b"BEGIN:VCALENDAR\r\n")
    assert [item.name for item in path.parent.iterdir()] == ["night.ics"]


def test_a_folder_is_no_file(tmp_path):
    with pytest.raises(InvalidInputError, match="this is a folder"):
        write_night_calendar(tmp_path, demo_plan(), now=NOW, force=True)
