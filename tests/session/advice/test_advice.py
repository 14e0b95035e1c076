"""One target, one night: the verdict with the demo equipment, and what there is to say when there is none."""

import datetime
import functools
import re
from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from astropy.coordinates import AltAz, EarthLocation, get_sun

from planner.charts.advice import speed_chart
from planner.charts.theme import as_drawn
from planner.exposure.changes import _shown
from planner.exposure.depth import depth_after
from planner.exposure.guide_need import PLAIN_GUIDER
from planner.fields import document
from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.files.targets import find_target
from planner.session.advice.answer import Goal, _times_at, advise, filter_named, window_samples
from planner.session.advice.document import AdviceAnswer
from planner.session.advice.glance import SURENESS, glance, sureness
from planner.session.advice.guide_star import NearbyStars, guide_star, guider_field, in_camera, stars_reach
from planner.session.advice.star_strip import RECOMMENDED, star_strip
from planner.session.advice.text import certainty_lines, headline, moon_text, odds_text, place_lines
from planner.session.night.plan import plan_night
from planner.session.projects.request import Need, Request
from planner.session.year.season import dark_of
from planner.visibility import moon_events

NOVEMBER = datetime.date(2026, 11, 10)  # one day after the new Moon of 2026 November 9, 07:02 UTC
KEYS = {
    "target", "image_scale_arcsec_per_pixel", "field_deg", "star_fwhm_arcsec", "sky_mag_per_arcsec2",
    "sky_electrons_per_s_per_pixel", "unguided", "guided", "verdict", "reasons", "changes", "error_budget",
}


@functools.cache
def equipment():
    return load_equipment(packaged_data("equipment.toml"))


@pytest.fixture(scope="module")
def demo():
    return equipment()


@functools.cache
def advice_for(name, rig, date):
    return advise(find_target(name), equipment().rig(rig), equipment().site("hill"), date)


def ask(demo, name="NGC 7331", rig=None, date=NOVEMBER, **more):
    """Return the demo's advice; one without more words is worked out once."""
    if more:
        return advise(find_target(name), demo.rig(rig), demo.site("hill"), date, **more)
    return advice_for(name, demo.rig(rig).name, date)


quick = functools.partial(advise, with_changes=False)  # what would change a verdict takes as long as the verdict


@pytest.mark.parametrize(("rig", "verdict"), [
    ("nebulae", "guided"), ("galaxies", "either"), ("wide", "unguided"), ("old pier", "neither"),
])
def test_every_verdict_shows_with_the_demo(demo, rig, verdict):
    advice = ask(demo, rig=rig)
    assert advice.need.verdict == verdict
    assert advice.need.reasons
    assert advice.tonight


def test_a_rig_too_heavy_for_its_mount_is_named_by_advice_plan_and_check(demo):
    rig = demo.rig("wide")
    light = replace(rig, mount=replace(rig.mount, payload=rig.load))
    heavy = replace(rig, mount=replace(rig.mount, payload=0.9 * rig.load))
    target, site = find_target("NGC 7331"), demo.site("hill")
    for one, said in ((light, 0), (heavy, 1)):
        assert sum("beyond the mount's rating" in note for note in quick(target, one, site, NOVEMBER).notes) == said
        wish = Request(target=target, needs=(Need(band=one.filters[0], hours=1 * u.h),))
        plan = plan_night((wish,), one, site, NOVEMBER)
        assert sum("beyond the mount's rating" in note for note in plan.notes) == said


def test_no_guider_is_an_answer(demo):
    advice = ask(demo, rig="wide")
    assert advice.need.guided is None
    assert advice.star is None


