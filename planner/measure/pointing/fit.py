"""Pointing fit: the seven constant angles of a mount from where it said it pointed and where it did.

Robust least squares on rigid rotations (`design`), both sides of the pier at once. What the data cannot
separate is not separated: tied terms are fitted together, so that the model predicts as well as it can, but they are
named as a group with one figure for all; a term that adds nothing at all is held at zero. Every rms is per axis, on the
sky. `harmonics` adds what constant angles cannot say, if cross-validation agrees.

References
----------
P. T. Wallace, Proc. SPIE 4848, 125 (2002), doi:10.1117/12.460914: the geometrical terms.
P. J. Huber, Ann. Math. Statist. 35, 73 (1964), doi:10.1214/aoms/1177703732: the robust weight.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from astropy import units as u

from planner.checks import did_you_mean
from planner.constants import RAYLEIGH_MEDIAN
from planner.errors import InvalidInputError
from planner.measure.pointing.design import Sightings, held_out, least_known, misses, sightings, slopes
from planner.measure.pointing.harmonics import choose_harmonics, harmonic_columns, harmonic_terms, index_slopes
from planner.measure.pointing.outliers import without_shifted
from planner.measure.pointing.results import FittedTerm, PointingData, PointingFit, TiedTerms
from planner.measure.pointing.sides import side_doubts
from planner.measure.polar.small_circle import student_factor
from planner.measure.robust import huber_weight
from planner.tracking.mount_frame import angles_of, refracted, refraction_pair, sky_axes, zenith_of
from planner.tracking.pointing_model import POLE, TERM_NAMES, PointingTerms, PolarError, polar_error, term_meanings
from planner.tracking.polar_axis import STANDARD_TEMPERATURE, VISUAL

NO_AIR = 0 * u.hPa
HUBER = 1.345  # standard deviations; 95 % efficient on a normal distribution [Huber]
# Radial miss of an outlier, in standard deviations per axis: one good sighting in 25 000.
OUTLIER = 4.5
# A term whose error grows this many times because the others are unknown too is not measured.
LARGEST_INFLATION = 5.0
# One whose error grows this many times adds nothing.
HOPELESS_INFLATION = 100.0
TIED_SHARE = 0.4  # of the least-known combination's largest member
# Which term of a tied group stands for it: the first. An index is set on any mount; some angles nobody can adjust.
PRIORITY = ("hour_angle_zero", "declination_zero", "polar_azimuth", "polar_altitude", "axes_not_square",
            "tube_flexure", "collimation")
FEWEST_SIGHTINGS = 5
SMALLEST_SCALE = np.radians(1e-6 / 3600)
LARGE_STEP = np.radians(0.5)
ROUNDS = 40


def fit_pointing(
    data: PointingData, *, terms: Sequence[str] = TERM_NAMES, harmonics: bool = True, pressure: u.Quantity = NO_AIR,
    temperature: u.Quantity = STANDARD_TEMPERATURE,
) -> PointingFit:
    """Return the pointing model that fits the sightings.

    `data`: n sightings, at least five. `terms`: names to fit, any of the seven; the others are zero. `harmonics`:
    whether errors that repeat with the turn of an axis may join, if they predict held-out sightings better. `pressure`
    and `temperature`: of the air that bends true places; without pressure the places are taken as seen through the
    air.
    Outliers are left out of the fit and of every rms.
    Raises InvalidInputError if a name is unknown or there are too few sightings.
    """
    used = _indices(terms)
    fewest = max(FEWEST_SIGHTINGS, len(used) + 1)
    if data.hour_angle.size < fewest:
        raise InvalidInputError("sightings", data.hour_angle.size,
                                f"must be at least {fewest} for {len(used)} terms",
                                "Take more, on both sides of the pier and over the whole sky, or fit fewer terms.")
    seen = _seen(data, pressure, temperature)
    solved, fitted, groups = _solved(seen, used)
    held = tuple(name for name in terms if TERM_NAMES.index(name) not in fitted)
    fit = _result(data, seen, solved, (fitted, held, groups), harmonics)
    return replace(fit, doubts=side_doubts(seen.west, np.sin(data.hour_angle.to_value(u.rad)) <= 0,
                                           lambda west: _left(seen.on_sides(west), used)))


def _indices(terms: Sequence[str]) -> list[int]:
    for name in terms:
        if name not in TERM_NAMES:
            raise InvalidInputError("terms", name, "is not a term of the pointing model",
                                    did_you_mean(name, TERM_NAMES))
    if not terms:
        raise InvalidInputError("terms", "(none)", "must name at least one term",
                                f"There are: {', '.join(TERM_NAMES)}.")
    return [index for index, name in enumerate(TERM_NAMES) if name in terms]


def _seen(data: PointingData, pressure: u.Quantity, temperature: u.Quantity) -> Sightings:
    """Return the sightings with refraction applied to the sky."""
    phi = data.latitude.to_value(u.rad)
    sky = [angle.to_value(u.rad) for angle in (data.hour_angle, data.declination)]
    constants = refraction_pair(pressure, temperature, VISUAL)
    if constants != (0.0, 0.0):
        sky = list(angles_of(refracted(sky_axes(*sky)[..., 0], zenith_of(phi), constants)))
    mount = [angle.to_value(u.rad) for angle in (data.mount_hour_angle, data.mount_declination)]
    return sightings(phi, (sky[0], sky[1]), (mount[0], mount[1]), np.array(data.pier_side) == "west")


def _solved(seen: Sightings, used: list[int]
            ) -> tuple[tuple[np.ndarray, np.ndarray, np.ndarray], list[int], list[list[int]]]:
    """Return values, good sightings and slopes as `_robust` does, the terms worth fitting, and their tied groups."""
    still = np.zeros(len(TERM_NAMES))
    jacobian = slopes(seen, still, used, misses(seen, still))
    used, kept, groups = _separable(jacobian, used)
    return without_shifted(seen, used, *_robust(seen, used, jacobian[..., kept])), used, groups


def _left(seen: Sightings, used: list[int]) -> tuple[float, int]:
    """Return the variance per axis, arcsec², that the terms leave in the good sightings, and its degrees of freedom."""
    values, good, jacobian = _solved(seen, used)[0]
    spare = 2 * int(good.sum()) - jacobian.shape[-1]
    return float(np.sum((np.degrees(misses(seen, values)[good]) * 3600) ** 2)) / max(spare, 1), spare


def _separable(jacobian: np.ndarray, used: list[int]) -> tuple[list[int], list[int], list[list[int]]]:
    """Return the terms worth fitting, their columns, and the groups among them that the data cannot separate.

    Terms of a group stand in order of priority.
    """
    flat = jacobian.reshape(-1, len(used))
    columns, alone, groups = list(range(len(used))), list(range(len(used))), []
    while len(alone) > 1:
        combination, inflation = least_known(flat[:, alone])
        if inflation < LARGEST_INFLATION:
            break
        share = np.abs(combination) / np.max(np.abs(combination))
        members = sorted((alone[i] for i in np.flatnonzero(share > TIED_SHARE)),
                         key=lambda column: PRIORITY.index(TERM_NAMES[used[column]]))
        alone.remove(members[-1])
        if inflation > HOPELESS_INFLATION:
            columns.remove(members[-1])
        groups.append([used[column] for column in members])
    return [used[column] for column in columns], columns, groups


def _robust(
    seen: Sightings, used: list[int], jacobian: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the seven values, which sightings are good (n,), and the slopes (n, 2, k).

    Huber weights first, then without the outliers. The slopes hardly change over errors of arcminutes; they are
    renewed where a step is large.
    """
    values = np.zeros(len(TERM_NAMES))
    good, settled = np.ones(seen.count, bool), False
    miss = misses(seen, values)
    for _ in range(ROUNDS):
        radial, scale = _radial(miss)
        weight = good.astype(float) if settled else huber_weight(radial, HUBER * scale)
        step = _weighted_step(jacobian, miss, weight)
        values[used] += step
        miss = misses(seen, values)
        if np.max(np.abs(step)) > LARGE_STEP:
            jacobian = slopes(seen, values, used, miss)
        radial, scale = _radial(miss)
        if np.max(np.abs(step)) > (1e-3 if settled else 0.1) * scale:
            continue
        now_good = radial < OUTLIER * scale
        if settled and np.array_equal(now_good, good):
            break
        settled, good = True, now_good if now_good.sum() > len(used) else good
    return values, good, jacobian


