"""The 12 V tree: a supply or battery, cables, hubs, and loads with what each draws when; whether they make a tree."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from astropy import units as u

from planner.checks import Model, did_you_mean, plain, quantity
from planner.errors import InvalidInputError
from planner.pier.dew import heater_power
from planner.pier.wiring.cable import Cable

BEHAVIOURS = ("constant power", "constant current", "resistive")
TreeState = Literal["working", "peak", "average"]
# Voltage without load over that of the full battery, by the share taken out: 12.7, 12.1, 11.5 V lead acid; 13.4, 12.9,
# 12.0 V lithium iron phosphate (common practice, no source).
REST_SHARE = {"lead-acid": ((0.0, 0.5, 1.0), (1.0, 0.953, 0.905)),
              "lithium iron phosphate": ((0.0, 0.8, 1.0), (1.0, 0.963, 0.895))}
# Share to be used if the observer gives none (common practice): deeper wears a lead-acid battery out in few nights.
DEPTH_OF_DISCHARGE = {"lead-acid": 0.5, "lithium iron phosphate": 0.8}
# What a charger gives to a battery of a full voltage without load: 2.4 V to a cell of 2 V, 14.4 V to all of 12 V,
# lithium iron phosphate too (common practice, no source).
CHARGING_V = ((0.0, 12.0, 14.4, 16.0, 24.0, 28.8, 32.0, 60.0), (0.0, 14.4, 14.4, 19.2, 28.8, 28.8, 38.4, 72.0))
# Internal resistance times capacity of 12 V of a strong battery, ohm Ah, where the resistance is not given: a short
# circuit is then reckoned large (common practice, no source).
SHORT_OHM_AH = 0.3
# What a regulated converter takes in and how much of it arrives (common practice, no source).
CONVERTER_TAKES, CONVERTER_YIELD = (9 * u.V, 36 * u.V), 0.9
# A load whose inrush is not given draws so many times its peak for a moment (common practice, no source).
INRUSH_FACTOR = 2.0


@dataclass(frozen=True, kw_only=True)
class Conditions(Model):
    """The night that the plan is for."""

    temperature: u.Quantity[u.deg_C] = quantity("deg_C", default="5 deg_C", at_least=-60, at_most=50,
                                                meaning="of the night air")
    humidity: float = plain("number", default=0.8, more_than=0, at_most=1, meaning="relative, as a share",
                            remedy="Give the relative humidity as a share, e.g. 0.8.")
    duration: u.Quantity[u.h] = quantity("h", default="8 h", more_than=0, at_most=48,
                                         meaning="from switching on to switching off")


@dataclass(frozen=True, kw_only=True)
class Supply(Model):
    """Where the current comes from: a mains supply or a battery."""

    name: str = plain("text", remedy="Name the supply.")
    kind: str = plain("choice", default="battery", choices=("mains supply", "battery"),
                      remedy="Write mains supply or battery.")
    voltage: u.Quantity[u.V] = quantity("V", more_than=0, at_most=60, meaning="without load, fully charged",
                                        remedy="Give the voltage without load, e.g. 13.2 V.")
    lowest_voltage: u.Quantity[u.V] | None = quantity(
        "V", default=None, more_than=0, at_most=60, meaning="without load, when it counts as empty")
    internal_resistance: u.Quantity[u.ohm] = quantity("ohm", default="0 ohm", at_least=0, at_most=10,
                                                    meaning="0: not known")
    maximum_current: u.Quantity[u.A] | None = quantity("A", default=None, more_than=0, at_most=1000)
    chemistry: str = plain("choice", default="lead-acid", choices=("lead-acid", "lithium iron phosphate"),
                           remedy="Write lead-acid or lithium iron phosphate.")
    capacity: u.Quantity[u.A * u.h] | None = quantity("A h", default=None, more_than=0, at_most=10000,
                                                      meaning="rated, at 25 °C and the rated time",
                                                      remedy='Write it like "50 A h".')
    rated_time: u.Quantity[u.h] = quantity("h", default="20 h", more_than=0, at_most=200,
                                           meaning="discharge time at which the capacity is rated")
    depth_of_discharge: float | None = plain("number", default=None, more_than=0, at_most=1,
                                             meaning="share to be used; by chemistry if absent")
    charged_while_on: bool = plain("truth", default=True,
                                   meaning="a charger may run while the devices are on the battery")
    battery_temperature: u.Quantity[u.deg_C] | None = quantity(
        "deg_C", default=None, at_least=-60, at_most=50, meaning="in its box; that of the air if absent")

    def faults(self) -> Iterator[InvalidInputError]:
        """Yield a lowest voltage above the usual one."""
        if self.lowest_voltage is not None and self.lowest_voltage > self.voltage:
            yield InvalidInputError("lowest_voltage", self.lowest_voltage,
                                    f"must be at most the voltage, {self.voltage:g}", "Check both.")

    @property
    def depth(self) -> float:
        """Share of the battery's charge that may be used."""
        return self.depth_of_discharge or DEPTH_OF_DISCHARGE[self.chemistry]

    @property
    def empty_voltage(self) -> u.Quantity[u.V]:
        """Voltage without load at the end of the night in the worst case: the battery used down to its depth."""
        if self.lowest_voltage is not None:
            return self.lowest_voltage
        return self.voltage * (float(np.interp(self.depth, *REST_SHARE[self.chemistry]))
                               if self.kind == "battery" else 1.0)

    @property
    def highest_voltage(self) -> u.Quantity[u.V]:
        """Voltage that can reach a device: that of a charger too, if one may run meanwhile."""
        if self.kind != "battery" or not self.charged_while_on:
            return self.voltage
        return max(self.voltage, float(np.interp(self.voltage.value, *CHARGING_V)) * u.V)

    @property
    def short_resistance(self) -> u.Quantity[u.ohm]:
        """Resistance in a short circuit: the internal one, or that of a strong battery of its size."""
        if self.internal_resistance.value > 0 or self.kind != "battery":
            return self.internal_resistance
        ampere_hours = 100.0 if self.capacity is None else self.capacity.value
        return SHORT_OHM_AH / ampere_hours * self.voltage.value / 12.8 * u.ohm


