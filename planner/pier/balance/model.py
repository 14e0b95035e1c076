"""What rides on the mount, where: tube, counterweights, bar; and one move of the advice.

Axes of a German equatorial head, all distances signed:

* `along` the tube from the declination axis, positive towards the sky;
* `across`, square to tube and declination axis, positive upwards while the telescope hangs east of the pier and looks
  at the pole;
* `height` along the declination axis from the face of the saddle, positive away from the right-ascension axis.

Counterweights and the bar lie on the other side; their distances from the right-ascension axis are positive.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Any

from astropy import units as u

from planner.checks import Model, did_you_mean, plain, quantity
from planner.errors import InvalidInputError
from planner.fields import Maybe, told
from planner.signs import minus

# Nobody sets a weight closer than this by hand: moves are told and made in whole ones (common practice, no source).
FINEST_MOVE = 1 * u.mm
# Where friction holds less than that leaves, tenths (common practice, no source).
BY_FEEL = 0.1 * u.mm


@dataclass(frozen=True, kw_only=True)
class TubePart(Model):
    """One thing that rides on the saddle: tube, camera, reducer, guider, heater, dovetail."""

    name: str = plain("text", remedy="Name the part.")
    mass: u.Quantity[u.kg] = quantity("kg", more_than=0, at_most=2000, remedy="Weigh the part, e.g. 1.2 kg.")
    along: u.Quantity[u.mm] = quantity("mm", at_least=-10000, at_most=10000,
                                       meaning="its centre from the declination axis, towards the sky positive",
                                       remedy="Measure from the middle of the saddle, towards the sky positive.")
    across: u.Quantity[u.mm] = quantity("mm", default="0 mm", at_least=-5000, at_most=5000,
                                        meaning="its centre beside the tube's plane",
                                        remedy="Measure sideways from the middle of the saddle.")
    height: u.Quantity[u.mm] = quantity("mm", default="0 mm", at_least=-2000, at_most=5000,
                                        meaning="its centre above the face of the saddle",
                                        remedy="Measure from the face of the saddle outwards.")
    length: u.Quantity[u.mm] = quantity("mm", default="0 mm", at_least=0, at_most=20000,
                                        meaning="along the tube, even to both sides of its centre")
    width: u.Quantity[u.mm] = quantity("mm", default="0 mm", at_least=0, at_most=5000,
                                       meaning="its diameter, square to the tube")
    slides: bool = plain("truth", default=True, meaning="moves along when the tube is shifted in the saddle")
    turns: bool = plain("truth", default=False, meaning="turns with the camera, about the axis of [rotator]")


@dataclass(frozen=True, kw_only=True)
class Rotator(Model):
    """The axis about which the camera, and what hangs on it, is turned to frame."""

    direction: str = plain("choice", default="along", choices=("along", "across", "height"),
                           meaning="of that axis: along the tube behind it, across or height in a focuser at its side",
                           remedy="Write along, across or height.")
    along: u.Quantity[u.mm] = quantity("mm", default="0 mm", at_least=-10000, at_most=10000,
                                       meaning="of a point on that axis")
    across: u.Quantity[u.mm] = quantity("mm", default="0 mm", at_least=-5000, at_most=5000,
                                        meaning="of that point")
    height: u.Quantity[u.mm] = quantity("mm", at_least=-2000, at_most=5000, meaning="of that point",
                                        remedy="Measure from the face of the saddle to the camera's optical axis.")


@dataclass(frozen=True, kw_only=True)
class Counterweight(Model):
    """One weight on the bar."""

    name: str = plain("text", remedy="Name the weight.")
    mass: u.Quantity[u.kg] = quantity("kg", more_than=0, at_most=2000, remedy="Weigh it, e.g. 5 kg.")
    position: u.Quantity[u.mm] = quantity("mm", at_least=0, at_most=10000,
                                          meaning="its middle from the right-ascension axis",
                                          remedy="Measure from the right-ascension axis to the middle of the weight.")
    thickness: u.Quantity[u.mm] = quantity("mm", default="0 mm", at_least=0, at_most=1000,
                                           meaning="along the bar")


@dataclass(frozen=True, kw_only=True)
class Bar(Model):
    """The counterweight bar, of even thickness."""

    mass: u.Quantity[u.kg] = quantity("kg", default="0 kg", at_least=0, at_most=200,
                                      remedy="Weigh the bar, or leave it out.")
    start: u.Quantity[u.mm] = quantity("mm", default="100 mm", at_least=0, at_most=5000,
                                       meaning="where a weight can first sit, from the right-ascension axis")
    end: u.Quantity[u.mm] = quantity("mm", default="400 mm", more_than=0, at_most=10000,
                                     meaning="its outer end, from the right-ascension axis")

    def faults(self) -> Iterator[InvalidInputError]:
        """Yield a bar without length."""
        if self.end <= self.start:
            yield InvalidInputError("end", self.end, f"must be more than bar.start, {self.start:g}",
                                    "Measure both from the right-ascension axis.")

    @property
    def centre(self) -> u.Quantity[u.mm]:
        """Centre of the bar's mass: its middle."""
        return (self.start + self.end) / 2


