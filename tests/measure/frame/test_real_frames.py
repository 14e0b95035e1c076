"""Real frames: the plate that ships with astropy, and one with a published catalogue of its sources."""

from pathlib import Path

import numpy as np
import pytest
from astropy.io.fits.hdu import compressed
from photutils.psf import fit_fwhm

from planner.files.frames.load import read_frame
from planner.measure.stars.star_field import measure_frame

PLATE = Path(compressed.__file__).parent / "tests" / "data" / "m13.fits"
DATA = Path(__file__).parents[4] / "shared" / "data"


def test_plate_of_a_globular_cluster():
    frame = read_frame(PLATE)
    assert frame.image_scale.value == pytest.approx(0.99972, abs=1e-4)  # CDELT of its header, in arcsec
    assert frame.sky @ [0, 1] == pytest.approx([0, 0.99972], abs=1e-3)  # north up
    found = measure_frame(frame.image, saturation=frame.saturation)
    assert found.used > 50
    # photutils fits a Gaussian to each star; to the wings of a plate it fits a wider one.
    stars = found.stars.chosen(np.argsort(found.stars.signal_to_noise)[-40:])
    widths = fit_fwhm(frame.image - found.background, xypos=list(zip(stars.x, stars.y, strict=True)), fit_shape=9)
    assert found.fwhm.value == pytest.approx(np.median(widths), rel=0.12)


@pytest.mark.optional_data
@pytest.mark.skipif(not (DATA / "ccd_frame.fits").is_file(), reason="shared/data with the real frame is not here")
def test_positions_of_a_published_catalogue():
    # XWIN_IMAGE, YWIN_IMAGE of the catalogue, counted from 1; FLUX_RADIUS tells stars from galaxies.
    rows = [line.split() for line in (DATA / "ccd_frame_catalogue.txt").read_text().splitlines() if line[0] != "#"]
    catalogue = np.array(rows, dtype=float)
    places, radius, flags = catalogue[:, 3:5] - 1, catalogue[:, 18], catalogue[:, -1]
    frame = read_frame(DATA / "ccd_frame.fits")
    found = measure_frame(frame.image, saturation=frame.saturation)
    distance = np.hypot(found.stars.x[:, None] - places[:, 0], found.stars.y[:, None] - places[:, 1])
    between = np.hypot(*(places[:, None] - places[None]).T)
    np.fill_diagonal(between, np.inf)
    isolated = (between.min(axis=0) > 8) & (flags < 4)
    match = distance.argmin(axis=1)
    offset = distance.min(axis=1)[isolated[match]]
    compact = (radius < 2.0)[match][isolated[match]]
    assert offset.size >= 18
    assert np.all(offset[compact] < 0.2)
    assert np.mean(offset < 0.2) > 0.85  # a lopsided galaxy has another centre under another weight
