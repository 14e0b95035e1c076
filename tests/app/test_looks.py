"""The looks of the pages: light, dark and red, from the first paint on, and what can be read in each."""

import ast
import io
from pathlib import Path

import numpy as np
import pytest
from app.conftest import DESKTOP
from PIL import Image
from playwright.sync_api import expect

from planner.ui import first_paint as first_paint_of_pages


def picture(page):
    return np.asarray(Image.open(io.BytesIO(page.screenshot())).convert("RGB")).astype(float)


def first_paint(chromium, address, path="advice", scheme="light", cookies=()):
    """The first picture of a page whose program has not come yet."""
    context = chromium.new_context(viewport=DESKTOP, color_scheme=scheme)
    context.add_cookies([{"name": name, "value": value, "url": address} for name, value in cookies])
    page = context.new_page()
    page.route("**/static/js/**", lambda route: route.abort())
    page.goto(f"{address}/{path}")
    seen = picture(page)
    context.close()
    return seen


@pytest.mark.browser
def test_the_first_paint_has_the_look_chosen_before_or_the_systems(chromium, app_address):
    assert first_paint(chromium, app_address).min() > 250
    for seen in (first_paint(chromium, app_address, "advice?look=red"),
                 first_paint(chromium, app_address, cookies=[("planner_look", "red")])):
        assert seen.max() < 30
        assert seen[..., 1:].max() == 0
    for seen in (first_paint(chromium, app_address, scheme="dark"),
                 first_paint(chromium, app_address, cookies=[("planner_look", "dark")])):
        assert seen.max() < 40
    assert first_paint(chromium, app_address, scheme="dark", cookies=[("planner_look", "light")]).min() > 250


def rings(page):
    """How thick the line is around what has the focus."""
    return page.evaluate("""() => {
        const ringed = one => { const how = getComputedStyle(one); return how.outlineStyle === 'none' ? 0
          : parseFloat(how.outlineWidth) };
        const one = document.activeElement;
        return Math.max(ringed(one), ...[1, 2].map(up => ringed(
          up === 1 ? one.parentElement : one.parentElement.parentElement))) }""")


@pytest.mark.browser
def test_what_has_the_focus_is_ringed_in_every_look(desktop, app_address):
    page = desktop.page
    page.goto(f"{app_address}/advice?look=red&night=2026-11-10")
    page.get_by_role("heading", name="subs for").wait_for()
    desktop.settle()
    for field in (page.get_by_role("link", name="The year"), page.get_by_label("Target", exact=True),
                  page.get_by_role("combobox", name="Rig")):
        field.focus()
        page.keyboard.press("Shift+Tab")
        page.keyboard.press("Tab")
        expect(field).to_be_focused()
        assert rings(page) >= 2


@pytest.mark.browser
def test_no_word_is_cut_at_twice_the_size(desktop, app_address):
    page = desktop.page
    page.set_viewport_size({"width": 720, "height": 450})  # 1440 pixels at 200 %
    for path, part in (("frame", "What the headers do not say"), ("drift", "Where the star stood")):
        page.goto(f"{app_address}/{path}?night=2026-11-10")
        page.get_by_text(part).first.click()
        expect(page.locator('[data-testid="stCheckbox"]').first).to_be_visible()
        desktop.settle()
        cut = page.locator('[data-testid="stCheckbox"] :is(div, p)').evaluate_all(
            "all => all.filter(one => one.scrollWidth > one.clientWidth + 1).map(one => one.innerText)")
        assert cut == []
    page.set_viewport_size(DESKTOP)


@pytest.mark.browser
def test_a_look_is_chosen_dimmed_and_kept_for_the_next_visit(desktop, app_address):
    page = desktop.page
    page.goto(f"{app_address}/sources")
    page.get_by_role("radio", name="Dark").or_(page.get_by_role("button", name="Dark")).first.click()
    page.wait_for_function("document.documentElement.dataset.look === 'dark'")
    desktop.settle()
    bright = picture(page)
    assert np.median(bright) < 40
    # Dark, not red: in some of it blue outshines red.
    assert (bright[..., 2] - bright[..., 0]).max() > 20
    slider = page.get_by_role("slider", name="Brightness")
    slider.focus()
    slider.press("Home")
    page.wait_for_function("getComputedStyle(document.documentElement).getPropertyValue('--dim') === '0.1'")
    desktop.settle()
    assert picture(page).max() < 0.25 * bright.max()
    again = page.context.new_page()  # another visit, by the bare address
    again.goto(f"{app_address}/sources")
    again.wait_for_function("document.documentElement.dataset.look === 'dark'")
    expect(again.get_by_role("slider", name="Brightness")).to_have_value("10")
    assert desktop.errors == []


def test_every_table_and_picture_has_a_name_for_those_who_do_not_see_it():
    pages = Path(first_paint_of_pages.__file__).parent.rglob("*.py")
    calls = [(path.name, node) for path in pages for node in ast.walk(ast.parse(path.read_text()))
             if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
             and node.func.attr in {"dataframe", "data_editor", "image"}]
    assert len(calls) > 10
    assert [(name, node.lineno) for name, node in calls if "alt" not in {word.arg for word in node.keywords}] == []


# WCAG 2.1, relative luminance and contrast ratio; what is drawn behind a text is the next opaque colour below it.
CONTRASTS = """() => {
  const rgba = text => { const v = text.match(/[\\d.]+/g).map(Number); return v.length > 3 ? v : [...v, 1] };
  const over = (top, under) => top.slice(0, 3).map((c, i) => c * top[3] + under[i] * (1 - top[3])).concat(1);
  const light = ([r, g, b]) => [r, g, b].map(c => c / 255)
    .map(c => c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4)
    .reduce((sum, c, i) => sum + c * [0.2126, 0.7152, 0.0722][i], 0);
  const found = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const node = walker.currentNode, one = node.parentElement;
    if (!node.data.trim() || !one.checkVisibility({visibilityProperty: true})) continue;
    if (one.closest('svg, style, script, noscript, button[disabled], [aria-disabled=true], ' +
                    '[data-testid=stIconMaterial]')) continue;
    const chain = []; let strength = 1;
    for (let at = one; at; at = at.parentElement) { chain.push(at); strength *= Number(getComputedStyle(at).opacity); }
    let paper = [255, 255, 255, 1];
    for (const at of chain.reverse()) paper = over(rgba(getComputedStyle(at).backgroundColor), paper);
    const ink = rgba(getComputedStyle(one).color); ink[3] *= strength;
    const [a, b] = [light(over(ink, paper)), light(paper)].sort((x, y) => y - x);
    found.push([(a + 0.05) / (b + 0.05), node.data.trim().slice(0, 60)]);
  }
  return found;
}"""


@pytest.mark.browser
@pytest.mark.parametrize(("path", "last"), [("advice", "All figures, and files"), ("equipment", "What follows")])
def test_every_text_stands_out_from_its_paper(phone, app_address, path, last):
    page = phone.page
    page.goto(f"{app_address}/{path}?night=2026-11-10")
    expect(page.get_by_text(last)).to_be_visible()
    phone.settle()
    found = page.evaluate(CONTRASTS)
    # WCAG 2.1, success criterion 1.4.3: 4.5 to 1.
    assert [(round(ratio, 2), text) for ratio, text in found if ratio < 4.5] == []
