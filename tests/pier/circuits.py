"""A 12 V tree judged by sweeps of its own and tables typed anew; nothing of the planner is imported."""

import numpy as np

# Tables typed anew: class 5 copper, ohm/km at 20 C (IEC 60228); cords, A (the least of the tables in
# tests/published/test_electrical.py); bundles (IEC 60364-5-52 B.52.17); air, C (BS 7671 table 4B1, from memory).
OHM = {0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98, 4.0: 4.95, 6.0: 3.30, 10.0: 1.91, 16.0: 1.21}
CORD = {0.5: 3, 0.75: 6, 1.0: 10, 1.5: 15, 2.5: 20, 4.0: 26, 6.0: 34, 10.0: 47, 16.0: 63}
BUNDLE = [None, 1.0, 0.80, 0.70, 0.65, 0.60, 0.57, 0.54, 0.52, 0.50]
AIR = ((30, 35, 40, 45, 50), (1.0, 0.91, 0.82, 0.71, 0.58))


def solved(tree, celsius, source):
    """Voltage of every node and current of every cable at the peak, by sweeps up and down the tree."""
    supply = tree.supply
    volts = dict.fromkeys([supply.name, *(x.name for x in tree.hubs), *(x.name for x in tree.loads)], source)
    feeding = {cable.feeds: cable for cable in tree.cables}
    for _ in range(400):
        drawn = {hub.name: hub.power.value / volts[hub.name] for hub in tree.hubs}
        for load in tree.loads:
            watt, own = (load.power if load.peak_power is None else load.peak_power).value, volts[load.name]
            if load.converter:
                drawn[load.name] = watt / 0.9 / own
            else:
                rated = load.rated_voltage.value
                drawn[load.name] = {"constant power": watt / own, "constant current": watt / rated,
                                    "resistive": watt * own / rated**2}[load.behaviour]
        flow = dict.fromkeys(feeding, 0.0)
        for name, ampere in drawn.items():
            while name != supply.name:
                flow[name] += ampere
                name = feeding[name].source
        volts[supply.name] = source - supply.internal_resistance.value * sum(drawn.values())
        for cable in sorted(tree.cables, key=lambda c: depth(tree, c.feeds)):
            volts[cable.feeds] = volts[cable.source] - flow[cable.feeds] * ohms(cable, celsius)
        if min(volts.values()) <= 1:
            return None
    return volts, flow, sum(drawn.values()), drawn


def depth(tree, name):
    feeding = {cable.feeds: cable.source for cable in tree.cables}
    steps = 0
    while name != tree.supply.name:
        name, steps = feeding[name], steps + 1
    return steps


def ohms(cable, celsius):
    return 2 * cable.length.value * OHM[cable.cross_section.value] / 1000 * (
        230 + celsius) / 250 + cable.connectors.value


def way(tree, name):
    feeding = {cable.feeds: cable for cable in tree.cables}
    found = []
    while name != tree.supply.name:
        found.insert(0, feeding[name])
        name = feeding[name].source
    return found


def dangers(tree, night):
    """Everything that is wrong with a tree, found without the adviser's code."""
    celsius, supply, found = night.temperature.value, tree.supply, []
    battery = supply.kind == "battery"
    lead = supply.chemistry == "lead-acid"
    used = supply.depth_of_discharge or (0.5 if lead else 0.8)
    rest = np.interp(used, (0, 0.5, 1), (12.7, 12.1, 11.49)) / 12.7 if lead else np.interp(
        used, (0, 0.8, 1), (13.4, 12.9, 12.0)) / 13.4
    low = supply.lowest_voltage.value if supply.lowest_voltage is not None else supply.voltage.value * (
        rest if battery else 1)
    high = max(supply.voltage.value, 14.4 if battery and supply.charged_while_on else 0)
    worst, full = solved(tree, celsius, low), solved(tree, celsius, high)
    if worst is None or full is None:
        return ["the voltage collapses"]
    for load in tree.loads:
        least, most = (9, 36) if load.converter else (load.minimum_voltage.value, load.maximum_voltage.value)
        if worst[0][load.name] < least - 1e-2:
            found.append(f"{load.name} lacks voltage")
        if high > most:
            found.append(f"{load.name} has too much voltage")
        found += wants(load, worst[0][load.name], night)
    rush = max([0, *((2 * a if load.inrush_current is None else load.inrush_current.value) - a
                     for load, a in ((load, worst[3][load.name]) for load in tree.loads))])
    if supply.maximum_current is None or max(worst[2], full[2]) + rush > supply.maximum_current.value * 1.001:
        found.append("the supply is too weak")
    for cable in tree.cables:
        found += burns(tree, cable, celsius, low, high, max(worst[1][cable.feeds], full[1][cable.feeds]))
    return found + (runs_dry(tree, night, celsius) if battery else [])


