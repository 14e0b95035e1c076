"""A large frame in one pass over its file, against the same frame whole and in memory."""

import numpy as np
import pytest
from astropy.io import fits
from measure.frame_sim import Sky, draw
from scipy.spatial import cKDTree

from planner.files.frames.load import read_frame
from planner.measure.stars import large_frame, star_field
from planner.measure.stars.detection import detect, subtract_background
from planner.measure.stars.large_frame import LargeFrame
from planner.measure.stars.star_field import measure_frame


def mapped(tmp_path, image, **cards):
    path = tmp_path / "frame.fits"
    fits.PrimaryHDU(np.clip(image.round(), 0, 65535).astype(np.uint16), fits.Header(cards)).writeto(path)
    return read_frame(path)


def slope(size, across):
    return across * np.linspace(0, 1, size) * np.linspace(0, 1, size)[:, None]


# 641: neither blocks nor strips end with the frame; a sky that rises by 5 times the noise; stars cut by the edge.
@pytest.mark.parametrize(("size", "sky"), [(700, 0.0), (641, 800.0)])
def test_the_same_sources(tmp_path, size, sky):
    frame = mapped(tmp_path, draw(Sky(fwhm=2.8, stars=400, size=size, seed=5))[0] + slope(size, sky))
    whole = np.array(frame.image)
    level, noise = subtract_background(whole)
    there = detect(whole, level, noise)
    large = LargeFrame(frame.counts)
    found = large.detections()
    assert large.noise == pytest.approx(noise, rel=0.06)
    assert np.quantile(np.abs(np.asarray(large) - whole), 0.9) < 0.15 * noise
    away, _ = cKDTree(np.column_stack([found.x, found.y])).query(np.column_stack([there.x, there.y]))
    bright = there.peak > 8 * noise
    assert np.quantile(away[bright], 0.95) < 0.2
    assert found.count == pytest.approx(there.count, rel=0.03)
    inside = np.asarray(large)[found.row, found.column]
    assert inside == pytest.approx(found.peak, abs=0.1 * noise)


def test_a_frame_full_of_light_is_searched_whole(tmp_path):
    image = draw(Sky(fwhm=2.8, stars=100, size=300, seed=5))[0]
    rows, columns = np.indices(image.shape)
    image = image + 9000 * np.sin(rows / 5) * np.sin(columns / 5)
    large = LargeFrame(mapped(tmp_path, image).counts)
    assert large._pieces(large._lit()) is None
    assert large.detections().count > 0


def test_a_frame_without_stars(tmp_path):
    large = LargeFrame(mapped(tmp_path, np.random.default_rng(1).normal(1000, 10, (200, 200))).counts)
    assert large.detections().count == 0
    assert measure_frame(large.counts).used == 0


@pytest.mark.parametrize("mosaic", [None, "GRBG"])
def test_the_same_stars(tmp_path, monkeypatch, mosaic):
    frame = mapped(tmp_path, draw(Sky(fwhm=4.0, trail=2.0, stars=500, size=900, seed=7))[0],
                   **({"BAYERPAT": mosaic} if mosaic else {}))
    asked = {"saturation": frame.saturation, "pixel_step": frame.pixel_step}
    one = measure_frame(frame.counts, second=frame.second, **asked)
    monkeypatch.setattr(star_field, "LARGE", 1)
    other = measure_frame(frame.counts, second=frame.second, **asked)
    assert one.noise != other.noise  # the other way was taken
    assert other.used == pytest.approx(one.used, rel=0.05)
    assert other.fwhm.value == pytest.approx(one.fwhm.value, rel=0.005)
    assert other.elongation == pytest.approx(one.elongation, abs=0.005)
    assert other.trail.length.value == pytest.approx(one.trail.length.value, rel=0.03)


def test_shelves_hold_every_piece_apart():
    sides = np.random.default_rng(2).integers(10, 400, (300, 2))
    sides = sides[np.argsort(-sides[:, 0])]
    starts, size = large_frame._shelves(sides)
    filled = np.zeros(size, int)
    for (top, left), (high, wide) in zip(starts, sides, strict=True):
        filled[top : top + high, left : left + wide] += 1
    assert filled.max() == 1
    assert filled.sum() == np.prod(sides, axis=1).sum()
