"""From a catalogue place to where a telescope looks, on plain floats: the kernels under the room's public functions.

In: radians, degrees and days as each docstring says. Out: the same. Read `local_frame`, `ephemeris` and `air` (places),
then `pieces` and `roots` (when a limit is crossed).
"""
