"""First light on a page: what to measure, in order, until nothing is left that would gain."""

import re

import pytest
from app.conftest import PHONE, Watched

PATIENCE_MS = 120000


@pytest.mark.browser
def test_the_list_is_open_at_what_is_next_and_closed_where_all_is_settled(chromium, app_address):
    watched = Watched(chromium, PHONE)
    page = watched.page
    page.goto(f"{app_address}/first_light?night=2026-11-10&target=NGC+7331&rig=old+pier")
    page.get_by_text(re.compile(r"^1\. .*: \d+ minutes, worth .* a night$")).wait_for(timeout=PATIENCE_MS)
    watched.settle(PATIENCE_MS)
    assert page.get_by_text("Point at:").first.is_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    page.get_by_role("link", name="Where it is read and saved").first.click()
    page.get_by_role("heading", level=1, name=re.compile("^Drift")).wait_for(timeout=PATIENCE_MS)
    page.goto(f"{app_address}/first_light?night=2026-11-10&target=NGC+7331&rig=nebulae")
    page.get_by_text("Settled: ").wait_for(timeout=PATIENCE_MS)
    assert page.get_by_text("Point at:").count() == 0
    assert watched.errors == []
    watched.context.close()
