"""The usual cautions, short. None of it claims compliance with any standard."""

from dataclasses import dataclass
from typing import Annotated

DEFERRAL = "Local electrical and building codes and licensed trades decide; this is arithmetic, no approval."
MAINS = "Mains voltage: only by a licensed electrician, to local code."
RESIDUAL_CURRENT = "Outdoors, mains sockets and supplies stand behind a residual-current device (30 mA)."
FUSE = "A fuse belongs at the source end of every cable, above all at a battery: a short circuit there starts a fire."
FUSE_RATING = "A fuse suits its cable, not its load: made for d.c. of that voltage and the short-circuit current."
EARTHING = "Earthing and surge protection of supply, column and data cables: a licensed electrician, to local code."
BATTERY = "Lead-acid batteries give off hydrogen on charge: let air in, keep sparks and flames away from the terminals."
LITHIUM = "Do not charge lithium iron phosphate below 0 °C; it may cut off in the cold: never bypass its protection."
# Reference mass of ISO 11228-1:2021 for a working-age man; 20 kg and 15 kg for others (from memory).
LIFTING = "Two people for every lift of more than 25 kg, of less for many people, and of anything at arm's length."
CLUTCH = "Hold tube and weights before a clutch is opened: what is out of balance swings at once."
COUNTERWEIGHT = "Tube on last, off first: counterweights before the tube, and the safety stop at the end of the bar."
SUN = "Never point an unfiltered telescope or finder at the Sun: it blinds at once and burns."
# Class 2: IEC 60825-1, continuous visible light, from memory.
LASER = "No laser pointer near aircraft or people; where the law allows one at all, class 2 (1 mW) at most."
TIPPING = "Column, tripod and mount tip easily while they are set up: two people, props until every bolt bears."
TIMBER = "Cut no structural timber without a structural engineer's advice."
DIGGING = "Before digging, find out where cables and pipes lie. Wet concrete burns skin and eyes."
DUST = "Drilling concrete makes silica dust, which harms the lungs: wet it or extract it, and wear a mask."
LIGHTNING = "A column draws lightning: a licensed electrician protects it; unplug before a storm, and keep away in one."
NIGHT = "Ladders, cold and tiredness hurt people at night: tell someone where you are, do not climb or lift alone."
MAKER = "The makers of mount and tube have the last word on what they carry; this is arithmetic, no approval."
CONCRETE = "Anchors and loads on concrete: the maker's data sheet and local code have the last word."

BALANCE_CAUTIONS = (LIFTING, TIPPING, COUNTERWEIGHT, CLUTCH, MAKER, NIGHT, SUN, LASER)
POWER_CAUTIONS = (MAINS, RESIDUAL_CURRENT, EARTHING, FUSE, FUSE_RATING, BATTERY, LITHIUM, LIGHTNING, DEFERRAL)
COLUMN_CAUTIONS = (TIPPING, TIMBER, DIGGING, DUST, CONCRETE, LIFTING, EARTHING, LIGHTNING, DEFERRAL)


@dataclass(frozen=True, kw_only=True)
class OfPier:
    """Which pier an answer is about, and what to beware of."""

    pier: Annotated[str, "its name"]
    cautions: Annotated[tuple[str, ...], "what to beware of"]
