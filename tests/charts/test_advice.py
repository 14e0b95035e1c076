"""The pictures of an advice: what is written beside the steps from the dark hours to what counts."""

import pytest
from astropy import units as u

from planner.charts.advice import waterfall_chart
from planner.session.advice.waterfall import Waterfall


@pytest.mark.parametrize(("hours", "labels"), [
    ([11.8, 3.8, 3.4, 3.1], ["11.8", "−8.0", "−0.4", "−0.3", "3.1"]),
    ([11.8, 0.36, 0.33, 0.31], ["11.80", "−11.44", "−0.03", "−0.02", "0.31"]),  # under a full Moon
    ([11.8, 0.03, 0.03, 0.03], ["11.800", "−11.770", "0", "0", "0.030"])])
def test_a_step_is_told_as_finely_as_what_comes_of_all(hours, labels):
    steps = Waterfall(title="", names=("dark hours", "Moon", "flips", "overhead"), levels=hours * u.h)
    chart = waterfall_chart(steps, "hours", "The steps.")
    assert chart.data["label"].tolist() == labels


def test_the_steps_to_a_star_add_up_to_its_width_as_they_are_written():
    # 2.4 arcsec at 500 nm are 2.36 behind the filter: "2.4" and +0.89 gave "3.2".
    steps = Waterfall(title="", names=("seeing", "optics", "pixel"), levels=[2.36, 3.16, 3.24] * u.arcsec)
    start, *more, end = (float(text.replace("−", "-")) for text in waterfall_chart(steps, "″", "", 2).data["label"])
    assert start + sum(more) == pytest.approx(end)
