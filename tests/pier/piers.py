"""Small piers that the tests build on."""

from astropy import units as u

from planner.pier import Assembly, Bar, Cable, Conditions, Counterweight, Hub, Load, PowerTree, Supply, TubePart

NIGHT = Conditions(temperature=20 * u.deg_C, humidity=0.5, duration=10 * u.h)


def assembly(*, weights=((5, 300),), parts=((8, 0, 150), (1, 0, 300)), bar=(0, 100, 500), thickness=0, **changes):
    """An assembly of parts (kg, along mm, height mm) and weights (kg, mm)."""
    tube = tuple(TubePart(name=f"part {n}", mass=kg * u.kg, along=along * u.mm, height=height * u.mm)
                 for n, (kg, along, height) in enumerate(parts))
    hung = tuple(Counterweight(name=f"weight {n}", mass=kg * u.kg, position=mm * u.mm, thickness=thickness * u.mm)
                 for n, (kg, mm) in enumerate(weights))
    return Assembly(parts=tube, counterweights=hung,
                    bar=Bar(mass=bar[0] * u.kg, start=bar[1] * u.mm, end=bar[2] * u.mm),
                    **{"saddle_distance": 200 * u.mm, **changes})


def tree(*, loads=(("mount", 10, 30),), length=3, area=1.5, behaviour="constant power", **supply):
    """A supply, a hub behind one cable, and loads (name, W, peak W) behind cables of their own."""
    cables = [Cable(source="supply", feeds="hub", length=length * u.m, cross_section=area * u.mm**2)]
    cables += [Cable(source="hub", feeds=name, length=1 * u.m, cross_section=0.75 * u.mm**2) for name, *_ in loads]
    return PowerTree(
        supply=Supply(**{"name": "supply", "voltage": 12.5 * u.V, **supply}), hubs=(Hub(name="hub", power=1 * u.W),),
        loads=tuple(Load(name=name, power=watt * u.W, peak_power=peak * u.W, behaviour=behaviour)
                    for name, watt, peak in loads),
        cables=tuple(cables))