def test_the_document_holds_what_the_contract_asks(demo):
    told = document(AdviceAnswer(ask(demo)))
    assert set(told) >= KEYS
    assert set(told["target"]) == {
        "name", "ra_deg", "dec_deg", "size_arcmin", "size_from", "size_elsewhere", "mean_halpha_rayleigh",
        "mean_v_mag_per_arcsec2", "brightness_from"}
    for way in ("unguided", "guided"):
        assert set(told[way]) >= {"sub_exposure_s", "shortest_s", "longest_s", "limited_below_by",
                                  "limited_above_by", "kept_fraction", "speed"}
        assert told[way]["shortest_s"] <= told[way]["sub_exposure_s"] <= told[way]["longest_s"]
    for axis in ("ra", "dec"):  # guided: causes that know nothing of each other add in squares
        rms = {row["term"]: row["rms_arcsec"] for row in told["error_budget"] if row["axis"] == axis}
        together = rms.pop("total")
        assert together == pytest.approx(sum(one**2 for one in rms.values()) ** 0.5)


def test_a_target_that_never_rises_is_an_answer(demo):
    advice = ask(demo, "NGC 104")  # declination -72, from latitude 47 north
    assert advice.need is None
    assert "ever rises" in advice.window.reason
    assert document(AdviceAnswer(advice))["verdict"] is None
    assert "never high enough" in headline(advice)


def test_a_target_by_day_still_gets_its_verdict_for_another_night(demo):
    advice = ask(demo, "M 5", with_changes=False)  # right ascension 15h19m: the Sun stands near in November
    assert not advice.tonight
    # The same as on a night when it is up, and as dark: the mount and the air decide.
    spring = quick(find_target("M 5"), demo.rig(None), demo.sites[0], datetime.date(2026, 5, 16))
    assert spring.tonight
    assert advice.need.verdict == spring.need.verdict
    assert advice.moon is None


def test_hour_angles_and_times_belong_together(demo):
    advice = ask(demo)
    hours = window_samples(advice.window)
    times = _times_at(advice.window, hours)
    (start, end), = advice.window.windows
    # 2 s: the window's edge carries the apparent place, its hour angle is that of date; 30 s of nutation and polar
    # motion would show as a wrong sidereal rate or a wrong turn.
    assert abs((times[0] - start).sec) < 2
    assert abs((times[-1] - end).sec) < 2
    assert np.all(np.diff(times.jd) > 0)


def test_the_moon_makes_the_sky_brighter_and_the_total_longer(demo):
    goal = Goal(brightness=24 * u.mag / u.arcsec**2)
    dark = ask(demo, goal=goal, with_changes=False)
    full_moon = datetime.date(2026, 11, 24)  # 14:54 UTC
    moonlit = ask(demo, date=full_moon, goal=goal, with_changes=False)
    assert moonlit.sky_brightness < dark.sky_brightness - 1 * u.mag / u.arcsec**2
    assert moonlit.total.clock_time > 2 * dark.total.clock_time


def test_twilight_brightens_the_darkest_hours_of_a_short_night(demo):
    place = replace(demo.site("hill"), latitude=58 * u.deg, horizon=None)
    sky = [quick(find_target("M 101"), demo.rig(), place, datetime.date(2027, month, day)).sky_brightness.value
           for month, day in ((4, 5), (4, 28), (5, 6), (5, 12))]  # no Moon; the Sun 18, 16, 14 and 13 deg down at least
    assert 0 <= sky[0] - sky[1] < 0.3
    assert sky[1] > sky[2] > sky[3]
    assert 0.3 < sky[0] - sky[3] < 2.5


def test_a_narrow_band_counts_from_nautical_twilight(demo):
    rig = demo.rig("nebulae")
    broad, narrow = (ask(demo, band=filter_named(rig, name), with_changes=False) for name in ("L", "Ha"))
    assert narrow.window.hours > broad.window.hours
    assert narrow.need.guided.recommended > broad.need.guided.recommended  # a dark sky wants longer subs


