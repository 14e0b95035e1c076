"""The usual cautions, short. None of it claims compliance with any standard."""

DEFERRAL = "Local electrical and building codes and licensed trades decide; this is arithmetic, no approval."
MAINS = "Mains voltage: only by a licensed electrician, to local code."
RESIDUAL_CURRENT = "Outdoors, mains sockets and supplies stand behind a residual-current device (30 mA)."
FUSE = "A fuse belongs at the source end of every cable, above all at a battery: a short circuit there starts a fire."
BATTERY = "Lead-acid batteries give off hydrogen on charge: let air in, keep sparks and flames away from the terminals."
LITHIUM = "Do not charge lithium iron phosphate below 0 °C."
# Reference mass of ISO 11228-1:2021 for a working-age man; 20 kg and 15 kg for others (from memory).
LIFTING = "Two people for every lift of more than 25 kg, of less for many people, and of anything at arm's length."
CLUTCH = "Hold tube and counterweight before a clutch is released: what is out of balance swings at once."
COUNTERWEIGHT = "Tube on last, off first: counterweights before the tube, and the safety stop at the end of the bar."
SUN = "Never point an unfiltered telescope or finder at the Sun: it blinds at once and burns."
# Class 2: IEC 60825-1, continuous visible light, from memory.
LASER = "No laser pointer near aircraft or people; where the law allows one at all, class 2 (1 mW) at most."
TIMBER = "Cut no structural timber without a structural engineer's advice."
DIGGING = "Before digging, find out where cables and pipes lie. Wet concrete burns skin and eyes."
DUST = "Drilling concrete makes silica dust, which harms the lungs: wet it or extract it, and wear a mask."
LIGHTNING = "A steel column draws lightning: a licensed electrician earths and protects it; unplug before a storm."
NIGHT = "Ladders, cold and tiredness hurt people at night: tell someone where you are, do not climb or lift alone."
CONCRETE = "Anchors and loads on concrete: the maker's data sheet and local code have the last word."

BALANCE_CAUTIONS = (LIFTING, COUNTERWEIGHT, CLUTCH, NIGHT, SUN, LASER)
POWER_CAUTIONS = (MAINS, RESIDUAL_CURRENT, FUSE, BATTERY, LITHIUM, LIGHTNING, DEFERRAL)
COLUMN_CAUTIONS = (TIMBER, DIGGING, DUST, CONCRETE, LIFTING, LIGHTNING, DEFERRAL)
