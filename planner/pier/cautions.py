"""The usual cautions, short. None of it claims compliance with any standard."""

DEFERRAL = "Local electrical and building codes and licensed trades decide; this is arithmetic, no approval."
MAINS = "Mains voltage: only by a licensed electrician, to local code."
RESIDUAL_CURRENT = "Outdoors, mains sockets and supplies stand behind a residual-current device (30 mA)."
FUSE = "A fuse belongs at the source end of every cable, above all at a battery: a short circuit there starts a fire."
BATTERY = "Charge lead-acid batteries with air about; do not charge lithium iron phosphate below 0 °C."
LIFTING = "Two people for every lift of more than 25 kg, or of anything held at arm's length."
COUNTERWEIGHT = "Tube on last, off first: counterweights before the tube, and the safety stop at the end of the bar."
SUN = "Never point an unfiltered telescope or finder at the Sun: it blinds at once and burns."
# Class 2: IEC 60825-1, continuous visible light, from memory.
LASER = "No laser pointer near aircraft or people; where the law allows one at all, class 2 (1 mW) at most."
TIMBER = "Cut no structural timber without a structural engineer's advice."
DIGGING = "Before digging, find out where cables and pipes lie. Wet concrete burns skin and eyes."
CONCRETE = "Anchors and loads on concrete: the maker's data sheet and local code have the last word."

BALANCE_CAUTIONS = (LIFTING, COUNTERWEIGHT, SUN, LASER)
POWER_CAUTIONS = (MAINS, RESIDUAL_CURRENT, FUSE, BATTERY, DEFERRAL)
COLUMN_CAUTIONS = (TIMBER, DIGGING, CONCRETE, LIFTING, DEFERRAL)
