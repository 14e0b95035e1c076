"""Everything the observer owns, found by name."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from planner.checks import did_you_mean
from planner.errors import InvalidInputError
from planner.rig.camera import Camera
from planner.rig.filter import Filter
from planner.rig.guider import Guider
from planner.rig.mount import Mount
from planner.rig.reducer import Reducer
from planner.rig.rig import Rig
from planner.rig.site import Site
from planner.rig.telescope import Telescope

Named = TypeVar("Named", Site, Telescope, Reducer, Camera, Filter, Mount, Guider, Rig)


@dataclass(frozen=True, kw_only=True)
class Equipment:
    """The tables of one equipment file."""

    sites: tuple[Site, ...] = ()
    telescopes: tuple[Telescope, ...] = ()
    reducers: tuple[Reducer, ...] = ()
    cameras: tuple[Camera, ...] = ()
    filters: tuple[Filter, ...] = ()
    mounts: tuple[Mount, ...] = ()
    guiders: tuple[Guider, ...] = ()
    rigs: tuple[Rig, ...] = ()
    is_demo: bool = False

    def rig(self, name: str | None = None) -> Rig:
        """Return the rig of that name with the pixels that it reads, or the first one if no name is given."""
        return find_by_name("rig", self.rigs, name).as_read()

    def site(self, name: str | None = None) -> Site:
        """Return the site of that name, or the first one if no name is given."""
        return find_by_name("site", self.sites, name)


def find_by_name(kind: str, items: tuple[Named, ...], name: str | None, *, besides: Sequence[str] = ()) -> Named:
    """Return the item whose name matches, capitals and outer blanks aside; the first if `name` is None.

    `besides` are words that whoever asks takes too: a refusal lists them.
    """
    if not items:
        raise InvalidInputError(kind, name, f"there is no [[{kind}]] in the equipment file", f"Add a [[{kind}]] table.")
    if name is None:
        return items[0]
    wanted = name.strip().lower()
    for item in items:
        if item.name.lower() == wanted:
            return item
    known = [*(item.name for item in items), *besides]
    raise InvalidInputError(kind, name, "is not in the equipment file", did_you_mean(name, known))