def test_the_shown_sky_is_the_sites_own_on_a_moonless_night(demo):
    # With no Moon and a filter at V the sky is the site's own 21.2 mag/arcsec2, brightened by airmass by less than
    # 0.35 mag above 30 deg (Patat 2003: 0.25 mag at airmass 1.5).
    rig = demo.rig("nebulae")
    green = ask(demo, band=filter_named(rig, "G"), with_changes=False)
    assert 20.7 < green.sky_brightness.value < 21.3


def test_the_answer_in_one_look_names_every_part(demo):
    advice = ask(demo)
    rows = dict(glance(advice))
    assert list(rows) == ["Sub length", "Depth", "Limits", "Without guiding"]
    assert rows["Sub length"].startswith("90 s")
    # Three and ten times the hours: half a magnitude for each factor of 2.5 in squared signal-to-noise.
    tonight, after_3, after_10 = (float(number) for number in re.findall(r"\d\d\.\d", rows["Depth"]))
    assert after_3 - tonight == pytest.approx(1.25 * np.log10(3), abs=0.11)
    assert after_10 - tonight == pytest.approx(1.25 * np.log10(10), abs=0.11)
    assert tuple(name for name, _ in sureness(advice)) == SURENESS
    assert "of 32 cases" in dict(sureness(advice))["How sure"]


def test_an_axis_nobody_gave_is_said_to_be_taken_as_near_the_pole(demo):
    rig = demo.rig("nebulae")
    open_axis = replace(rig, mount=replace(rig.mount, polar_altitude_error=None, polar_azimuth_error=None, errors={}))
    said = [any("No polar error is given" in line for line in certainty_lines(advise(
        find_target("NGC 7331"), one, demo.site("hill"), NOVEMBER, with_changes=False))) for one in (rig, open_axis)]
    assert said == [False, True]


def test_where_either_will_do_each_way_has_its_own_length(demo):
    # A length that is right under guiding may trail without: the headline never lends one way's length to the other.
    advice = ask(demo, rig="galaxies")
    shorter = replace(advice.need.unguided, recommended=20 * u.s)
    apart = replace(advice, need=replace(advice.need, unguided=shorter))
    guided = f"{advice.need.guided.recommended.value:g} s"
    words = (f"{guided} subs guided, 20 s unguided,", f"20 s subs unguided, {guided} guided,")
    assert any(text in headline(apart) for text in words)
    same = replace(advice.need.unguided, recommended=advice.need.guided.recommended)
    assert f": {guided} subs for " in headline(replace(advice, need=replace(advice.need, unguided=same)))


def test_a_rig_without_a_guider_is_not_told_to_do_without_one(demo):
    wide = ask(demo, rig="wide")
    assert headline(wide).startswith("No guider needed")
    rig = replace(demo.rig("nebulae"), guider=None)
    alone = advise(find_target("NGC 7331"), rig, demo.site("hill"), NOVEMBER)
    assert headline(alone).startswith("Works without a guider")
    assert "times as fast" in dict(glance(alone))["With a guider"]


def test_place_lines_put_depth_before_the_total(demo):
    assert [line[0] for line in place_lines(ask(demo))] == [
        "Tonight", "Size", "Mean brightness", "Stars", "Sky", "Depth in 6.5 h",
        "Total exposure"]


def test_a_safer_length_says_for_which_length_the_figures_are(demo):
    advice = ask(demo)
    told = advice.better.recommended
    sure = replace(advice.certainty, gain=0.1, sub_exposure=told / 3, method="guided")
    (line,) = [line for line in certainty_lines(advice.knowing(sure)) if line.startswith("Until you know more")]
    assert f"plans of nights, are told for {told.value:g} s; {told.value / 3:g} s make 2." in line  # 3 less overheads
    assert f" subs of {told.value:g} s, " in place_lines(advice)[-1][2]
    assert document(AdviceAnswer(advice))["total"]["sub_exposure_s"] == told.value


