"""The outside set of simulated pointings: its parameters under this project's names."""

NAMES = {"ha_index": "hour_angle_zero", "dec_index": "declination_zero", "collimation": "collimation",
         "nonperp": "axes_not_square", "pole_elev": "polar_altitude", "pole_azim": "polar_azimuth",
         "flexure": "tube_flexure"}


def true_parameters(about):
    """Return the parameters [arcsec] that the pointings were made with."""
    return {NAMES[name]: value for name, value in about["true_parameters_arcsec"].items()}
