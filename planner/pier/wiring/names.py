"""Whether supply, hubs, loads and cables make a tree: every node fed by one cable, none on a ring."""

from collections.abc import Sequence

from planner.checks import did_you_mean
from planner.errors import InvalidInputError


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