@dataclass(frozen=True, kw_only=True)
class Hub(Model):
    """A box that splits the 12 V; it draws a little itself."""

    name: str = plain("text", remedy="Name the hub.")
    power: u.Quantity[u.W] = quantity("W", default="0 W", at_least=0, at_most=100)


@dataclass(frozen=True, kw_only=True)
class Load(Model):
    """A device at the end of a cable."""

    name: str = plain("text", remedy="Name the load.")
    power: u.Quantity[u.W] = quantity("W", at_least=0, at_most=2000, meaning="while observing, cooler and heat apart",
                                      remedy="Give the power while observing, e.g. 8 W.")
    peak_power: u.Quantity[u.W] | None = quantity("W", default=None, at_least=0, at_most=5000,
                                                  meaning="slewing, cooling down, heater full on")
    inrush_current: u.Quantity[u.A] | None = quantity("A", default=None, at_least=0, at_most=1000,
                                                      meaning="for a moment when it is switched on")
    peak_duty: float = plain("number", default=0.0, at_least=0, at_most=1, meaning="share of the night at the peak",
                             remedy="Give the share of the night, e.g. 0.02 for slewing.")
    behaviour: str = plain("choice", default="constant power", choices=BEHAVIOURS,
                           remedy="Write constant power, constant current or resistive.")
    rated_voltage: u.Quantity[u.V] = quantity("V", default="12 V", more_than=0, at_most=60,
                                              meaning="at which the powers hold")
    minimum_voltage: u.Quantity[u.V] = quantity("V", default="11 V", more_than=0, at_most=60,
                                                remedy="Give the lowest voltage its maker allows.")
    maximum_voltage: u.Quantity[u.V] = quantity("V", default="15 V", more_than=0, at_most=60,
                                                remedy="Give the highest voltage its maker allows.")
    set_temperature: u.Quantity[u.deg_C] | None = quantity("deg_C", default=None, at_least=-100, at_most=30,
                                                           meaning="of a cooled sensor")
    cooling_range: u.Quantity[u.K] = quantity("K", default="35 K", more_than=0, at_most=100,
                                              meaning="most that the cooler reaches below the air")
    heated_aperture: u.Quantity[u.mm] | None = quantity("mm", default=None, more_than=0, at_most=2000,
                                                        meaning="diameter of the glass that a heater keeps clear")
    shield_length: u.Quantity[u.mm] = quantity("mm", default="0 mm", at_least=0, at_most=5000,
                                               meaning="of the dew shield or tube in front of that glass")
    converter: bool = plain("truth", default=False, meaning="a regulated converter stands before it")

    def faults(self) -> Iterator[InvalidInputError]:
        """Yield a peak below the power, and limits of the voltage that leave nothing between them."""
        if self.peak_power is not None and self.peak_power < self.power:
            yield InvalidInputError("peak_power", self.peak_power, f"must be at least the power, {self.power:g}",
                                    "Check both.")
        if self.maximum_voltage <= self.minimum_voltage:
            yield InvalidInputError("maximum_voltage", self.maximum_voltage,
                                    f"must be more than minimum_voltage, {self.minimum_voltage:g}", "Check both.")

    @property
    def greatest_power(self) -> u.Quantity[u.W]:
        """Power at the peak; the working power if no peak is given."""
        return self.power if self.peak_power is None else self.peak_power

    @property
    def accepts(self) -> tuple[u.Quantity[u.V], u.Quantity[u.V]]:
        """Lowest and highest voltage at the end of its cable: the converter's, if there is one."""
        return CONVERTER_TAKES if self.converter else (self.minimum_voltage, self.maximum_voltage)


