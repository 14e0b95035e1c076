"""The adaptive moments of one star: a batch of one."""

import numpy as np

from planner.optics import AdaptiveMoments, adaptive_moments_batch


def adaptive_moments(image, *, centre=None, sigma=None):
    """Return the moments as scalars."""
    batch = adaptive_moments_batch(np.asarray(image)[None], centre=None if centre is None else np.array([centre]),
                                   sigma=sigma)
    return AdaptiveMoments(*(getattr(batch, name)[0] for name in AdaptiveMoments.__dataclass_fields__))