def test_the_moon_is_as_lit_as_in_the_night_s_plan(demo):
    date = datetime.date(2026, 11, 17)  # about first quarter: the lit share grows by 0.4 % an hour
    advice, site = ask(demo, date=date, with_changes=False), demo.site("hill")
    lit = moon_events(site, advice.night.start, advice.night.end).illumination
    assert f"Moon {100 * lit:.0f} % lit" in moon_text(advice)
    assert document(AdviceAnswer(advice))["moon_illumination"] == pytest.approx(
        lit, abs=1e-4)  # noons are not quite alike
    year = dark_of(demo.rig(), site, date, advice.band, nights=1)
    assert year.moon_illumination[0].value == pytest.approx(lit, abs=1e-3)


def test_the_moon_is_up_for_the_share_that_its_setting_leaves(demo):
    date = datetime.date(2026, 11, 17)  # it sets within the window
    advice, site = ask(demo, date=date, with_changes=False), demo.site("hill")
    (first, last), *others = advice.window.windows
    set_at = next(at for at in moon_events(site, advice.night.start, advice.night.end).sets if first < at < last)
    share = float((set_at - first) / sum(((end - start) for start, end in others), last - first))
    told = re.search(r"up for ([\d.]+) % of it", moon_text(advice))
    assert float(told[1]) == pytest.approx(100 * share, abs=2)  # its limb, lifted by refraction, sets 5 min later


def test_a_ratio_is_told_for_a_pixel_that_is_larger_than_its_area(demo):
    # By hand: pixels of 10 arcsec hold 100 arcsec2, four times 25: twice the ratio of 5.
    advice = ask(demo, with_changes=False)
    assert not any("on one pixel" in more for *_, more in place_lines(advice))
    camera = replace(advice.rig.camera, pixel_pitch=(10 * u.arcsec).to_value(u.rad) * advice.rig.telescope.focal_length)
    coarse = replace(advice, rig=replace(advice.rig, camera=camera))
    assert any("5 on 25 arcsec² (10 on one pixel, which is 100 arcsec²)" in more for *_, more in place_lines(coarse))


def test_a_line_s_hours_say_how_far_into_twilight_they_go(demo):
    lines = {band: dict(glance(ask(demo, band=filter_named(demo.rig("nebulae"), band), with_changes=False)))["Depth"]
             for band in ("L", "Ha")}
    assert "Sun" not in lines["L"]
    assert "h with the Sun below −12°" in lines["Ha"]


def test_a_headline_names_one_way(demo):
    advice = ask(demo)
    assert advice.verdict.verdict == "guided"
    sure = replace(advice.certainty, gain=0.1, sub_exposure=20 * u.s, method="unguided")
    assert headline(advice.knowing(sure), sure).startswith("Image unguided: 20 s subs unguided for NGC 7331")


def test_the_odds_say_what_neither_means(demo):
    sure = replace(ask(demo).certainty, draws=64, odds={"unguided": 0.75, "guided": 0.0, "neither": 0.25})
    assert odds_text(sure) == ("unguided in 48, no length good in 16 of 64 cases drawn (good: 50 % of a perfect "
                               "mount's speed)")


def test_figures_have_two_digits_and_their_band(demo):
    advice = ask(demo, band=filter_named(demo.rig("nebulae"), "Ha"))
    long = replace(advice, total=replace(advice.total, integration_time=26147 * u.h, frames=9412777))
    lines = {line[0]: line[1:] for line in place_lines(long)}
    assert lines["Total exposure"][0] == "26\u202f000 h"
    assert lines["Total exposure"][1].startswith(f"9\u202f410\u202f000 subs of {advice.better.recommended.value:g} s, ")
    assert re.fullmatch(r"2\d\.\d mag/arcsec²", lines["Sky"][0])  # a sky behind 656 nm is no sky in V
    assert lines["Sky"][1].startswith("at the line, not in V: ")
    assert any(label.startswith("Depth") and more.startswith("at 656 nm, signal-to-noise")
               for label, (_, more) in lines.items())
    colour = replace(advice.rig, camera=replace(advice.rig.camera, colour="bayer"))
    curve = tuple((at + side * half, share) for at, half in ((500.7, 4), (656.3, 8)) for side, share in (
        (-1, 0.0), (-0.9, 0.9), (0.9, 0.9), (1, 0.0)))
    both = replace(advice.band, name="both", centre=590 * u.nm, width=23 * u.nm, curve=curve)
    dual = advise(advice.target, replace(colour, filters=(both,)), demo.site("hill"), NOVEMBER, with_changes=False)
    (depth,) = [more for label, _, more in place_lines(dual) if label.startswith("Depth")]
    assert depth.startswith("at 656 nm, ")  # the red pixels collect most, though the middle lies between the lines
    assert " R at 656 nm, tonight" in dict(glance(dual))["Depth"]
    assert _shown("periodic error", 128 * u.arcsec, short=True) == "130″"


