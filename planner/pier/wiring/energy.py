"""What the night takes out of the battery, and how long the battery lasts in the cold."""

import math
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.fields import Key, told
from planner.pier.wiring.circuit import TreeSolution, solve_tree
from planner.pier.wiring.power import Conditions, PowerTree, Supply
from planner.signs import minus

# Share of the rated capacity that is left in the cold, temperature in C against share (common practice, no source:
# the middle of what makers print for slow discharges).
COLD_SHARE = {
    "lead-acid": ((-30.0, -20.0, -10.0, 0.0, 10.0, 25.0, 40.0), (0.40, 0.55, 0.68, 0.80, 0.90, 1.00, 1.03)),
    "lithium iron phosphate": (
        (-30.0, -20.0, -10.0, 0.0, 10.0, 25.0, 40.0), (0.40, 0.60, 0.75, 0.88, 0.95, 1.00, 1.00)),
}
# Peukert's exponent: how much of the capacity a fast discharge costs (W. Peukert 1897, Elektrotechnische
# Zeitschrift, volume and page not seen; the values are common practice for sealed batteries).
PEUKERT_EXPONENT = {"lead-acid": 1.15, "lithium iron phosphate": 1.03}


# Freezing point of a lead-acid battery by the share of its charge that is left: the acid's density by charge (a battery
# maker's table, the middles) through the freezing points of TM 5-1185 (US Army, table III) and a vehicle maker's
# manual, C.
FREEZES = ((0.0, 0.25, 0.5, 0.75, 1.0), (-11.0, -17.0, -25.0, -37.0, -59.0))
FREEZING_MARGIN = 3.0  # K (common practice, no source)
# Below these lithium iron phosphate must not be charged, and cuts out, C; a forecast errs by so much, K (all common
# practice, no source).
LITHIUM_CHARGES, LITHIUM_WORKS, FORECAST = 0.0, -20.0, 3.0
LARGEST_AH = 10000


@dataclass(frozen=True, kw_only=True)
class NightEnergy:
    """Energy of one night and what the battery has."""

    average: TreeSolution
    load_energy: u.Quantity[u.W * u.h]  # (loads,), at the loads
    cable_energy: Annotated[u.Quantity[u.W * u.h], "lost in cables, hubs and the supply's own resistance"]
    energy: Annotated[u.Quantity[u.W * u.h], "out of the supply"]
    charge: Annotated[u.Quantity[u.A * u.h], "out of the supply"]
    usable_charge: Annotated[u.Quantity[u.A * u.h] | None, "null for a mains supply or an unknown capacity"]
    duration: Annotated[u.Quantity[u.h] | None, "how long the battery lasts", Key("battery_duration_h")]
    lasts: Annotated[bool | None, "whether it lasts the night"]
    capacity_needed: Annotated[u.Quantity[u.A * u.h] | None, "that lasts the night, rounded up; null if there is none"]
    cold: str  # what the cold does to this battery; empty if nothing
    ruined: bool  # by it, tonight; else it is only near to that
    terms: tuple[tuple[str, float], ...]  # share of the rated capacity by cause
    reason: Annotated[str, "in words"]
    shares = told(dict[str, float], "share of the rated capacity by cause", lambda energy: {
        cause.replace(" ", "_"): share for cause, share in energy.terms}, key="capacity_shares")


def cold_share(chemistry: str, temperature: u.Quantity[u.deg_C]) -> float:
    """Return the share of the rated capacity that is left at a temperature (see `COLD_SHARE`), ends held."""
    return float(np.interp(temperature.to_value(u.deg_C, u.temperature()), *COLD_SHARE[chemistry]))


def rate_share(supply: Supply, current: u.Quantity[u.A]) -> float:
    r"""Return the share of the rated capacity that is left at a discharge current (Peukert).

    .. math:: \left(\frac{C}{I\,H}\right)^{k-1}, at most 1

    with the rated capacity C at the rated time H.
    """
    rated = (supply.capacity / supply.rated_time).to_value(u.A)
    exponent = PEUKERT_EXPONENT[supply.chemistry]
    amperes = current.to_value(u.A)
    return 1.0 if amperes <= rated else float((rated / amperes) ** (exponent - 1))


def night_energy(tree: PowerTree, conditions: Conditions) -> NightEnergy:
    """Return the energy of the night and whether the battery lasts.

    `conditions`: temperature, humidity and duration of the night.
    From the tree solved at its average powers (peaks by their duty) and the supply's middle voltage; the
    losses of the short peaks are thus a little low. NaN, and a reason, if the tree collapses.
    """
    middle = (tree.supply.voltage + tree.supply.empty_voltage) / 2
    average = solve_tree(tree, conditions, state="average", supply_voltage=middle)
    hours = conditions.duration
    load_energy = (average.load_voltage * average.load_current * hours).to(u.W * u.h)
    energy = (average.supply_power * hours).to(u.W * u.h)
    charge = (average.supply_current * hours).to(u.A * u.h)
    supply = tree.supply
    usable, terms = _usable(supply, conditions, average)
    lasting = _lasting(usable, average)
    lasts = supply.kind != "battery" if lasting is None else bool(lasting >= hours)
    cold, ruined = _cold(supply, conditions, charge)
    needed = None if average.collapsed or supply.kind != "battery" else _capacity_needed(supply, conditions, charge)
    return NightEnergy(
        average=average, load_energy=load_energy, cable_energy=energy - load_energy.sum(), energy=energy,
        charge=charge, usable_charge=usable, duration=lasting, lasts=None if average.collapsed else lasts,
        capacity_needed=needed, cold=cold, ruined=ruined, terms=terms,
        reason=_reason(supply, average, hours, lasting, terms))


