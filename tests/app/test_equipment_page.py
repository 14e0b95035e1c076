"""The equipment page: forms from the rules, wrong input marked in place, saved safely, first run said clearly."""

import re

import pytest
from app.conftest import answered, blocks_of, fits_anywhere
from astropy import units as u
from playwright.sync_api import expect
from streamlit.testing.v1 import AppTest

from planner.files.equipment import load_equipment, user_equipment_path
from planner.files.equipment.edit import write_equipment_table
from planner.files.equipment.start import begin_equipment
from planner.ui import choices


def show():
    from planner.ui.equipment.equipment_page import page

    page()


@pytest.fixture
def advised(tmp_path, monkeypatch):
    """The page on a file of one's own."""
    path = begin_equipment(tmp_path / "equipment.toml", copy_of_demo=True)
    monkeypatch.setenv("PLANNER_EQUIPMENT", str(path))
    return path


@pytest.fixture
def mine(advised, monkeypatch):
    """The same without what a change would mean for the advice, which takes longer than all else on the page."""
    monkeypatch.setattr("planner.ui.equipment.equipment_page.ask_first", lambda *question: answered(None))
    return advised


def open_page(kind="rig"):
    page = AppTest.from_function(show, default_timeout=60)
    page.session_state["gear_kind"] = kind
    page.run()
    assert not page.exception
    return page


def figures(page):
    return {metric.label: metric.value for metric in page.metric}


def save(page):
    page.button(key="gear_save").click().run()
    assert not page.exception
    return page


def test_what_a_save_did_is_told_beside_the_button(mine):
    page = open_page("telescope")
    page.text_input(key="gear_telescope_focal_length").set_value("300")
    save(page)
    places = blocks_of(page)

    def look(node, path=()):
        for place, child in getattr(node, "children", {}).items():
            yield from look(child, (*path, place))
        if type(node).__name__ == "Success":
            yield path[:-1]

    told = list(look(page.main))
    assert "Saved: telescope" in page.success[0].value
    assert told == [places["gear_save"]]  # in one row with it


def test_an_empty_form_says_what_it_needs(mine):
    page = open_page("guider")
    page.selectbox(key="gear_which_guider").select("\0new").run()
    shown = [caption.value for caption in page.caption]
    assert any(text.startswith("Still needed: name") for text in shown)
    assert not any("marked entries" in text for text in shown)


def test_a_change_is_judged_on_the_target_that_is_chosen(advised, monkeypatch):
    asked = []
    monkeypatch.setattr("planner.ui.equipment.equipment_page.ask_first",
                        lambda *question: asked.append(question) or answered(None))
    page = AppTest.from_function(show, default_timeout=60)
    page.session_state["gear_kind"] = "mount"
    page.query_params["target"] = "NGC 253"
    page.query_params["night"] = "2026-11-10"
    page.run()
    page.text_input(key="gear_mount_jitter").set_value("0.3").run()
    assert not page.exception
    assert asked[0][-1].name == "NGC 253"
    assert asked[0][-2].isoformat() == "2026-11-10"


def test_a_form_tells_where_its_figures_came_from(mine):
    write_equipment_table(mine, "mount", load_equipment(mine).mounts[0].name, {"jitter": "0.3 arcsec"}, measured=True)
    page = open_page("mount")
    assert any(re.search(r"Measured 20..-..-..: jitter\.", caption.value) for caption in page.caption)