def test_a_line_is_counted_in_rayleigh_and_doubling_the_time_in_root_two(demo):
    hydrogen = filter_named(demo.rig("nebulae"), "Ha")
    once = ask(demo, band=hydrogen)
    assert once.depth.line.unit == u.R
    assert document(AdviceAnswer(once))["depth"]["rayleigh"] == once.depth.line.value
    # S/N grows with the root of the time while the sky makes the noise.
    twice = depth_after(once.scene, once.better, 2 * once.scene.length, once.goal)
    assert (twice.line / once.depth.line).value == pytest.approx(0.5**0.5, rel=0.02)


def of_a_well(demo, electrons, sky=21.2):
    """Return the advice for such a pixel under such a sky, and after how many seconds the sky fills it."""
    rig = demo.rig("nebulae")
    small = replace(rig, camera=replace(rig.camera, full_well=electrons * u.electron))
    site = replace(demo.site("hill"), sky_brightness=sky * u.mag / u.arcsec**2)
    advice = quick(find_target("NGC 7331"), small, site, NOVEMBER)
    return advice, electrons / float((advice.scene.sky_rate + advice.scene.dark_rate).value)  # unbinned


@pytest.mark.parametrize(("electrons", "sky"), [(250, 21.2), (110, 21.2), (5000, 14)])
def test_a_sky_that_fills_the_pixel_ends_every_longer_sub(demo, electrons, sky):
    advice, full = of_a_well(demo, electrons, sky)
    assert advice.better.recommended.value < full
    assert advice.better.longest.value == pytest.approx(full, rel=1e-6)
    assert advice.better.limited_above_by == "saturation by the sky alone"


def test_a_sky_that_fills_the_shortest_sub_is_said(demo):
    advice, _ = of_a_well(demo, 1000, 14)
    assert headline(advice) == "The sky alone fills every pixel: no sub is short enough for NGC 7331 in L"
    assert advice.need.reasons[0].startswith("The sky alone fills every pixel within 1 s, on any mount.")


def test_a_rig_without_guider_hears_what_one_would_bring(demo):
    rig = replace(demo.rig("nebulae"), guider=None)
    alone = advise(find_target("NGC 7331"), rig, demo.site("hill"), NOVEMBER)
    plain = replace(rig, guider=PLAIN_GUIDER)
    bought = advise(find_target("NGC 7331"), plain, demo.site("hill"), NOVEMBER)  # acted on
    ratio = max(bought.need.guided.ladder.speed) / max(bought.need.unguided.ladder.speed)
    assert document(AdviceAnswer(alone))["with_guider"]["speed_ratio"] == pytest.approx(ratio, rel=0.02)
    assert document(AdviceAnswer(bought))["without_guider"]["speed_ratio"] == pytest.approx(1 / ratio, rel=0.02)


