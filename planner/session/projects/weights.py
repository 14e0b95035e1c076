"""How much the needs of one target weigh beside each other."""

from collections.abc import Sequence

import numpy as np

from planner.session.projects.default_request import narrow
from planner.session.projects.request import Need


def need_weights(needs: Sequence[tuple[int, Need]], hours: np.ndarray) -> np.ndarray:
    """Return the weights (needs,): 1 of a line; broad bands, one picture, by the hours wanted, 1 on average.

    `needs` come with the number of their target; `hours` are those wanted of each.
    """
    weight = np.ones(len(hours))
    for row in {owner for owner, _ in needs}:
        broad = [number for number, (owner, need) in enumerate(needs) if owner == row and not narrow(need.band)]
        if broad and hours[broad].sum() > 0:
            weight[broad] = hours[broad] / hours[broad].mean()
    return weight
