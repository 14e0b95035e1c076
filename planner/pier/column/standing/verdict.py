"""The verdict on a pier: what would tip, sink, buckle, crack or shake, and what to do about it."""

from dataclasses import dataclass

from planner.pier.column.footing import Footing
from planner.pier.column.model import Column, TopLoads
from planner.pier.column.standing.inspection import Check, inspect
from planner.pier.column.standing.mending import ROD_ROOTS, mended, objections_of
from planner.pier.objection import CHECK, GOOD, UNSAFE, Objection, State

NO_MEND = "No usual size bears this: make it shorter, or carry less."
# What each cure may change, as groups of one sentence.
_GROUPS = {"pad": ("kind", "pad"), "depth": ("pad",), "column": ("column",), "wall": ("column",), "plate": ("plate",),
           "rods": ("rods",), "anchor depth": ("rods", "kind", "pad"), "fit": ("rods", "kind", "pad"),
           "bolts": ("rods", "plate", "slab", "kind"),
           "slab reach": ("slab", "kind"), "own pad": ("kind",), "feet": ("feet",), "stakes": ("stakes",),
           "frost depth": ("frost", "pad"), "concrete": ("concrete",),
           "stiffness": ("kind", "column", "plate", "rods", "pad", "feet")}


@dataclass(frozen=True, kw_only=True)
class Standing:
    """Whether the pier stands, and stands still."""

    verdict: State
    objections: tuple[Objection, ...]  # unsafe ones first
    checks: tuple[Check, ...]
    suggestions: tuple[str, ...]  # made together, they leave no objection
    mended: tuple[Column, Footing] | None  # with all of them made; None if no usual size does it


def judge_standing(column: Column, footing: Footing, loads: TopLoads) -> Standing:
    """Return the verdict on a pier with everything that speaks against it and what mends it.

    Parameters
    ----------
    column, footing, loads : Column, Footing, TopLoads

    Returns
    -------
    Standing
        ``unsafe`` if anything may fall, sink, break or come out; ``check`` if it only shakes, or if something that
        decides is not given; ``good`` if nothing at all speaks against it.
    """
    checks = inspect(column, footing, loads)
    against = objections_of(checks)
    mend = mended(column, footing, loads) if against else (column, footing)
    lines = {} if mend is None else _changes((column, footing), mend)
    verdict: State = UNSAFE if any(check.grade == UNSAFE for check in against) else CHECK if against else GOOD
    return Standing(
        verdict=verdict, checks=checks, mended=mend, suggestions=tuple(lines.values()),
        objections=tuple(Objection(part=check.part, finding=check.finding, remedy=_remedy(check, lines))
                         for check in against))


def _remedy(check: Check, lines: dict[str, str]) -> str:
    chosen = [lines[group] for group in _GROUPS[check.cure] if group in lines]
    return " ".join(chosen or lines.values()) or NO_MEND


def _changes(before: tuple[Column, Footing], after: tuple[Column, Footing]) -> dict[str, str]:
    """Return one sentence per group of values that differ."""
    (old_column, old), (column, new) = before, after
    wall = "" if column.wall is None else f" with a wall of {column.wall.value:g} mm"
    kind = {"suspended floor": "Take the column through the floor to a pad of its own.",
            "slab": "Give it a pad of its own, apart from the slab.",
            "tripod": "Set it on a pad."}.get(old.kind, "")
    metal = "concrete column" if column.material == "concrete" else f"{column.material} tube"
    words = {
        "kind": kind if new.kind != old.kind else "",
        "pad": _if_changed(old, new, ("kind", "width", "length", "depth"), new.kind == "pad", lambda: _pad_words(new)),
        "frost": _if_changed(old, new, ("frost_depth",), new.kind == "pad", lambda: (
            f"Ask your building authority how deep the ground freezes ({new.frost_depth:g} is taken until you know).")),
        "concrete": _if_changed(old_column, column, ("concrete_strength",), True, lambda: "Pour C25/30 or stronger."),
        "slab": _if_changed(old, new, ("slab_reach",), new.kind == "slab", lambda: (
            f"See that the slab reaches {new.slab_reach:.1f} to every side.")),
        "column": _if_changed(old_column, column, ("width", "wall"), True, lambda: (
            f"Take a {metal} of {column.width.value:g} mm{wall}.")),
        "plate": _if_changed(old, new, ("plate_thickness",), True, lambda: (
            f"Take a foot plate of {new.plate_thickness:g} steel.")),
        "rods": _if_changed(old, new, ("rods", "rod_diameter", "rod_circle", "anchor_depth"), bool(new.rods), lambda: (
            _rod_words(new))),
        "feet": _if_changed(old, new, ("foot_diameter",), new.kind == "tripod", lambda: (
            f"Put a board of at least {new.foot_diameter.value:g} mm under each foot.")),
        "stakes": _if_changed(old, new, ("staked",), new.kind == "tripod", lambda: (
            "Stake or tie the feet down, and keep people from leaning on it.")),
    }
    return {group: text for group, text in words.items() if text}


def _pad_words(footing: Footing) -> str:
    deep = "" if footing.depth is None else f" and {footing.depth.value:.1f} m deep"
    return f"Make the pad at least {footing.width.value:.1f} m × {footing.length.value:.1f} m{deep}."


def _rod_words(footing: Footing) -> str:
    name = next((name for name, root in ROD_ROOTS.items() if abs(root - footing.rod_diameter.value) < 0.05), None)
    size = name or f"{footing.rod_diameter.value:g} mm at the root"
    depth = "" if footing.anchor_depth is None else f", {footing.anchor_depth.value:g} mm deep in the concrete"
    return f"Hold it with {footing.rods} rods {size} on a circle of {footing.rod_circle.value:g} mm{depth}."


def _if_changed(old, new, keys, applies, words):
    """Return the sentence if it applies and one of the keys differs."""
    return words() if applies and any(getattr(old, key) != getattr(new, key) for key in keys) else ""