def test_stars_of_added_pixels_are_as_wide_as_those_of_one_large_pixel(demo):
    rig = demo.rig("nebulae")
    large = replace(rig.camera, pixel_pitch=3 * rig.camera.pixel_pitch)
    added, one = (quick(find_target("NGC 7331"), rig, demo.site("hill"), NOVEMBER)
                  for rig in (replace(rig, binning=3), replace(rig, camera=large)))
    assert added.star_fwhm.value == pytest.approx(one.star_fwhm.value, rel=1e-3)
    stars = {label: more for label, _, more in place_lines(added)}["Stars"]
    assert "pixels of 2.94″, each 3 × 3 added after reading" in stars
    assert "added" not in {label: more for label, _, more in place_lines(one)}["Stars"]


def test_the_headlines_length_comes_first_wherever_lengths_are_told(demo):
    """Where a safer length is named, row, curve and strip name it too, and call the other one best as it stands."""
    advice = ask(demo)
    sure = replace(advice.certainty, method="guided", sub_exposure=30 * u.s, gain=0.05)
    assert "30 s subs guided for" in headline(advice, sure)
    assert dict(glance(advice, sure))["Sub length"].startswith(
        "30 s subs guided until you know more; 90 s best as it stands; ")
    roles = {(star.method, star.exposure.value): star.role for star in
             star_strip(advice.scene, advice.need, advice.star, sure)}
    assert roles["guided", 30] == RECOMMENDED
    assert roles["guided", 90] == "best as it stands"
    assert list(roles.values()).count(RECOMMENDED) == 1
    labels = [row["label"] for table in as_drawn(speed_chart(advice.need, sure))["datasets"].values()
              for row in table if "label" in row]
    assert "30 s" in labels
    assert "90 s best as|it stands" in labels  # in lines: a narrow picture cuts none


def test_stars_of_the_strip_grow_longer_with_time(demo):
    advice = ask(demo)
    pictures = star_strip(advice.scene, advice.need, advice.star)
    need, half = advice.need, len(pictures) // 2
    unguided, guided = pictures[:half], pictures[half:]
    assert {picture.method for picture in unguided} == {"unguided"}
    assert [picture.exposure for picture in unguided if picture.role == RECOMMENDED] == [need.unguided.recommended]
    assert [picture.exposure for picture in guided if picture.role == RECOMMENDED] == [need.guided.recommended]
    assert unguided[-1].exposure <= need.guided.longest
    elongations = [picture.elongation for picture in unguided]
    assert elongations == sorted(elongations)
    assert max(picture.elongation for picture in guided) < 0.1
    shares = [picture.kept for picture in unguided]
    assert shares == sorted(shares, reverse=True)
    assert shares[-1] < 0.01  # the best guided lengths keep no unguided star round
    for picture in pictures:
        # The stamp is seven widths wide: a Kolmogorov profile has some 5 % of its light outside.
        assert 0.7 < picture.share.sum() <= 1


def test_the_guide_star_is_the_brightest_in_the_guiders_field(demo):
    rig, target = demo.rig("survey"), find_target("NGC 7331")
    width, height = guider_field(rig.guider)
    stars = NearbyStars(east=u.Quantity([0.4 * width, 0.1 * width, 2 * width]), north=u.Quantity([0.1 * height] * 3),
                  magnitude=[9.5, 8.0, 3.0] * u.mag)
    chosen = guide_star(rig, target, stars)
    assert chosen.magnitude == 8.0 * u.mag
    assert chosen.source == "in the catalogue"
    empty = NearbyStars(east=[5] * u.deg, north=[0] * u.deg, magnitude=[5] * u.mag)
    assert "expected" in guide_star(rig, target, empty).source
    assert guide_star(demo.rig("wide"), target, stars) is None


def test_a_pick_off_looks_beside_the_field(demo):
    rig, target = demo.rig("nebulae"), find_target("NGC 7331")
    north = rig.guider.off_axis_offset
    stars = NearbyStars(east=[0, 0] * u.deg, north=u.Quantity([0 * u.deg, north]), magnitude=[6, 9] * u.mag)
    assert guide_star(rig, target, stars).magnitude == 9 * u.mag
    assert stars_reach(rig) > north


