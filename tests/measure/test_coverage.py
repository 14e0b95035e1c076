"""Stated errors hold: a short seeded run of ``python tests/measure/coverage.py``, which does it at length."""

import numpy as np
import pytest
from measure.coverage import deviations

# 68 % expected of pooled figures that share noise: 50 to 85 % of 40 sets happen in more than 99 of 100.
NUMBERS = {"8 stars": 40, "8 stars, one wrong": 40, "60 stars": 20, "3 positions": 40, "4 positions": 60,
           "6 positions": 40, "two drifts": 40, "20 frames of 30 s": 20, "10 min of 1 s": 6,
           "10 min, slow": 12}


@pytest.mark.parametrize("regime", NUMBERS)
def test_stated_errors_hold(regime):
    every = np.abs(np.concatenate(list(deviations(regime, range(500, 500 + NUMBERS[regime])).values())))
    assert 0.5 <= np.mean(every < 1) <= 0.85
