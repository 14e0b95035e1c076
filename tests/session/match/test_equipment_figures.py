"""The figures beside the equipment's forms."""

from dataclasses import replace

import pytest
from astropy import units as u

from planner.files.equipment import load_equipment
from planner.session.match.equipment_figures import part_figures, refocus_change, rig_figures


@pytest.fixture(scope="module")
def demo():
    return load_equipment(None)


def test_image_scale_and_field_by_the_textbook(demo):
    # 206265 arcsec per radian: 3.8 um behind 800 mm is 0.980 arcsec; 6000 columns of it are 1.633 deg.
    found = rig_figures(demo.rig("nebulae"), demo.site())
    assert found.image_scale.to_value(u.arcsec / u.pix) == pytest.approx(206.265 * 3.8 / 800, rel=1e-4)
    assert found.field.width.to_value(u.deg) == pytest.approx(206.265 * 3.8 / 800 * 6000 / 3600, rel=1e-3)
    assert found.star_fwhm > demo.site().seeing


def test_refocus_by_hand(demo):
    # f/4, 800 mm, aluminium 23.1e-6 1/K; a disc of 2.4/3 arcsec: 0.8/206265 x 800 mm x 4 = 12.4 um, over 18.5 um/K;
    # the quarter wave, 2 x 0.5 um x 16 = 16 um, is larger and counts: 0.866 K.
    middle = demo.rig("nebulae").telescope
    assert refocus_change(middle, demo.site()).to_value(u.K) == pytest.approx(16 / 18.48, rel=1e-3)
    # f/5, 400 mm: 7.76 um against 25 um.
    short = demo.rig("wide").telescope
    assert refocus_change(short, demo.site()).to_value(u.K) == pytest.approx(25 / 9.24, rel=1e-3)
    # In poor seeing the disc counts.
    poor = replace(demo.site(), seeing=6 * u.arcsec)
    assert refocus_change(middle, poor).to_value(u.K) == pytest.approx(2 / 206265 * 800e3 * 4 / 18.48, rel=1e-3)
    rigid = replace(middle, expansion=0 / u.K)
    assert refocus_change(rigid, demo.site()) == float("inf") * u.K
    assert part_figures(rigid, demo)[-1].value == "never"


def test_every_part_of_the_demo_has_figures(demo):
    for kind in ("sites", "telescopes", "reducers", "cameras", "filters", "mounts", "guiders", "rigs"):
        for part in getattr(demo, kind):
            figures = part_figures(part, demo)
            assert figures
            assert all(figure.label and figure.value for figure in figures)


def test_the_smaller_of_well_and_converter_saturates(demo):
    # 12 bits at 2.9 electrons a step end at 11876 electrons, below the well of 12000.
    small, aps_c = demo.cameras[:2]
    assert part_figures(small, demo)[2].value == "11876 e"
    assert part_figures(aps_c, demo)[2].remark == "the full well"
