"""One pier: what rides on the mount, the 12 V tree, the column and its footing, and the night they are asked about."""

from dataclasses import dataclass
from typing import Any

from astropy import units as u

from planner.checks import Model, plain, quantity
from planner.errors import InvalidInputError
from planner.pier.balance.model import Assembly
from planner.pier.column.footing import Footing
from planner.pier.column.model import Column, TopLoads
from planner.pier.wiring.power import Conditions, PowerTree


@dataclass(frozen=True, kw_only=True)
class PierSetup(Model):
    """The tables of one pier file; a part that the file does not describe is None."""

    name: str = plain("text", default="pier", remedy="Name the pier.")
    latitude: u.Quantity[u.deg] = quantity("deg", default="45 deg", at_least=-90, at_most=90, meaning="north positive",
                                           remedy="Give the geodetic latitude, south negative.")
    conditions: Conditions = plain("other", default=Conditions())
    assembly: Assembly | None = plain("other", default=None)
    tree: PowerTree | None = plain("other", default=None)
    column: Column | None = plain("other", default=None)
    footing: Footing = plain("other", default=Footing())
    loads: TopLoads = plain("other", default=TopLoads())
    is_demo: bool = plain("truth", default=False)

    def require(self, part: str) -> Any:
        """Return the assembly, tree or column, or raise `InvalidInputError` if the file does not describe it."""
        tables = {"assembly": "[[tube]] and [mount]", "tree": "[supply], [[load]] and [[cable]]", "column": "[column]"}
        described = getattr(self, part)
        if described is None:
            raise InvalidInputError("pier file", self.name, f"does not describe the {part}", f"Add {tables[part]}.")
        return described
