"""The questions of the guided set-up: their words, the example in grey, and why each is asked."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from planner.files.equipment.drive_classes import DRIVE_CLASSES
from planner.files.equipment.tables import rules_of
from planner.files.forms.usual_figures import AXES, DRIVES, FILTERS, SEEINGS, SENSORS, SKIES, TELESCOPES
from planner.files.quantities import parse_quantity
from planner.rig import Mount, PeriodicTerm

TYPE, PICK, MANY, ZONE = "type", "pick", "many", "zone"


@dataclass(frozen=True)
class Question:
    """One question: how it is asked, and what the answer is for."""

    key: str
    label: str
    why: str
    way: str = TYPE
    example: str = ""


PLACE = (
    Question("latitude", "Latitude", "Degrees, or degrees and minutes with N or S. A comma will do.",
             example="47.41 or 47° 24.6′ N"),
    Question("longitude", "Longitude", "East or west of Greenwich, with E or W, or a minus sign for west.",
             example="15.2 or 15° 12′ E"),
    Question("height", "Height above the sea (m)", "Thinner air takes less light.", example="600"),
    Question("time_zone", "Time zone", "All times are on this clock; proposed from the place.", ZONE),
    Question("sky", "How dark is the zenith?", "On a clear night without the Moon.", PICK),
    Question("seeing", "How steady are the stars?", "The width of a star in a long exposure, high up.", PICK),
)
OPTICS = (
    Question("telescope", "Kind of telescope", "What stands in the way of the light.", PICK),
    Question("aperture", "Aperture (mm)", "Clear diameter of the front.", example="200"),
    Question("focal_length", "Focal length (mm)", "As you use it, with reducer or extender.", example="800"),
    Question("colour", "Camera sees", "Mono behind filters, or colour in one shot.", PICK),
    Question("sensor", "Kind of sensor", "Its noise and what a pixel holds; your data sheet can replace it later.",
             PICK),
    Question("pixel_pitch", "Pixel (µm)", "Side of one pixel.", example="3.8"),
    Question("columns", "Pixels, long side", "They give the field.", example="6000"),
    Question("rows", "Pixels, short side", "", example="4000"),
    Question("filters", "Filters", "All that you can put in front of the camera.", MANY),
)
MOUNT = (
    Question("drive", "Kind of mount", "Its usual errors stand in until you have measured your own.", PICK),
    Question("axis", "Polar axis", "How you align it.", PICK),
    Question("guider", "Guider", "None is an answer too.", PICK),
    Question("guide_aperture", "Guide telescope, aperture (mm)", "", example="50"),
    Question("guide_focal_length", "Guide telescope, focal length (mm)", "", example="200"),
    Question("guide_pixel_pitch", "Guide camera, pixel (µm)", "", example="4"),
)
SECTIONS = (("1  Where you observe", PLACE), ("2  Telescope, camera, filters", OPTICS), ("3  Mount and guider", MOUNT))
LABELS = {question.key: question.label for _, questions in SECTIONS for question in questions}


FIGURES: Mapping[str, Callable[[str], str]] = {
    "sky": lambda option: f": {SKIES[option]:.1f} mag/arcsec²",
    "seeing": lambda option: f": {SEEINGS[option]:.1f}″",
    "telescope": lambda option: f": {100 * TELESCOPES[option]['obstruction']:.0f} % of the diameter blocked",
    "sensor": lambda option: f": read noise {SENSORS[option]['read_noise'].split()[0]} e⁻",
    "filters": lambda option: f": {FILTERS[option][1]:g} nm, {FILTERS[option][2]:g} nm wide",
    "drive": lambda option: f": {_peak_to_peak(option):.2g}″ peak to peak",
    "axis": lambda option: f": {AXES[option]:g}′ off each way",
}


def option_text(key: str, option: str) -> str:
    """Return an option with the figures that its words stand for."""
    return (DRIVES[option] if key == "drive" else option) + (FIGURES[key](option) if key in FIGURES else "")


def _peak_to_peak(drive: str) -> float:
    """Return what the periodic error of a drive class spans [arcsec]."""
    rules = rules_of(PeriodicTerm)
    terms = tuple(PeriodicTerm(period=parse_quantity("period", term["period"], rules["period"]),
                               amplitude=parse_quantity("amplitude", term["amplitude"], rules["amplitude"]))
                  for term in DRIVE_CLASSES[drive]["periodic"])
    return float(Mount(name=drive, periodic=terms).peak_to_peak.to_value("arcsec"))