def _radial(miss: np.ndarray) -> tuple[np.ndarray, float]:
    """Return the lengths of the misses (n,) and their robust standard deviation per axis."""
    radial = np.hypot(*miss.T)
    return radial, max(float(np.median(radial)) / RAYLEIGH_MEDIAN, SMALLEST_SCALE)


def _weighted_step(jacobian: np.ndarray, miss: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Return the Gauss-Newton step (k,) for weights (n,) of the sightings."""
    weighted = jacobian * weight[:, None, None]
    normal = np.einsum("nik,nil->kl", weighted, jacobian)
    return np.linalg.lstsq(normal, -np.einsum("nik,ni->k", weighted, miss), rcond=None)[0]


def _result(
    data: PointingData, seen: Sightings, solved: tuple[np.ndarray, np.ndarray, np.ndarray],
    choice: tuple[list[int], tuple[str, ...], list[list[int]]], try_harmonics: bool,
) -> PointingFit:
    values, good, jacobian = solved
    used, held, groups = choice
    miss, seen_well = misses(seen, values), seen.chosen(good)
    along = index_slopes(seen, values, miss) if try_harmonics else jacobian
    waves = choose_harmonics(seen_well, jacobian[good], miss[good], along[good]) if try_harmonics else []
    waved = [harmonic_columns(seen, along, *wave) for wave in waves]
    everything = np.concatenate([jacobian, *waved], axis=-1)
    flat = everything[good].reshape(2 * seen_well.count, -1)
    inverse = np.linalg.inv(flat.T @ flat)
    amounts = -inverse @ flat.T @ miss[good].ravel() if waves else np.zeros(len(used))
    values = values.copy()
    values[used] += amounts[: len(used)]
    miss = misses(seen, values) + everything[..., len(used):] @ amounts[len(used):]
    spare = max(flat.shape[0] - flat.shape[1], 1)
    variance = np.sum(miss[good] ** 2) / spare * student_factor(spare) ** 2
    errors = np.sqrt(variance * np.diag(inverse))
    before = misses(seen_well, np.zeros(len(TERM_NAMES)))
    fit = PointingFit(
        terms=_fitted(values, errors, used, groups, term_meanings(data.latitude)), model=_model(values), held=held,
        correlations=variance * inverse / np.outer(errors, errors),
        tied=tuple(_as_one(group, used, flat, values, variance) for group in groups),
        harmonics=harmonic_terms(waves, amounts[len(used):], errors[len(used):]), rms_before=_rms(before),
        rms_after=_rms(miss[good]), rms_held_out=_rms(held_out(everything[good], miss[good], inverse)),
        outliers=np.flatnonzero(~good), residual=np.degrees(miss) * 3600 * u.arcsec, polar_axis=None,
        polar_axis_error=None, latitude=data.latitude, notes=_notes(seen, good),
    )
    return _with_polar_axis(fit, used, errors)


def _model(values: np.ndarray) -> PointingTerms:
    return PointingTerms(**{name: _arcsec(value) for name, value in zip(TERM_NAMES, values, strict=True)})


def _fitted(
    values: np.ndarray, errors: np.ndarray, used: list[int], groups: list[list[int]], meanings: dict[str, str]
) -> tuple[FittedTerm, ...]:
    """Return the fitted terms; those of a tied group are not separable."""
    bound = {index for group in groups for index in group}
    return tuple(FittedTerm(name=TERM_NAMES[index], value=_arcsec(values[index]), error=_arcsec(errors[place]),
                            meaning=meanings[TERM_NAMES[index]],
                            separable=index not in bound) for place, index in enumerate(used))


def _with_polar_axis(fit: PointingFit, used: list[int], errors: np.ndarray) -> PointingFit:
    """Return the fit with the polar axis in the observer's terms, if both of its angles were fitted."""
    places = [TERM_NAMES.index(name) for name in POLE]
    if not all(place in used for place in places):
        return fit
    axis = polar_error(fit.model, latitude=fit.latitude)
    spread = [errors[used.index(place)] for place in places]
    across = max(np.cos(fit.latitude.to_value(u.rad)), 1e-6)
    error = PolarError(_arcsec(spread[0]).to(u.arcmin), _arcsec(spread[1] / across).to(u.arcmin))
    return replace(fit, polar_axis=axis, polar_axis_error=error)


def _as_one(
    group: list[int], used: list[int], flat: np.ndarray, values: np.ndarray, variance: float
) -> TiedTerms:
    """Return a tied group, with the value its first term takes when it has to stand for all of them."""
    kept = [place for place, index in enumerate(used) if index == group[0] or index not in group]
    together = flat[:, : len(used)] @ values[used]
    kept += range(len(used), flat.shape[1])
    inverse = np.linalg.inv(flat[:, kept].T @ flat[:, kept])
    alone = inverse @ flat[:, kept].T @ together
    first = kept.index(used.index(group[0]))
    return TiedTerms(names=tuple(TERM_NAMES[index] for index in group), value=_arcsec(alone[first]),
                     error=_arcsec(np.sqrt(variance * inverse[first, first])))


def _notes(seen: Sightings, good: np.ndarray) -> tuple[str, ...]:
    """Return what a reader should know about the data."""
    notes = []
    if seen.west.all() or not seen.west.any():
        side = "west" if seen.west.all() else "east"
        notes.append(f"All sightings are on one side of the pier ({side}): add some from the other.")
    if (~good).sum() > max(0.1 * good.size, 1):
        notes.append("More than a tenth of the sightings are outliers: look for a cause before you trust the model.")
    return tuple(notes)


def _arcsec(angle_rad: float) -> u.Quantity:
    return np.degrees(float(angle_rad)) * 3600 * u.arcsec


def _rms(miss: np.ndarray) -> u.Quantity:
    return _arcsec(np.sqrt(np.mean(miss**2)))
