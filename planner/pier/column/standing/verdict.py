"""The verdict on a pier: what would tip, sink, buckle, crack or shake, and what to do about it."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Annotated

from planner.pier.column.footing import Footing
from planner.pier.column.model import Column, TopLoads
from planner.pier.column.standing.inspection import Check, inspect
from planner.pier.column.standing.mending import ROD_ROOTS, Pier, mended, objections_of
from planner.pier.objection import Objection, State, worst

NO_MEND = "No usual size bears this: make it shorter, carry less, or ask a structural engineer."
# What each cure may change beside a group of its own name, as groups of one sentence, and the values of each group.
_GROUPS = {"pad": ("kind", "pad"), "wider": ("pad",), "depth": ("pad",), "wall": ("column",), "own pad": ("kind",),
           "anchor depth": ("rods", "kind", "pad"), "fit": ("rods", "kind", "pad"), "slab reach": ("slab", "kind"),
           "bolts": ("rods", "plate", "slab", "kind"), "frost depth": ("frost", "pad"),
           "stiffness": ("kind", "column", "plate", "rods", "pad", "feet")}
_COLUMN = {"column": ("width", "wall"), "concrete": ("concrete_strength",)}
_FOOTING = {"kind": ("kind",), "pad": ("width", "length", "depth"), "frost": ("frost_depth",), "slab": ("slab_reach",),
            "plate": ("plate_thickness",), "rods": ("rods", "rod_diameter", "rod_circle", "anchor_depth"),
            "feet": ("foot_diameter",), "stakes": ("staked",)}
_KINDS = {"suspended floor": "Take the column through the floor to a pad of its own.",
          "slab": "Give it a pad of its own, apart from the slab.", "tripod": "Set it on a pad."}


@dataclass(frozen=True, kw_only=True)
class Standing:
    """Whether the pier stands, and stands still."""

    verdict: State
    objections: tuple[Objection, ...]  # unsafe ones first
    checks: Annotated[tuple[Check, ...], "all that was looked at"]
    suggestions: Annotated[tuple[str, ...], "made together, they leave no objection"]
    mended: Pier | None  # with all of them made; None if no usual size does it


def judge_standing(column: Column, footing: Footing, loads: TopLoads) -> Standing:
    """Return the verdict on a pier with everything that speaks against it and what mends it.

    ``unsafe`` if anything may fall, sink, break or come out; ``check`` if it only shakes, or if something
    that decides is not given; ``good`` if nothing at all speaks against it.
    """
    checks = inspect(column, footing, loads)
    against = objections_of(checks)
    pier = column, footing
    mend = mended(column, footing, loads) if against else pier
    lines = {} if mend is None else _changes(pier, mend)
    return Standing(
        verdict=worst(check.grade for check in against), checks=checks, mended=mend, suggestions=tuple(lines.values()),
        objections=tuple(Objection(part=check.part, finding=check.finding, remedy=_remedy(
            check, against, pier, mend, loads, lines)) for check in against))


def _remedy(check: Check, against: tuple[Check, ...], before: Pier, after: Pier | None, loads: TopLoads,
            lines: dict[str, str]) -> str:
    """Return the fewest suggestions that by themselves end a check's objection and bring no new one, its own first."""
    others = {one.name for one in against} - {check.name}
    own = [group for group in _GROUPS.get(check.cure, (check.cure,)) if group in lines]
    order = own + [group for group in lines if group not in own]
    tries = [[group] for group in own] + [order[:count] for count in range(2, len(order))]
    for groups in tries:
        if after is not None and all(one.share <= 1 or one.name in others
                                     for one in inspect(*only(before, after, groups), loads)):
            return " ".join(lines[group] for group in groups)
    return " ".join(lines.values()) or NO_MEND


def only(before: Pier, after: Pier, groups: list[str]) -> Pier:
    """Return the pier with nothing mended but some groups of values."""
    column, footing = ({key: getattr(new, key) for group in groups for key in fields.get(group, ())}
                       for new, fields in zip(after, (_COLUMN, _FOOTING), strict=True))
    return replace(before[0], **column), replace(before[1], **footing)


def _changes(before: Pier, after: Pier) -> dict[str, str]:
    """Return one sentence per group of values that differ."""
    old, (column, new) = before[1], after
    wall = "" if column.wall is None else f" with a wall of {column.wall.value:g} mm"
    metal = {"concrete": "a concrete column", "aluminium": "an aluminium tube"}.get(column.material, "a steel tube")
    words: dict[str, Callable[[], str]] = {
        "kind": lambda: _KINDS.get(old.kind, ""),
        "pad": lambda: _pad_words(new) if new.kind == "pad" else "",
        "frost": lambda: (f"Ask your building authority how deep the ground freezes ({new.frost_depth:g} is taken "
                          "until you know)." if new.kind == "pad" else ""),
        "concrete": lambda: "Pour C25/30 or stronger.",
        "slab": lambda: f"See that the slab reaches {new.slab_reach:.1f} to every side." if new.kind == "slab" else "",
        "column": lambda: f"Take {metal} of {column.width.value:g} mm{wall}.",
        "plate": lambda: f"Take a foot plate of {new.plate_thickness:g} steel.",
        "rods": lambda: _rod_words(new) if new.rods else "",
        "feet": lambda: (f"Put a board of at least {new.foot_diameter.value:g} mm under each foot."
                         if new.kind == "tripod" else ""),
        "stakes": lambda: ("Stake or tie the feet down, and keep people from leaning on it."
                           if new.kind == "tripod" else "")}
    differ = [group for group in words if only(before, after, [group]) != before]
    if "kind" in differ and "pad" not in differ:
        differ.insert(1, "pad")
    return {group: text for group in differ if (text := words[group]())}


def _pad_words(footing: Footing) -> str:
    deep = "" if footing.depth is None else f" and {footing.depth.value:.1f} m deep"
    return f"Make the pad at least {footing.width.value:.1f} m × {footing.length.value:.1f} m{deep}."


def _rod_words(footing: Footing) -> str:
    name = next((name for name, root in ROD_ROOTS.items() if abs(root - footing.rod_diameter.value) < 0.05), None)
    size = name or f"{footing.rod_diameter.value:g} mm at the root"
    depth = "" if footing.anchor_depth is None else f", {footing.anchor_depth.value:g} mm deep in the concrete"
    if footing.anchor == "cast-in":
        depth += ", each with a nut and a washer at its lower end"
    return f"Hold it with {footing.rods} rods {size} on a circle of {footing.rod_circle.value:g} mm{depth}."