@dataclass(frozen=True, kw_only=True)
class Assembly(Model):
    """All that turns with the right-ascension axis, and what the mount may carry."""

    parts: tuple[TubePart, ...] = plain("other", default=())
    counterweights: tuple[Counterweight, ...] = plain("other", default=())
    bar: Bar = plain("other", default=Bar())
    rotator: Rotator | None = plain("other", default=None)
    saddle_distance: u.Quantity[u.mm] = quantity(
        "mm", at_least=0, at_most=3000, meaning="from the right-ascension axis to the face of the saddle",
        remedy="Measure from the right-ascension axis to the face of the saddle.")
    saddle_travel: u.Quantity[u.mm] = quantity("mm", default="60 mm", at_least=0, at_most=5000,
                                               meaning="how far the tube can slide, either way")
    housing_mass: u.Quantity[u.kg] = quantity("kg", default="0 kg", at_least=0, at_most=2000,
                                              meaning="of the declination housing, which turns with the axis")
    housing_position: u.Quantity[u.mm] = quantity("mm", default="0 mm", at_least=-2000, at_most=2000,
                                                  meaning="its centre from the axis, towards the tube positive")
    fixed_mass: u.Quantity[u.kg] = quantity("kg", default="0 kg", at_least=0, at_most=2000,
                                            meaning="of the part of the mount that stays on the pier")
    friction: u.Quantity[u.N * u.m] | None = quantity(
        "N m", default=None, more_than=0, at_most=1000,
        meaning="that holds each axis with its clutch open; 1 mm times the moving weight if absent",
        remedy="Measure it with a spring scale, or leave it out.")
    bias: u.Quantity[u.N * u.m] = quantity(
        "N m", default="0 N m", at_least=0, at_most=100,
        meaning="to leave on the right-ascension axis for its gear, bar level, the east side heavy")
    declination_bias: u.Quantity[u.N * u.m] = quantity(
        "N m", default="0 N m", at_least=0, at_most=100,
        meaning="to leave on the declination axis for its gear, tube level, the back end heavy")
    axis_height: u.Quantity[u.mm] | None = quantity(
        "mm", default=None, more_than=0, at_most=5000,
        meaning="of the crossing of both axes above the top of the column",
        remedy="Measure from the top of the column to where the axes cross.")
    axis_offset: u.Quantity[u.mm] = quantity(
        "mm", default="0 mm", at_least=-2000, at_most=2000,
        meaning="of that crossing from the column's middle, towards the pole positive")
    payload: u.Quantity[u.kg] | None = quantity("kg", default=None, more_than=0, meaning="rated, for imaging",
                                                remedy="Give the rated load without counterweights.")
    payload_limit: float = plain("number", default=0.75, more_than=0, at_most=2,
                                 meaning="the observer's own share of the rated load (common practice, no source)",
                                 remedy="Give the share, e.g. 0.75.")

    def faults(self) -> Iterator[InvalidInputError]:
        """Yield everything about a head that its parts do not say by themselves."""
        if not self.parts:
            yield InvalidInputError("tube", "[]", "must hold at least one part", "Add a [[tube]] table.")
        for kind, those in (("tube", self.parts), ("counterweight", self.counterweights)):
            names = [one.name.lower() for one in those if one.name]
            for name in dict.fromkeys(name for name in names if names.count(name) > 1):
                yield InvalidInputError(f"{kind}.name", name, "is there twice", "Give each its own name.")
        yield from _bar_faults(self.bar, self.counterweights)
        if self.rotator is None and any(part.turns for part in self.parts):
            yield InvalidInputError("[rotator]", "(missing)", "must be given where a part turns", "Add it with height.")


