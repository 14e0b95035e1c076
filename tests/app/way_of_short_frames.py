"""From short frames to a saved mount and another verdict, in a real browser: pytest tests/app/way_of_short_frames.py.

The suite has a short run of it, `test_paths.test_short_frames_open_as_a_drift_log`.
"""

import datetime
import io
import re

import numpy as np
import pytest
from app.conftest import go_to
from astropy import units as u
from astropy.io import fits
from playwright.sync_api import expect

from planner.files.equipment import load_equipment

NIGHT = "2026-11-10"  # one day after the new Moon of 2026 November 9, 07:02 UTC
START = datetime.datetime(2026, 11, 10, 18, 30)
SIDE, SCALE, SIGMA, DEC = 240, 1.2, 1.2, 34.416  # pixels, arcsec a pixel, pixels, degrees


def short_frames(count=40, every_s=45.0, amplitude=0.9, period_s=300.0, drift=(0.03, -0.02), air=0.15):
    """Return short frames of one field as uploads, by numpy alone: round stars that a worm and a drift carry along.

    Amplitude of the worm on the equator, drifts a minute (east, north) and what the air does to a frame (rms) in
    arcsec; rows grow north, columns west.
    """
    random = np.random.default_rng(638)
    x, y = random.uniform(40, 200, (2, 60))
    light = 3e3 * 10 ** random.uniform(0, 1.2, 60)
    rows, columns = np.mgrid[:SIDE, :SIDE]
    files = []
    for index in range(count):
        seconds = index * every_s
        worm = amplitude * np.cos(np.radians(DEC)) * np.sin(2 * np.pi * seconds / period_s)
        east, north = np.array([worm, 0]) + np.array(drift) * seconds / 60 + random.normal(0, air, 2)
        image = np.full((SIDE, SIDE), 400.0)
        for x_0, y_0, flux in zip(x - east / SCALE, y + north / SCALE, light, strict=True):
            image += flux / (2 * np.pi * SIGMA**2) * np.exp(-((columns - x_0)**2 + (rows - y_0)**2) / (2 * SIGMA**2))
        unit = fits.PrimaryHDU(random.poisson(image).astype(np.float32))
        unit.header.update({
            "EXPTIME": 5.0, "DATE-OBS": (START + datetime.timedelta(seconds=seconds)).isoformat(),
            "CTYPE1": "RA---TAN", "CTYPE2": "DEC--TAN", "CRVAL1": 339.267, "CRVAL2": DEC, "CRPIX1": SIDE / 2,
            "CRPIX2": SIDE / 2, "CD1_1": -SCALE / 3600, "CD1_2": 0.0, "CD2_1": 0.0, "CD2_2": SCALE / 3600})
        file = io.BytesIO()
        unit.writeto(file)
        files.append({"name": f"short_{index:02d}.fits", "mimeType": "application/fits", "buffer": file.getvalue()})
    return files


@pytest.mark.browser
def test_from_short_frames_to_a_saved_mount_and_another_verdict(desktop, app_address, own_folder):
    watched, page = desktop, desktop.page
    page.goto(f"{app_address}/equipment?night={NIGHT}&target=NGC+7331&rig=nebulae")
    page.get_by_role("button", name="Start from a copy of the demo").click()
    page.get_by_text("Your equipment file is").wait_for()
    go_to(page, "Guide or not", "subs for")
    before = page.get_by_role("heading", level=2).first.inner_text()

    go_to(page, "Test frame", "Reject it")
    page.locator('input[type="file"]').first.set_input_files(short_frames())
    page.get_by_role("heading", name="40 frames: keep 40").wait_for()
    watched.settle()
    page.get_by_role("button", name="Open it under Drift and polar alignment").click()
    page.get_by_role("heading", name="Drift a minute").wait_for()
    sentence = page.get_by_text("The advice changes").first
    sentence.wait_for()
    promised = sentence.inner_text()
    page.get_by_test_id("stTabs").get_by_role("button", name="Save into my equipment").first.click()
    page.get_by_text("Saved in equipment.toml").wait_for()
    mount = load_equipment(own_folder / "equipment.toml").rig("nebulae").mount
    # Before: 6 arcsec every 501 s, and a harmonic of it. The series shows next to nothing of the first.
    term, *others = sorted(mount.periodic, key=lambda one: -one.amplitude)
    assert all(one.amplitude < 0.3 * u.arcsec for one in others)
    assert term.amplitude.to_value(u.arcsec) == pytest.approx(0.9, rel=0.15)
    assert term.period.to_value(u.s) == pytest.approx(300, rel=0.02)

    go_to(page, "Guide or not", "for NGC 7331")
    heading = page.get_by_role("heading", level=2).first
    expect(heading).not_to_have_text(before)
    after = heading.inner_text()
    verdicts = re.search(r"before, (.*?) for .*; now, (.*?) for ", promised).groups()
    assert verdicts == (before.split(" for ")[0], after.split(" for ")[0])
    assert watched.errors == []
    assert watched.strangers == []
