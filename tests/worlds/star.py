# ruff: noqa: E501
"""The image of a star that moves while it is exposed, on a small grid, and its adaptive moments.

The air is Kolmogorov's long exposure, transfer exp(-3.44 (lambda f / r0)^(5/3)), FWHM 0.976 lambda / r0 (Fried 1966, from
memory). The track's transform is its characteristic function; pixel, optics and air multiply it. Moments are weighted
with the Gaussian that fits best (Bernstein & Jarvis 2002, from memory).
"""

import numpy as np

CELLS = 24
STEP = 0.35  # of the FWHM of air and pixel


def still_transfer(fwhm: np.ndarray, blur: float, pixel: float, step: np.ndarray, cutoff: float) -> np.ndarray:
    """Return the transfer of air (n,), a Gaussian blur of that FWHM, a square pixel and a round aperture: (n, CELLS, CELLS // 2 + 1).

    The aperture passes nothing beyond the cutoff, its diameter over the wavelength [1 / arcsec].
    """
    vertical = np.fft.fftfreq(CELLS)[None, :, None] / step[:, None, None]
    across = np.fft.rfftfreq(CELLS)[None, None, :] / step[:, None, None]
    radial = np.hypot(vertical, across)
    air = np.exp(-3.44 * (radial * fwhm[:, None, None] / 0.976)**(5 / 3))
    optics = np.exp(-2 * (np.pi * radial * blur / 2.3548)**2)
    part = np.minimum(radial / cutoff, 1)
    optics *= 2 / np.pi * (np.arccos(part) - part * np.sqrt(1 - part**2))
    return air * optics * np.sinc(vertical * pixel) * np.sinc(across * pixel)


def gaussian_transfer(covariance: np.ndarray, step: np.ndarray) -> np.ndarray:
    """Return the transfer of a Gaussian of covariance (n, 2, 2) [arcsec2]; the first axis runs along the rows."""
    vertical = np.fft.fftfreq(CELLS)[None, :, None] / step[:, None, None]
    across = np.fft.rfftfreq(CELLS)[None, None, :] / step[:, None, None]
    xx, xy, yy = (covariance[:, i, j][:, None, None] for i, j in ((0, 0), (0, 1), (1, 1)))
    return np.exp(-2 * np.pi**2 * (xx * vertical**2 + 2 * xy * vertical * across + yy * across**2))


def render(track: np.ndarray, transfer: np.ndarray, step: np.ndarray) -> np.ndarray:
    """Return star images of unit light from tracks (n, t, 2) and everything that is still, as a transfer."""
    place = ((track - track.mean(axis=1, keepdims=True)) / step[:, None, None] + CELLS / 2).astype(np.float32)
    frequency = np.fft.fftfreq(CELLS).astype(np.float32), np.fft.rfftfreq(CELLS).astype(np.float32)
    along, across = (np.exp(-2j * np.float32(np.pi) * place[..., i, None] * frequency[i]) for i in (0, 1))
    moved = along.swapaxes(1, 2) @ across / track.shape[1]
    return np.fft.irfft2(moved * transfer, s=(CELLS, CELLS))


def adaptive_moments(image: np.ndarray, step: np.ndarray, rounds: int = 12) -> np.ndarray:
    """Return the adaptive second moments (n, 2, 2) [arcsec2] of images centred on their grid."""
    place = np.arange(CELLS) - CELLS / 2
    squares = np.broadcast_arrays(place[:, None]**2, np.outer(place, place), place[None, :]**2)
    basis = np.stack([np.ones((CELLS, CELLS)), *squares])
    basis = basis.reshape(4, -1)
    flat = image.reshape(len(image), -1)
    cover = np.full((len(image), 3), [1.6, 0.0, 1.6])
    for _ in range(rounds):
        determinant = cover[:, 0] * cover[:, 2] - cover[:, 1]**2
        inverse = np.stack([cover[:, 2], -2 * cover[:, 1], cover[:, 0]], axis=1) / determinant[:, None]
        total = (flat * np.exp(-0.5 * inverse @ basis[1:])) @ basis.T
        cover = 2 * total[:, 1:] / total[:, :1]
        cover[:, [0, 2]] = np.clip(cover[:, [0, 2]], 0.3, 60)
        bound = 0.98 * np.sqrt(cover[:, 0] * cover[:, 2])
        cover[:, 1] = np.clip(cover[:, 1], -bound, bound)
    return cover[:, [[0, 1], [1, 2]]] * (step**2)[:, None, None]


def axis_ratio_and_width(moments: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return minor over major axis, and the geometric mean width (sigma) [arcsec]."""
    values = np.linalg.eigvalsh(moments)
    return np.sqrt(values[:, 0] / values[:, 1]), (values[:, 0] * values[:, 1])**0.25


def noise_equivalent_area(image: np.ndarray, step: np.ndarray) -> np.ndarray:
    """Return 1 / integral of the squared image [arcsec2] (King 1983, from memory)."""
    return step**2 / (image**2).sum(axis=(1, 2)) * image.sum(axis=(1, 2))**2


def contrast(image: np.ndarray, step: np.ndarray, period: float) -> np.ndarray:
    """Return the contrast (n,) that images leave of a sinusoidal pattern of a period [arcsec], mean of both axes."""
    wave = np.exp(-2j * np.pi * (np.arange(CELLS) - CELLS / 2)[None, :] * step[:, None] / period)
    left = [np.abs((image.sum(axis=axis) * wave).sum(axis=1)) for axis in (1, 2)]
    return np.mean(left, axis=0) / image.sum(axis=(1, 2))
