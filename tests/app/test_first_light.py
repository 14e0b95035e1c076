"""First light on a page: what to measure, in order, until nothing is left that would gain."""

import re

import pytest
from app.conftest import fits_width
from playwright.sync_api import expect


@pytest.mark.browser
def test_the_list_is_open_at_what_is_next_and_closed_where_all_is_settled(phone, app_address):
    page = phone.page
    page.goto(f"{app_address}/first_light?night=2026-11-10&target=NGC+7331&rig=old+pier")
    page.get_by_text(re.compile(r"^1\. .*: \d+ minutes, worth .* a night$")).wait_for()
    phone.settle()
    expect(page.get_by_text("Point at:").first).to_be_visible()
    fits_width(page)
    page.get_by_role("link", name="Where it is read and saved").first.click()
    page.get_by_role("heading", level=1, name=re.compile("^Drift")).wait_for()
    page.goto(f"{app_address}/first_light?night=2026-11-10&target=NGC+7331&rig=nebulae")
    page.get_by_text("Settled: ").wait_for()
    expect(page.get_by_text("Point at:")).to_have_count(0)
    assert phone.errors == []
