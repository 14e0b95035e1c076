"""The cautions: short, and no claim of compliance."""

import pytest

from planner.pier.cautions import BALANCE_CAUTIONS, COLUMN_CAUTIONS, POWER_CAUTIONS


@pytest.mark.parametrize("caution", BALANCE_CAUTIONS + POWER_CAUTIONS + COLUMN_CAUTIONS)
def test_cautions_are_short_and_claim_nothing(caution):
    assert len(caution) < 125
    assert "compl" not in caution.lower()
    assert "safe to" not in caution.lower()


def test_each_part_defers():
    for cautions, who in ((BALANCE_CAUTIONS, "makers"), (POWER_CAUTIONS, "codes"), (COLUMN_CAUTIONS, "codes")):
        assert any(who in line and "no approval" in line for line in cautions)


def test_what_can_hurt_is_named():
    # The hazards that a practitioner meets, each with what to do about it.
    everything = " ".join(BALANCE_CAUTIONS + POWER_CAUTIONS + COLUMN_CAUTIONS)
    for word in ("hydrogen", "fuse", "lightning", "silica", "clutch", "climb", "25 kg", "Sun", "electrician",
                 "tip easily", "short-circuit current", "surge", "Earthing", "below 0 °C", "Hold tube and weights"):
        assert word in everything
