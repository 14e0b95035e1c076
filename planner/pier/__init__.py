"""The pier: does it balance, does 12 V arrive at the top of the cable, and does the column stand still."""

from planner.pier.balance.model import Assembly, Bar, Counterweight, Move, Rotator, TubePart, add, swap
from planner.pier.balance.plan import BalancePlan, plan_balance
from planner.pier.balance.torque import Balance, balance, imbalance_torque
from planner.pier.column.answer import ColumnAnswer, judge_column
from planner.pier.column.beam import Bending, Vibration, bend, vibration, wave_numbers
from planner.pier.column.concrete import (
    ConcreteAge,
    age_at_share,
    concrete_age,
    maturity_factor,
    mean_modulus,
    strength_share,
)
from planner.pier.column.footing import Footing
from planner.pier.column.model import Column, TopLoads
from planner.pier.column.motion import PierMotion, pier_motion
from planner.pier.column.polar import PolarShift, polar_shift
from planner.pier.column.standing.actions import wind_force
from planner.pier.column.standing.verdict import Standing, judge_standing
from planner.pier.column.steps import person_tilt
from planner.pier.column.stiffness import FootingStiffness, footing_stiffness, pad_stiffness
from planner.pier.column.sway import ColumnResponse, LoadCase, column_response
from planner.pier.dew import HeaterNeed, dew_point, heater_power
from planner.pier.objection import Objection
from planner.pier.setup import PierSetup
from planner.pier.wiring.cable import Cable, ampacity, fuse_rating, loop_resistance
from planner.pier.wiring.circuit import TreeSolution, solve_tree
from planner.pier.wiring.energy import NightEnergy, night_energy
from planner.pier.wiring.power import Conditions, Hub, Load, PowerTree, Supply
from planner.pier.wiring.verdict import Wiring, judge_wiring

__all__ = [
    "Assembly", "Balance", "BalancePlan", "Bar", "Bending", "Cable", "Column", "ColumnAnswer", "ColumnResponse",
    "ConcreteAge", "Conditions", "Counterweight", "Footing", "FootingStiffness", "HeaterNeed", "Hub", "Load",
    "LoadCase", "Move", "NightEnergy", "Objection", "PierMotion", "PierSetup", "PolarShift", "PowerTree",
    "Rotator", "Standing", "Supply", "TopLoads", "TreeSolution", "TubePart", "Vibration", "Wiring", "add",
    "age_at_share", "ampacity", "balance", "bend", "column_response", "concrete_age", "dew_point",
    "footing_stiffness", "fuse_rating", "heater_power", "imbalance_torque", "judge_column", "judge_standing",
    "judge_wiring", "loop_resistance", "maturity_factor", "mean_modulus", "night_energy", "pad_stiffness",
    "person_tilt", "pier_motion", "plan_balance", "polar_shift", "solve_tree", "strength_share", "swap",
    "vibration", "wave_numbers", "wind_force",
]