def add(assembly: Assembly, part: TubePart) -> Assembly:
    """Return the assembly with one more part on the tube."""
    return replace(assembly, parts=(*assembly.parts, part))


def swap(assembly: Assembly, name: str, *, mass: u.Quantity[u.kg], along: u.Quantity[u.mm] | None = None,
         height: u.Quantity[u.mm] | None = None) -> Assembly:
    """Return the assembly with one part of the tube replaced by another of that mass.

    `name`: of the part, capitals and outer blanks aside. `mass`: of the replacement. `along` and `height`: where the
    replacement's centre lies; where the old one's was if None.
    Raises InvalidInputError if there is no such part, or the new mass or place breaks a rule.
    """
    names = [part.name for part in assembly.parts]
    wanted = name.strip().lower()
    if wanted not in [there.lower() for there in names]:
        raise InvalidInputError("part", name, "is not on the tube", did_you_mean(name, names))
    place: dict[str, Any] = {key: value for key, value in (("along", along), ("height", height)) if value is not None}
    parts = tuple(replace(part, mass=mass, **place) if part.name.lower() == wanted else part for part in assembly.parts)
    return replace(assembly, parts=parts)


def _bar_faults(bar: Bar, weights: Sequence[Counterweight]) -> list[InvalidInputError]:
    """Return each weight that hangs over an end of the bar, or over the one inside it."""
    found, outer = [], bar.start
    known = (weight for weight in weights if weight.position + weight.thickness >= 0)  # NaN is not known
    for weight in sorted(known, key=lambda item: item.position.value) if bar.start < bar.end else ():
        place = f'counterweight "{weight.name}".position'
        inner_face, outer_face = weight.position - weight.thickness / 2, weight.position + weight.thickness / 2
        if inner_face < bar.start - 0.01 * u.mm or outer_face > bar.end + 0.01 * u.mm:
            found.append(InvalidInputError(
                place, weight.position, f"must lie on the bar, {bar.start:g} to {bar.end:g}, with half its thickness",
                "Measure from the right-ascension axis to the middle of the weight."))
        elif inner_face < outer - 0.01 * u.mm:
            found.append(InvalidInputError(place, weight.position, "overlaps the weight inside it",
                                           "Check positions and thicknesses."))
        outer = max(outer, outer_face)
    return found


@dataclass(frozen=True, kw_only=True)
class Move:
    """One thing to do: outwards on the bar, or towards the sky in the saddle, positive."""

    action: Annotated[str, "slide, add, move, replace, take off or hang"]
    name: Annotated[str, "of the part"]
    text: str
    shift: Annotated[u.Quantity[u.mm], "outwards on the bar, or towards the sky in the saddle"] = 0 * u.mm
    on: Annotated[str | None, "part that carries an added weight", Maybe()] = None
    becomes: TubePart | Counterweight | None = None  # as it shall be; None for the tube, and for what is taken off
    mass = told(u.kg, "of what is moved, added or exchanged", lambda move: move.becomes and move.becomes.mass)
    along = told(u.mm, "from the declination axis towards the sky", lambda move: move.place("along"), Maybe())
    across = told(u.mm, "of a part of the tube", lambda move: move.place("across"), Maybe())
    height = told(u.mm, "above the face of the saddle", lambda move: move.place("height"), Maybe())

    def place(self, name: str) -> u.Quantity[u.mm] | None:
        """Return where a part of the tube shall be; None for a weight on the bar."""
        return getattr(self.becomes, name) if isinstance(self.becomes, TubePart) else None

    @property
    def position(self) -> Annotated[u.Quantity[u.mm], "after the move, from the right-ascension axis"]:
        """After the move, from the right-ascension axis; of the tube its shift from where it sits now."""
        return self.becomes.position if isinstance(self.becomes, Counterweight) else self.shift


def millimetres(length: float) -> str:
    """Return a length [mm] in words, with a tenth where it has one."""
    return f"{round(abs(length), 1):g} mm"


def signed(angle: float) -> str:
    """Return whole degrees with their sign: ``−35°``."""
    return minus(f"{angle:+.0f}°")