@dataclass(frozen=True, kw_only=True)
class PowerTree(Model):
    """Supply, hubs, loads and the cables between them: every node is fed by exactly one cable."""

    supply: Supply = plain("other")
    hubs: tuple[Hub, ...] = plain("other", default=())
    loads: tuple[Load, ...] = plain("other", default=())
    cables: tuple[Cable, ...] = plain("other", default=())

    def faults(self) -> list[InvalidInputError]:
        """Return everything that keeps these from being a tree."""
        if not self.loads:
            return [InvalidInputError("load", "[]", "must hold at least one load", "Add a [[load]] table.")]
        return tree_faults(self.supply.name, [hub.name for hub in self.hubs], [load.name for load in self.loads],
                           [(cable.source, cable.feeds) for cable in self.cables])

    def path_to(self, name: str) -> tuple[int, ...]:
        """Return the indices of the cables between the supply and a node, from the supply on."""
        feeding = {cable.feeds: index for index, cable in enumerate(self.cables)}
        path: list[int] = []
        while name != self.supply.name:
            path.insert(0, feeding[name])
            name = self.cables[path[0]].source
        return tuple(path)


def working_power(load: Load, conditions: Conditions) -> u.Quantity[u.W]:
    """Return what a load draws on average while observing, peaks apart.

    `load`: a cooled sensor adds the cooler's share, a heater the power that keeps its glass clear of dew.
    Between ``power`` and ``greatest_power``.
    """
    span = load.greatest_power - load.power
    return load.power + span * max(cooler_duty(load, conditions), heater_duty(load, conditions))


def cooler_duty(load: Load, conditions: Conditions) -> float:
    """Return the share of its full power that a cooler needs: (difference/range)², at most 1.

    Common practice, no source: the heat to be pumped grows with the difference and the cooler's yield falls with it.
    """
    if load.set_temperature is None:
        return 0.0
    difference = conditions.temperature.value - load.set_temperature.value
    return min(1.0, (max(0.0, difference) / load.cooling_range.value) ** 2)


def heater_duty(load: Load, conditions: Conditions) -> float:
    """Return the share of its full power that a dew heater needs, at most 1; 0 if the load is no heater."""
    need, span = heat_needed(load, conditions).value, (load.greatest_power - load.power).value
    return 0.0 if need == 0 or span == 0 else min(1.0, need / span)


def heat_needed(load: Load, conditions: Conditions) -> u.Quantity[u.W]:
    """Return what a heater must draw to keep its glass clear; 0 if the load is none."""
    if load.heated_aperture is None:
        return 0 * u.W
    return heater_power(load.heated_aperture, temperature=conditions.temperature, humidity=conditions.humidity,
                        shield_length=load.shield_length).band_power


def cooler_reaches(load: Load, conditions: Conditions) -> u.Quantity[u.deg_C]:
    """Return the lowest temperature that a cooler reaches in the air of the night."""
    return (conditions.temperature.value - load.cooling_range.value) * u.deg_C


def state_power(load: Load, conditions: Conditions, state: TreeState) -> u.Quantity[u.W]:
    """Return what a load draws while ``working``, at its ``peak``, or on ``average`` over the night."""
    if state == "peak":
        return load.greatest_power
    working = working_power(load, conditions)
    if state == "working":
        return working
    return working + load.peak_duty * (load.greatest_power - working)


def tree_faults(supply: str, hubs: Sequence[str], loads: Sequence[str], cables: Sequence[tuple[str, str]]
                ) -> list[InvalidInputError]:
    """Return everything that keeps these from being a tree: names there twice, cables to nowhere, rings.

    A name that is not known is empty: then only those there twice are told.

    `hubs` and `loads`: names. `cables` (str, str): what each comes from, and what it feeds.
    """
    nodes = [supply, *hubs, *loads]
    sources, fed = nodes[:1 + len(hubs)], [feeds for _, feeds in cables]
    found = [InvalidInputError("name", name, "is there twice among supply, hubs and loads", "Give each its own.")
             for name in _once(nodes) if name and nodes.count(name) > 1]
    if not all(nodes) or not all(source and feeds for source, feeds in cables):
        return found
    found += [InvalidInputError("cable.source", source, "must be the supply or a hub", did_you_mean(source, sources))
              for source, _ in cables if source not in sources]
    found += [InvalidInputError("cable.feeds", feeds, "must be a hub or a load", did_you_mean(feeds, nodes[1:]))
              for feeds in fed if feeds not in nodes[1:]]
    found += [InvalidInputError("cable.feeds", name, f"must be fed by one cable, not {fed.count(name)}",
                                "Give every hub and load one [[cable]].")
              for name in _once(nodes[1:]) if nodes.count(name) == 1 and fed.count(name) != 1]
    ring = _on_a_ring(supply, {feeds: source for source, feeds in cables})
    return found + ([InvalidInputError("cable", ", ".join(ring), "lies on a ring that the supply does not feed",
                                       "Follow the cables from the supply outwards.")] if ring else [])


def _once(names: Sequence[str]) -> list[str]:
    return list(dict.fromkeys(names))


def _on_a_ring(supply: str, above: dict[str, str]) -> list[str]:
    """Return the nodes from which the way up comes back to themselves."""
    found = []
    for start in above:
        name, steps = above[start], 0
        while name in above and name not in (start, supply) and steps < len(above):
            name, steps = above[name], steps + 1
        if name == start:
            found.append(start)
    return found
