r"""What a star's profile is made of on its ellipse: a Gaussian, its wings, and small smooth corrections.

.. math:: P(u, v) = (1 - a)\,G + a\,M + e^{-r^2/2} \sum_m \Re\left[(u + iv)^m \sum_k c_{mk} T_k(r^2)\right]

G is a Gaussian with sigma 1 and M the function of Moffat (1969, A&A 3, 455) with exponent 2.5 and the same width at
half maximum; T are Chebyshev polynomials, m = 0, 2 and 4. Scale and ellipticity are those of the ellipse. Plain floats.
"""

import numpy as np

RADIUS = 3.2  # of the corrections and the pixels used, in sigmas
WING_EXPONENT = 2.5
WING_SQUARE = 2 * np.log(2) / (2 ** (1 / WING_EXPONENT) - 1)  # squared core radius of M
# m and the Chebyshev orders that go with it: what only scales or stretches the ellipse is left out.
CORRECTIONS = ((0, (2, 3, 4, 5, 6)), (2, (1, 2)), (4, (0, 1)))
# Usual wings, and what is known of each number beforehand: a and the corrections, in units of the central light.
USUAL_WINGS, WINGS_SPREAD, CORRECTION_SPREAD = 0.4, 0.6, 0.1
SLOPE_STEP = 1e-3

Nodes = list[tuple[np.ndarray, np.ndarray, float]]  # places in a pixel against its centre, on the ellipse; weights


def columns(u: np.ndarray, v: np.ndarray) -> np.ndarray:
    """Return G, M - G and the corrections at any places: (..., k)."""
    square = u**2 + v**2
    light = np.exp(-square / 2)
    held = np.minimum(square / RADIUS**2, 1)
    out = np.empty((*square.shape, NUMBERS))
    out[..., 0] = light
    out[..., 1] = (1 + square / WING_SQUARE) ** -WING_EXPONENT - light
    powers = [np.ones_like(held), 2 * held - 1]
    for _ in range(5):
        powers.append(2 * powers[1] * powers[-1] - powers[-2])
    w, place = (u + 1j * v) / 2, 2
    for order, terms in CORRECTIONS:
        turned = w**order * light if order else light
        for term in terms:
            for part in ((turned,) if not order else (turned.real, turned.imag)):
                out[..., place] = part * powers[term]
                place += 1
    return out


NUMBERS = 2 + sum(len(terms) * (2 if order else 1) for order, terms in CORRECTIONS)
USUAL = np.concatenate([[1.0, USUAL_WINGS], np.zeros(NUMBERS - 2)])


def recorded(u: np.ndarray, v: np.ndarray, nodes: Nodes) -> np.ndarray:
    """Return `columns` averaged over the pixel around each place."""
    return np.sum([weight * columns(u + du, v + dv) for du, dv, weight in nodes], axis=0)


def profile(u: np.ndarray, v: np.ndarray, numbers: np.ndarray) -> np.ndarray:
    """Return P at any places (...): `columns` @ `numbers`, without the table."""
    square = u**2 + v**2
    light = np.exp(-square / 2)
    held = np.minimum(square / RADIUS**2, 1)
    powers = [np.ones_like(held), 2 * held - 1]
    for _ in range(5):
        powers.append(2 * powers[1] * powers[-1] - powers[-2])
    twice = (u**2 - v**2) / 4, u * v / 2
    turned = {0: (1.0,), 2: twice, 4: (twice[0] ** 2 - twice[1] ** 2, 2 * twice[0] * twice[1])}
    corrections: np.ndarray | float = 0.0
    place = 2
    for order, terms in CORRECTIONS:
        parts = turned[order]
        for own, part in enumerate(parts):
            values = numbers[place + own::len(parts)]  # of each term its parts stand together
            radial = sum(value * powers[term] for value, term in zip(values, terms, strict=False))
            corrections = corrections + part * radial
        place += len(parts) * len(terms)
    return numbers[1] * (1 + square / WING_SQUARE) ** -WING_EXPONENT + light * (numbers[0] - numbers[1] + corrections)


def with_slopes(u: np.ndarray, v: np.ndarray, nodes: Nodes, numbers: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return `recorded` (..., k), and how P changes (..., 5) along u and v and with the ellipse's E11, E22 and E12."""
    found, slopes = np.zeros(1), np.zeros(1)
    for du, dv, weight in nodes:
        x, y = u + du, v + dv
        here = columns(x, y)
        light = here @ numbers
        along = (profile(x + SLOPE_STEP, y, numbers) - light) / SLOPE_STEP
        across = (profile(x, y + SLOPE_STEP, numbers) - light) / SLOPE_STEP
        found = found + weight * here
        slopes = slopes + weight * np.stack([along, across, -x * along / 2, -y * across / 2,
                                             -(y * along + x * across) / 2], axis=-1)
    return found, slopes


def prior_of_numbers() -> np.ndarray:
    """Return the inverse squared spread of E11, E22, E12 (not known) and of all numbers but G's, before any star."""
    spread = np.concatenate([[WINGS_SPREAD], np.full(NUMBERS - 2, CORRECTION_SPREAD)])
    return np.concatenate([np.zeros(3), spread**-2])
