"""The voltage at every load of the 12 V tree, each load drawing what it draws at the voltage that reaches it."""

from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.pier.wiring.cable import loop_resistance_kernel
from planner.pier.wiring.power import CONVERTER_YIELD, Conditions, PowerTree, TreeState, state_power

# Newton's method on this system falls monotonically and doubles its digits at each step; more is a collapse.
_MOST_STEPS = 60
_SETTLED_V = 1e-12


@dataclass(frozen=True, kw_only=True)
class TreeSolution:
    """Voltages and currents of one state of the tree, in the order of its loads, hubs and cables."""

    state: TreeState
    supply_voltage: u.Quantity[u.V]  # without load
    load_voltage: u.Quantity[u.V]  # (loads,), NaN if the tree collapses
    load_current: u.Quantity[u.A]  # (loads,)
    hub_voltage: u.Quantity[u.V]  # (hubs,)
    cable_current: u.Quantity[u.A]  # (cables,)
    cable_drop: u.Quantity[u.V]  # (cables,) there and back, connectors included
    supply_current: u.Quantity[u.A]
    collapsed: bool  # no voltage exists at which the cables could bring that power

    @property
    def supply_power(self) -> u.Quantity[u.W]:
        """What the supply gives, cables and its own resistance included."""
        return (self.supply_voltage * self.supply_current).to(u.W)


def solve_tree(tree: PowerTree, conditions: Conditions, *, state: TreeState = "working",
               supply_voltage: u.Quantity[u.V] | None = None) -> TreeSolution:
    r"""Return the voltage at each load, solved together with the currents.

    .. math:: V_i = V_0 - \sum_j R_{ij}\,I_j(V_j)

    with :math:`R_{ij}` the resistance of the path that loads i and j share, the supply's own resistance included.

    Parameters
    ----------
    tree : PowerTree
        Supply, hubs, loads and cables.
    conditions : Conditions
        Temperature sets the copper's resistance (the conductor is taken at air temperature), a cooler's and a
        heater's power.
    state : str
        ``working``, ``peak`` (everything at its peak at once) or ``average`` over the night.
    supply_voltage : Quantity [V], scalar, or None
        Without load; the supply's own if None.

    Returns
    -------
    TreeSolution
        The higher of the two voltages at which a load of constant power can sit, the one that is found when
        switched on. If there is none, ``collapsed`` and NaN: an answer, not an error.
    """
    source = tree.supply.voltage if supply_voltage is None else supply_voltage.to(u.V)
    resistances = np.array([loop_resistance_kernel(cable, conditions.temperature.value) for cable in tree.cables])
    below = _below(tree)
    shared = below.T @ (resistances[:, None] * below) + tree.supply.internal_resistance.value
    draw = _draw(tree, conditions, state)
    voltage = _solve(shared, source.value, *draw)
    return _solution(tree, state, source, resistances, below, voltage, draw)


def _below(tree: PowerTree) -> np.ndarray:
    """Return which node draws through which cable, 1 or 0, shape (cables, loads + hubs)."""
    nodes = [*(load.name for load in tree.loads), *(hub.name for hub in tree.hubs)]
    below = np.zeros((len(tree.cables), len(nodes)))
    for column, name in enumerate(nodes):
        below[list(tree.path_to(name)), column] = 1
    return below


def _draw(tree: PowerTree, conditions: Conditions, state: TreeState) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return conductance [S], constant current [A] and constant power [W] of each node, shape (loads + hubs,)."""
    count = len(tree.loads) + len(tree.hubs)
    conductance, current, power = np.zeros(count), np.zeros(count), np.zeros(count)
    for index, load in enumerate(tree.loads):
        watt, rated = state_power(load, conditions, state).value, load.rated_voltage.value
        if load.converter:
            power[index] = watt / CONVERTER_YIELD
        elif load.behaviour == "resistive":
            conductance[index] = watt / rated**2
        elif load.behaviour == "constant current":
            current[index] = watt / rated
        else:
            power[index] = watt
    power[len(tree.loads):] = [hub.power.value for hub in tree.hubs]
    return conductance, current, power


def _solve(shared: np.ndarray, source: float, conductance: np.ndarray, current: np.ndarray, power: np.ndarray
           ) -> np.ndarray | None:
    """Return the voltage of each node [V], or None if no voltage carries that power.

    ``(1 + R G) V = V0 - R (I + P/V)``: the resistive part goes to the left, where it only lowers the effective
    resistance. What is left is convex in V with an inverse-positive slope, so Newton's method from the no-load
    voltage falls monotonically to the highest solution if there is one (Ortega and Rheinboldt, Iterative
    Solution of Nonlinear Equations, theorem 13.3.4), and anything else is a collapse.
    """
    size = len(power)
    with_heat = np.linalg.inv(np.eye(size) + shared * conductance)
    resistance = with_heat @ shared
    start = with_heat @ np.full(size, source) - resistance @ current
    voltage = start
    for _ in range(_MOST_STEPS):
        if np.any(voltage <= 0):
            return None
        excess = voltage - start + resistance @ (power / voltage)
        slope = np.eye(size) - resistance * (power / voltage**2)
        try:
            step = np.linalg.solve(slope, excess)
        except np.linalg.LinAlgError:
            return None
        voltage = voltage - step
        if np.max(np.abs(step)) < _SETTLED_V:
            upper = np.all(np.linalg.inv(slope) >= -1e-9)  # the slope of the highest solution is inverse-positive
            return voltage if np.all(voltage > 0) and upper else None
    return None


def _solution(tree: PowerTree, state: TreeState, source: u.Quantity, resistances: np.ndarray, below: np.ndarray,
              voltage: np.ndarray | None, draw: tuple[np.ndarray, np.ndarray, np.ndarray]) -> TreeSolution:
    loads = len(tree.loads)
    if voltage is None:
        currents = np.full(below.shape[1], np.nan)
        voltage = currents
    else:
        conductance, current, power = draw
        currents = conductance * voltage + current + power / voltage
    through = below @ currents
    return TreeSolution(
        state=state, supply_voltage=source, load_voltage=voltage[:loads] * u.V, load_current=currents[:loads] * u.A,
        hub_voltage=voltage[loads:] * u.V, cable_current=through * u.A, cable_drop=through * resistances * u.V,
        supply_current=currents.sum() * u.A, collapsed=bool(np.any(np.isnan(voltage))))