def test_only_stars_on_the_sensor_can_saturate(demo):
    rig = demo.rig("galaxies")
    stars = NearbyStars(east=[0, 3] * u.deg, north=[0, 0] * u.deg, magnitude=[7, 5] * u.mag)
    assert in_camera(rig, stars).value.tolist() == [7]


def test_a_wrong_filter_names_the_nearest(demo):
    from planner.errors import InvalidInputError

    with pytest.raises(InvalidInputError, match="Did you mean OIII"):
        filter_named(demo.rig(), "O3III")


def test_a_window_through_the_lower_culmination_counts_its_own_hours_alone(demo):
    # M 81 from 62 N in late September stands below the pole in the evening and never sets.
    site = replace(demo.site("hill"), latitude=62 * u.deg, horizon=None)
    advice = quick(find_target("M 81"), demo.rig(None), site, datetime.date(2026, 9, 25), lowest_altitude=30 * u.deg)
    hours = advice.scene.hour_angle.to_value(u.hourangle)
    (start, end), = advice.window.hour_angle
    assert start < 180 * u.deg < end or start < -180 * u.deg < end
    assert abs(advice.scene.length - advice.window.hours) < 1 * u.s
    assert np.ptp(hours) == pytest.approx(advice.window.hours.to_value(u.h) * 1.00274, rel=1e-3)


def test_a_rig_that_only_lacks_a_guider_is_not_told_to_repair_its_mount(demo):
    rig = demo.rig("nebulae")
    terms = tuple(replace(term, amplitude=9 * term.amplitude) for term in rig.mount.periodic)
    rough = replace(rig, mount=replace(rig.mount, periodic=terms))
    alone, guided = (quick(find_target("NGC 7331"), one, demo.site("hill"), NOVEMBER)
                     for one in (replace(rough, guider=None), rough))
    assert alone.need.verdict == "neither"
    assert guided.need.verdict == "guided"  # a guider helps: followed, with this rig's own
    assert headline(alone).startswith("Add a guider first: ")


def test_twilight_counts_behind_a_narrow_filter(demo, monkeypatch):
    # Far north in May a narrow band begins at nautical twilight. Patat, Ugolnikov & Postylyakov 2006, A&A 455, 385,
    # table 1, R and I: the zenith until 105 deg from the Sun, less Paranal's dark sky (Patat 2003, A&A 400, 1183).
    north = replace(demo.site("hill"), latitude=58 * u.deg)
    hydrogen = replace(filter_named(demo.rig("nebulae"), "Ha"), centre=656.3 * u.nm, curve=None)
    dusk = datetime.date(2027, 5, 5)
    lit = advise(find_target("M 13"), demo.rig("nebulae"), north, dusk, band=hydrogen, with_changes=False)
    place = EarthLocation.from_geodetic(north.longitude, north.latitude, north.height)
    times = _times_at(lit.window, window_samples(lit.window))
    sun = get_sun(times).transform_to(AltAz(obstime=times, location=place)).alt.deg
    x = -sun - 5
    table = [np.interp(656.3, [641, 798], pair) for pair in ((11.40, 10.93), (1.567, 1.470), (-0.064, -0.062))]
    glow = 10 ** (-0.4 * (table[0] + table[1] * x + table[2] * x**2)) - 10 ** (
        -0.4 * np.interp(656.3, [641, 798], [20.9, 19.7]))
    monkeypatch.setattr("planner.session.advice.answer.sun_altitude",
                        lambda site, times: np.full(times.shape, -40) * u.deg)
    unlit = advise(lit.target, lit.rig, north, dusk, band=hydrogen, with_changes=False)
    added = 10 ** (-0.4 * lit.sky_brightness.value) - 10 ** (-0.4 * unlit.sky_brightness.value)
    assert added == pytest.approx(np.trapezoid(glow, times.unix) / np.ptp(times.unix), rel=0.03)
