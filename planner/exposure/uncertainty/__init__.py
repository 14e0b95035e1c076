"""How sure the verdict is: what the inputs leave open, the odds over it, and what knowing or changing it is worth.

In goes a scene with its verdict (`exposure.guide_need`), out comes a `Certainty`. Read `odds` first; `inputs` draws,
`knowing` prices a measurement, `log_information` says what a drift log of some length can tell.
"""

from planner.exposure.uncertainty.inputs import OpenInput, open_inputs
from planner.exposure.uncertainty.knowing import MeasurementWorth
from planner.exposure.uncertainty.odds import SETTLED, Certainty, Improvement, certainty

__all__ = ["SETTLED", "Certainty", "Improvement", "MeasurementWorth", "OpenInput", "certainty", "open_inputs"]