def wants(load, volts, night):
    found = []
    if load.set_temperature is not None and load.set_temperature.value < (
            night.temperature.value - load.cooling_range.value):
        found.append(f"{load.name} is not cold")
    if load.heated_aperture is not None:
        need = heat(load, night)
        gives = (load.power if load.peak_power is None else load.peak_power).value - load.power.value
        if load.behaviour == "resistive" and not load.converter:
            gives *= (volts / load.rated_voltage.value) ** 2
        if gives < need * 0.999:
            found.append(f"{load.name} does not keep the dew off")
    return found


def heat(load, night):
    """What a band draws to keep a glass 3 K above the dew point: Magnus, McAdams, Berdahl and Fromberg typed anew."""
    air = night.temperature.value
    gamma = np.log(night.humidity) + 17.62 * air / (243.12 + air)
    dew = 243.12 * gamma / (17.62 - gamma)
    half, shield = load.heated_aperture.value / 2000, load.shield_length.value / 1000
    seen = half**2 / (half**2 + shield**2)
    sky = (seen * (0.741 + 0.0062 * dew) + 1 - seen) * (air + 273.15) ** 4
    lost = 7.6 * (dew + 3 - air) + 0.9 * 5.670374e-8 * ((dew + 276.15) ** 4 - sky)
    return max(0.0, lost) * np.pi * half**2 / 0.3


def carries(cable, celsius):
    return CORD[cable.cross_section.value] * BUNDLE[cable.bundled] * float(np.interp(celsius, *AIR))


def burns(tree, cable, celsius, low, high, current):
    supply, found, bears = tree.supply, [], carries(cable, celsius) * 1.01
    limited = supply.kind != "battery" and supply.maximum_current is not None
    most = supply.maximum_current.value if limited else np.inf
    path = way(tree, cable.feeds)
    inside = supply.internal_resistance.value
    dead = min(most, low / max(inside + sum(ohms(one, celsius) for one in path), 1e-9))
    if current > bears:
        found.append(f"{cable.feeds}: the cable is too hot")
    safe = [one for one in path if one.fuse is not None and one.fuse.value <= bears and dead >= 1.99 * one.fuse.value]
    if not safe and not (limited and 1.5 * most <= bears):
        found.append(f"{cable.feeds}: nothing opens in a short circuit")
    if cable.fuse is not None:
        if inside == 0 and supply.kind == "battery":
            inside = 0.3 / (100 if supply.capacity is None else supply.capacity.value) * supply.voltage.value / 12.8
        near = min(most, high / max(inside + sum(ohms(one, celsius) for one in path[:-1]) + (
            cable.connectors.value / 2), 1e-9))
        if near > cable.fuse_breaking.value * 1.001 or high > cable.fuse_voltage.value:
            found.append(f"{cable.feeds}: the fuse cannot break it")
        if current > 0.801 * cable.fuse.value:
            found.append(f"{cable.feeds}: the fuse ages")
    return found


def runs_dry(tree, night, celsius):
    """Whether the battery lasts and bears the cold; the average power as the adviser's solve has it is not used."""
    supply = tree.supply
    own = celsius if supply.battery_temperature is None else supply.battery_temperature.value
    if supply.capacity is None:
        return ["the capacity is not known"]
    lead = supply.chemistry == "lead-acid"
    watt = sum(load.power.value for load in tree.loads) + sum(hub.power.value for hub in tree.hubs)
    ampere = watt / supply.voltage.value  # no less than this flows
    share = np.interp(own, (-30, -20, -10, 0, 10, 25, 40), (0.40, 0.55, 0.68, 0.80, 0.90, 1.00, 1.03) if lead else (
        0.40, 0.60, 0.75, 0.88, 0.95, 1.00, 1.00))
    rated = supply.capacity.value / supply.rated_time.value
    rate = min(1, (rated / ampere) ** (0.15 if lead else 0.03))
    used = supply.depth_of_discharge or (0.5 if lead else 0.8)
    left = 1 - ampere * night.duration.value / supply.capacity.value
    # Army TM 5-1185, table III, and a battery maker's densities by charge: -11 C empty, -25 C half full, -59 C full.
    if own < (np.interp(left, (0, 0.25, 0.5, 0.75, 1), (-11, -17, -25, -37, -59)) if lead else
              0 if supply.charged_while_on else -20):
        return ["the battery freezes"]
    hours = supply.capacity.value * share * rate * used / ampere
    return ["the battery runs dry"] if hours < night.duration.value * 0.999 else []