def _lasting(usable: u.Quantity | None, average: TreeSolution) -> u.Quantity[u.h] | None:
    if usable is None:
        return None
    return (usable / average.supply_current).to(u.h) if average.supply_current > 0 else np.inf * u.h


def _capacity_needed(supply: Supply, conditions: Conditions, charge: u.Quantity) -> u.Quantity[u.A * u.h]:
    """Return the smallest capacity of two digits, 10 A h or more, that lasts the night.

    C s (C/(I H))^(k-1) = I t with the share s that cold and depth leave: a larger one is also discharged more gently.
    """
    slow = charge.value / (supply.depth * cold_share(supply.chemistry, battery_celsius(supply, conditions) * u.deg_C))
    gentle = charge.value / conditions.duration.value * supply.rated_time.value  # from here on the rate costs nothing
    exponent = PEUKERT_EXPONENT[supply.chemistry]
    needed = max(10.0, slow * max(gentle / slow, 1.0) ** (1 - 1 / exponent) if slow > 0 else 0.0)
    step = 10 ** (math.floor(math.log10(needed)) - 1)
    rounded = step * math.ceil(needed * (1 + 1e-9) / step)
    return (rounded if rounded <= LARGEST_AH else np.inf) * u.A * u.h


def battery_celsius(supply: Supply, conditions: Conditions) -> float:
    """Return the temperature of the battery, in its box or in the air [deg_C]."""
    given = conditions.temperature if supply.battery_temperature is None else supply.battery_temperature
    return float(given.value)


def _cold(supply: Supply, conditions: Conditions, charge: u.Quantity) -> tuple[str, bool]:
    """Say what the cold does to a battery beyond its capacity, and whether it ruins it."""
    celsius = battery_celsius(supply, conditions)
    if supply.kind != "battery":
        return "", False
    here = celsius_text(celsius)
    if supply.chemistry == "lead-acid":
        used = supply.depth if supply.capacity is None or np.isnan(charge.value) else float(charge / supply.capacity)
        freezes = float(np.interp(1 - used, *FREEZES))
        words = (f"At {here}, and with {100 * used:.0f} % taken out, its acid freezes (at about "
                 f"{celsius_text(freezes)}) and bursts it.")
        return (words, True) if celsius <= freezes + FREEZING_MARGIN else ("", False)
    limits = ((LITHIUM_WORKS, "many of its kind cut out, and charging ruins it."),
              (LITHIUM_CHARGES if supply.charged_while_on else -np.inf, "charging ruins it (below 0 °C)."))
    for limit, words in limits:
        if celsius < limit:
            return f"At {here} {words}", True
        if celsius < limit + FORECAST:
            return f"At {here} it is within {FORECAST:g} K of where {words}", False
    return "", False


def celsius_text(celsius: float) -> str:
    """Return whole degrees as people read them: ``−5 °C``."""
    return minus(f"{round(celsius) + 0:d} °C")


def _usable(supply: Supply, conditions: Conditions, average: TreeSolution
            ) -> tuple[u.Quantity | None, tuple[tuple[str, float], ...]]:
    if supply.kind != "battery" or supply.capacity is None or average.collapsed:
        return None, ()
    cold = cold_share(supply.chemistry, battery_celsius(supply, conditions) * u.deg_C)
    terms = (("depth of discharge", supply.depth), ("cold", cold),
             ("rate of discharge", rate_share(supply, average.supply_current)))
    share = float(np.prod([value for _, value in terms]))
    return supply.capacity * share, terms


def _reason(supply: Supply, average: TreeSolution, hours: u.Quantity, lasting: u.Quantity | None,
            terms: tuple[tuple[str, float], ...]) -> str:
    if average.collapsed:
        return "The cables cannot carry even the average power: no energy can be told."
    if supply.kind != "battery":
        return f"{supply.name} is a mains supply: it lasts."
    if lasting is None:
        return f"The capacity of {supply.name} is not given: whether it lasts the night is not known."
    shares = ", ".join(f"{100 * share:.0f} % for {cause}" for cause, share in terms)
    lasts = f"lasts {lasting.value:.1f} h" if np.isfinite(lasting) else "gives nothing and lasts"
    return (f"{supply.name} {lasts}; the night takes {hours.value:.1f} h. Its capacity is reckoned at {shares} (common "
            "practice; the rate by Peukert's law).")
