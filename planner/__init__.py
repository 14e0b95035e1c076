"""One chain of calculation for deep-sky imaging, from the rig to the night's plan."""

__version__ = "0.1.0"