def test_the_first_run_says_that_it_is_the_demo_and_begins_a_file(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    own = user_equipment_path()
    assert own.is_relative_to(tmp_path)
    page = open_page()
    assert "packaged demo, invented" in page.info[0].value
    assert all(item.disabled for item in page.text_input)
    page.button(key="gear_begin").click().run()
    assert load_equipment(own).rig().name == "main"
    assert str(own) in page.success[0].value.replace("\\", "")
    assert not page.info
    assert not any(item.disabled for item in page.text_input)


@pytest.mark.parametrize("kind", ["rig", "site", "telescope", "reducer", "camera", "filter", "mount", "guider"])
def test_every_kind_has_a_form_whose_fields_name_their_unit(mine, kind):
    before = mine.read_bytes()
    page = open_page(kind)
    assert not page.error
    labels = [item.label for item in page.text_input]
    assert "Name" in labels
    if kind not in ("rig", "site"):
        assert any("(" in label for label in labels)
    assert not page.button(key="gear_save").disabled  # the first click counts, whatever was typed just before
    assert mine.read_bytes() == before


def test_a_decimal_comma_is_a_decimal_point(mine):
    page = open_page("telescope")
    page.text_input(key="gear_telescope_obstruction").set_value("0,3")
    page.text_input(key="gear_telescope_focal_length").set_value("400,5 mm")
    save(page)
    saved = load_equipment(mine).telescopes[0]
    assert (saved.obstruction, saved.focal_length) == (0.3, 400.5 * u.mm)


def test_a_value_saved_elsewhere_is_not_overwritten_unseen(mine):
    first, second = open_page("telescope"), open_page("telescope")
    second.text_input(key="gear_telescope_focal_length").set_value("300")
    first.text_input(key="gear_telescope_focal_length").set_value("250")
    save(first)
    save(second)
    assert "was changed elsewhere meanwhile, from 400 mm to 250 mm" in second.error[0].value
    assert load_equipment(mine).telescopes[0].focal_length == 250 * u.mm
    save(second)
    assert load_equipment(mine).telescopes[0].focal_length == 300 * u.mm
    first.run()
    assert any("changed elsewhere" in warning.value for warning in first.warning)
    assert first.text_input(key="gear_telescope_focal_length").value == "300 mm"


def test_what_was_typed_for_a_part_renamed_elsewhere_is_kept(mine):
    page = open_page("telescope")
    page.text_input(key="gear_telescope_aperture").set_value("90").run()
    mine.write_text(mine.read_text().replace('"short"', '"little"'))
    page.run()
    assert not page.exception
    assert any("no longer in the file" in warning.value for warning in page.warning)
    assert page.text_input(key="gear_telescope_aperture").value == "90"


def test_a_figure_changes_as_one_types_and_is_saved_with_its_unit(mine):
    page = open_page("telescope")
    assert page.text_input(key="gear_telescope_focal_length").value == "400 mm"
    page.text_input(key="gear_telescope_focal_length").set_value("320").run()
    assert figures(page)["Focal ratio"] == "f/4.0"
    assert load_equipment(mine).telescopes[0].focal_length == 400 * u.mm
    page.text_input(key="gear_telescope_aperture").set_value("4 inch").run()
    save(page)
    saved = load_equipment(mine).telescopes[0]
    assert saved.focal_length == 320 * u.mm
    assert saved.aperture.to_value(u.mm) == pytest.approx(101.6)
    assert "# a short refractor with its flattener" in mine.read_text()
    assert 'focal_length = "400 mm"' in mine.with_name("equipment.toml.bak").read_text()


def test_what_a_figure_would_change_is_told_before_it_is_saved(advised):
    page = open_page("mount")
    assert not [item for item in page.info if "Once saved" in item.value]
    page.text_input(key="gear_mount_polar_altitude_error").set_value("2 deg").run()
    assert [item.value for item in page.info][-1].startswith('Once saved: The advice changes (rig “')


def test_what_was_done_is_said_again_by_a_run_on_the_heels_of_the_first_and_then_gone(mine, monkeypatch):
    page = open_page("telescope")
    page.text_input(key="gear_telescope_focal_length").set_value("320").run()
    assert save(page).success[0].value.startswith("Saved: telescope")
    assert page.run().success[0].value.startswith("Saved: telescope")
    monkeypatch.setattr(choices, "ON_ITS_HEELS", 0.0)
    assert not page.run().success


def test_a_figure_typed_just_before_the_click_is_saved_too(mine):
    page = open_page("mount")
    page.selectbox(key="gear_which_mount").select("worm").run()
    page.text_input(key="gear_mount_jitter").set_value("0.4").run()
    page.text_input(key="gear_mount_wander").set_value("0.31")
    page.text_input(key="gear_mount_term_2_period").set_value("60")
    page.text_input(key="gear_mount_term_2_amplitude").set_value("0.5")
    save(page)
    saved = load_equipment(mine).mounts[1]
    assert (saved.jitter.value, saved.wander.value, saved.periodic[2].amplitude.value) == (0.4, 0.31, 0.5)
    page.text_input(key="gear_mount_jitter").set_value("0.5").run()
    page.text_input(key="gear_mount_wander").set_value("-1")
    save(page)
    assert "must be at least 0" in page.error[-1].value  # beside the button, below the mark of the field
    assert page.text_input(key="gear_mount_wander").value == "-1"
    assert load_equipment(mine).mounts[1].jitter.value == 0.4


@pytest.mark.parametrize(("kind", "key", "text", "words"), [
    ("telescope", "aperture", "-3", "Must be at least 5 mm"),
    ("telescope", "aperture", "80 kg", "Must have a unit like mm"),
    ("telescope", "aperture", "big", "Must be a number with a unit"),
    ("telescope", "focal_length", "10 mm", "Must be at least half the aperture"),
    ("telescope", "obstruction", "1,234.5", "Must be a finite number"),
    ("camera", "columns", "12.5", "Must be a whole number"),
    ("camera", "columns", "9" * 400, "Must be"),
    ("site", "time_zone", "Middle/Earth", "Must be a name of the time-zone database"),
    ("site", "horizon", "nowhere.csv", "is not there"),
    ("rig", "binning", "9", "Must be at most 8"),
    ("filter", "name", "R", "Is given twice"),
])
def test_a_wrong_entry_is_marked_and_the_rest_kept(mine, kind, key, text, words):
    before = mine.read_bytes()
    page = open_page(kind)
    others = {item.key: item.value for item in page.text_input}
    page.text_input(key=f"gear_{kind}_{key}").set_value(text).run()
    assert not page.exception
    assert len(page.error) == 1
    assert words in page.error[0].value
    page.button(key="gear_save").click().run()
    assert not page.success
    assert mine.read_bytes() == before
    assert {item.key: item.value for item in page.text_input} == {**others, f"gear_{kind}_{key}": text}
    page.button(key="gear_discard").click().run()
    assert not page.error
    assert {item.key: item.value for item in page.text_input} == others
    assert mine.read_bytes() == before


def test_an_emptied_field_takes_the_usual_value(mine):
    page = open_page("telescope")
    page.text_input(key="gear_telescope_transmission").set_value("").run()
    assert page.text_input(key="gear_telescope_transmission").placeholder == "0.9"
    save(page)
    assert load_equipment(mine).telescopes[0].transmission == 0.9
    page.text_input(key="gear_telescope_aperture").set_value("").run()
    assert any("Still needed: aperture" in caption.value for caption in page.caption)
    saved = mine.read_bytes()
    page.button(key="gear_save").click().run()
    assert "must be given" in page.error[0].value
    assert mine.read_bytes() == saved


def test_periodic_terms_line_by_line(mine):
    page = open_page("mount")
    page.selectbox(key="gear_which_mount").select("worm").run()
    assert page.text_input(key="gear_mount_term_1_amplitude").value == "1.1 arcsec"
    page.text_input(key="gear_mount_term_2_period").set_value("60").run()
    assert any("Still needed: amplitude of term 3" in caption.value for caption in page.caption)
    assert not page.error
    page.text_input(key="gear_mount_term_2_amplitude").set_value("-1").run()
    assert "Must be at least 0 arcsec" in page.error[0].value
    page.text_input(key="gear_mount_term_2_amplitude").set_value("0.5").run()
    assert figures(page)["Periodic error"] == "15.2″"
    save(page)
    terms = load_equipment(mine).mounts[1].periodic
    assert [term.period.value for term in terms] == [501, 250.5, 60]
    for key in ("period", "amplitude"):
        page.text_input(key=f"gear_mount_term_0_{key}").set_value("").run()
    save(page)
    assert [term.period.value for term in load_equipment(mine).mounts[1].periodic] == [250.5, 60]


def test_a_drive_class_gives_the_usual_values(mine):
    page = open_page("mount")
    page.selectbox(key="gear_mount_drive_class").select("entry-level worm").run()
    assert page.text_input(key="gear_mount_jitter").placeholder == "0.4 arcsec"
    save(page)
    assert load_equipment(mine).mounts[0].drive_class == "entry-level worm"


def test_a_part_is_added_renamed_and_removed(mine):
    page = open_page("filter")
    page.selectbox(key="gear_which_filter").select("\0new").run()
    assert not page.error
    page.text_input(key="gear_filter_name").set_value("Hb").run()
    page.text_input(key="gear_filter_centre").set_value("486.1").run()
    assert any("Still needed: width" in caption.value for caption in page.caption)
    page.text_input(key="gear_filter_width").set_value("6").run()
    assert figures(page) == {"Passes": "483 to 489 nm"}
    save(page)
    assert load_equipment(mine).filters[-1].centre == 486.1 * u.nm
    assert page.selectbox(key="gear_which_filter").value == "Hb"
    page.text_input(key="gear_filter_name").set_value("H-beta").run()
    save(page)
    assert load_equipment(mine).filters[-1].name == "H-beta"
    page.button(key="gear_remove").click().run()
    assert [band.name for band in load_equipment(mine).filters][-1] == "SII"
    page.selectbox(key="gear_which_filter").select("Ha").run()
    page.button(key="gear_remove").click().run()
    assert "is used by rig “nebulae”" in page.error[0].value


def test_a_copy_is_a_start(mine):
    page = open_page("camera")
    page.selectbox(key="gear_which_camera").select("aps-c").run()
    page.button(key="gear_copy").click().run()
    assert page.text_input(key="gear_camera_name").value == "aps-c (copy)"
    page.text_input(key="gear_camera_gain").set_value("0.25").run()
    save(page)
    assert [camera.gain.value for camera in load_equipment(mine).cameras] == [2.9, 0.8, 1.2, 0.25]


def test_a_rig_is_put_together(mine):
    page = open_page("rig")
    page.selectbox(key="gear_rig_camera").select("small").run()
    page.selectbox(key="gear_rig_guider").select("(no guider)").run()
    page.multiselect(key="gear_rig_filters").set_value(["L", "SII"]).run()
    save(page)
    rig = load_equipment(mine).rig("nebulae")
    assert (rig.camera.name, rig.guider, [band.name for band in rig.filters]) == ("small", None, ["L", "SII"])
    page.multiselect(key="gear_rig_filters").set_value([]).run()
    assert "Must name at least one filter" in page.error[0].value


def test_a_reducer_goes_behind_the_telescope_of_a_rig(mine):
    page = open_page("rig")
    page.selectbox(key="gear_which_rig").select("travel").run()
    before = figures(page)["Focal ratio"]
    page.selectbox(key="gear_rig_reducer").select("0.7 reducer").run()
    assert any("oes not go onto the telescope short" in error.value for error in page.error)
    page.selectbox(key="gear_rig_reducer").select("0.8 reducer").run()
    assert figures(page)["Focal ratio"] != before
    save(page)
    rig = load_equipment(mine).rig("travel")
    assert (rig.reducer.name, rig.telescope.focal_length) == ("0.8 reducer", 320 * u.mm)
    page.selectbox(key="gear_rig_reducer").select("(no reducer)").run()
    save(page)
    assert load_equipment(mine).rig("travel").reducer is None


def test_what_another_writes_meanwhile_stays(mine):
    page = open_page("telescope")
    page.text_input(key="gear_telescope_aperture").set_value("90").run()
    mine.write_text(mine.read_text().replace('mass = "3.4 kg"', 'mass = "3.9 kg"'))
    save(page)
    assert load_equipment(mine).telescopes[0].mass == 3.9 * u.kg
    assert load_equipment(mine).telescopes[0].aperture == 90 * u.mm


def test_a_damaged_file_lists_every_problem(mine):
    mine.write_text(mine.read_text().replace('"80 mm"', '"80"').replace('"47.4 deg"', '"97.4 deg"'))
    page = open_page()
    assert "has problems" in page.error[0].value
    assert page.markdown[0].value.count("\n") == 1


@pytest.mark.browser
def test_an_observer_reads_and_moves_by_keyboard(desktop, app_address):
    watched, page = desktop, desktop.page
    page.goto(f"{app_address}/equipment")
    page.get_by_role("heading", name="My equipment").wait_for()
    watched.settle()
    page.get_by_role("radio", name="Mounts").or_(page.get_by_role("button", name="Mounts")).first.click()
    page.get_by_label(re.compile(r"^Jitter \(arcsec\)")).wait_for()
    page.wait_for_function("""() => ![...document.querySelectorAll('input')].some(
        field => field.offsetParent && !field.getAttribute('aria-label') && !field.labels?.length)""")
    fits_anywhere(page)
    assert watched.errors == []
    assert watched.strangers == []


@pytest.mark.browser
def test_another_window_is_told_of_a_change_without_being_touched(desktop, app_address, own_folder):
    file = begin_equipment(own_folder / "equipment.toml", copy_of_demo=True)
    page = desktop.page
    page.goto(f"{app_address}/equipment")
    page.get_by_role("heading", level=1).wait_for()
    desktop.settle()
    file.write_text(file.read_text().replace('mass = "3.4 kg"', 'mass = "3.9 kg"'))
    page.get_by_text("The equipment file was changed elsewhere").wait_for()

def test_the_last_change_is_told_and_put_back(mine):
    page = open_page("mount")
    before = mine.read_text()
    assert not [button for button in page.button if button.key == "gear_undo"]
    write_equipment_table(mine, "mount", "worm", {"jitter": 0.7 * u.arcsec})
    page = open_page("mount")
    assert any("mount “worm”, jitter: 0.7 arcsec, before " in text.value for text in page.markdown)
    page.button(key="gear_undo").click().run()
    assert mine.read_text() == before
    page = open_page("mount")
    page.button(key="gear_undo").click().run()
    assert load_equipment(mine).rig("nebulae").mount.jitter == 0.7 * u.arcsec


def test_the_history_of_a_mount_is_told_and_any_version_put_back(mine):
    first = load_equipment(mine).rig("nebulae").mount.jitter
    write_equipment_table(mine, "mount", "worm", {"jitter": 0.7 * u.arcsec})
    write_equipment_table(mine, "mount", "friction", {"jitter": 0.2 * u.arcsec})
    write_equipment_table(mine, "mount", "worm", {"name": "worm, cleaned", "jitter": 0.4 * u.arcsec})
    page = open_page("mount")
    page.selectbox(key="gear_which_mount").set_value("worm, cleaned").run()
    told = [text.value for text in page.markdown if "UTC:" in text.value]
    assert ["before 0.7 arcsec" in line for line in told] == [True, False]
    page.button(key="gear_back_1").click().run()
    assert load_equipment(mine).rig("nebulae").mount.jitter == first
    assert [mount.name for mount in load_equipment(mine).mounts].count("worm") == 1
    page = open_page("mount")
    page.selectbox(key="gear_which_mount").set_value("worm").run()
    page.button(key="gear_back_0").click().run()  # and that is undone as well
    assert load_equipment(mine).rig("nebulae").mount.jitter == 0.4 * u.arcsec
    history = mine.with_name(f".{mine.name}.history")
    history.write_text(history.read_text() + "not json\n{}\n")
    assert not open_page("mount").exception


def test_fields_and_buttons_keep_their_place_as_messages_come_and_go(mine):
    page = open_page("mount")
    page.selectbox(key="gear_which_mount").select("\0new").run()
    page.text_input(key="gear_mount_name").set_value("second").run()
    page.selectbox(key="gear_mount_drive_class").select("mid-range worm").run()
    before = blocks_of(page)
    for key, text in (("gear_mount_term_0_period", "480 s"), ("gear_mount_term_0_amplitude", "many"),
                      ("gear_mount_term_0_amplitude", "4 arcsec")):
        page.text_input(key=key).set_value(text).run()
        after = blocks_of(page)
        assert {name: after[name] for name in before} == before, text
    save(page)
    assert "second" in page.success[0].value
    after = blocks_of(page)
    assert {name: after[name] for name in before if name in after} == {name: before[name] for name in before
                                                                       if name in after}


@pytest.mark.browser
def test_what_is_typed_while_the_last_entry_is_answered_stays(desktop, app_address, own_folder):
    file = begin_equipment(own_folder / "equipment.toml", copy_of_demo=True)
    write_equipment_table(file, "mount", load_equipment(file).mounts[0].name,
                          {"drive_class": "mid-range worm", "periodic": None})
    page = desktop.page
    page.goto(f"{app_address}/equipment")
    page.get_by_role("radio", name="Mounts").or_(page.get_by_role("button", name="Mounts")).first.click()
    page.get_by_text("From the drive class").wait_for()
    desktop.settle()
    period, amplitude = (page.get_by_label(re.compile(f"^{name}.*term 1")) for name in ("Period", "Amplitude"))
    period.fill("480 s")
    amplitude.click()
    page.keyboard.type("12.25 arcsec", delay=120)
    expect(page.get_by_text("From the drive class")).to_have_count(0)
    desktop.settle()
    expect(amplitude).to_have_value("12.25 arcsec")
