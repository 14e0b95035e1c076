"""The field on the sky: target, stars, the camera's edge, its panels and the guider's field, on both sides of the pier.

Everything lies in the plane chart of the star catalogue: distances from the target's place, east and north positive.
A flip of the mount turns camera and guider by 180° about the middle of the camera's field.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from astropy import units as u
from astropy.coordinates import SkyCoord

from planner.checks import Rule, check
from planner.optics import field_of_view
from planner.rig import Rig
from planner.rig.choices import Side
from planner.session.advice.guide_star import NearbyStars, guider_centre, guider_field
from planner.session.projects.framing import OVERLAP, framing
from planner.signs import minus
from planner.visibility.target import Target

ELLIPSE_POINTS = 73
MARGIN = 1.08  # of the picture around what it must hold
MOST_STARS = 500
NO_CATALOGUE = 'Which star the guider sees is not known: no star catalogue. Get it: pip install "planner[stars]"'
RINGS = 40  # of the ellipse, whose share in the panels is counted
_ANGLE = Rule(unit=u.deg, at_least=-360, at_most=360, remedy="Count it from north through east.")


@dataclass(frozen=True, kw_only=True)
class GuideView:
    """The guider's field on one side of the pier."""

    outline: u.Quantity[u.arcmin]  # (5, 2), closed
    stars: int  # of the catalogue inside
    brightest: u.Quantity[u.mag] | None
    brightest_at: u.Quantity[u.arcmin] | None  # (2,)


@dataclass(frozen=True, kw_only=True)
class SkyField:
    """Shapes as (east, north) from the target; outlines are closed."""

    target: Target
    camera_angle: u.Quantity[u.deg]  # position angle of the picture's top, telescope west of the pier
    frame: u.Quantity[u.arcmin]  # (5, 2)
    top: u.Quantity[u.arcmin]  # (sides, 2): middle of the picture's top edge; west of the pier first, one for a fork
    ellipse: u.Quantity[u.arcmin] | None  # (73, 2), None for a target of no known size
    panels: u.Quantity[u.arcmin]  # (panels, 5, 2), turned with the camera; the frame where it is enough
    held: float  # share of the target inside the panels
    best_angle: u.Quantity[u.deg] | None  # camera angle that suits the target; None: not known
    guide: tuple[GuideView, ...]  # by the same sides; empty without a guider
    catalogue: bool  # whether one is installed
    star_places: u.Quantity[u.arcmin]  # (n, 2), brightest first
    star_magnitudes: u.Quantity[u.mag]  # (n,)
    reach: u.Quantity[u.arcmin]  # from the target to the edge of the picture
    pick_off: u.Quantity[u.arcmin] | None  # its distance from the centre
    clearance: u.Quantity[u.arcmin] | None  # from the picture's top to the pick-off's field; None without a pick-off

    @property
    def shaded(self) -> bool:
        """Say whether the pick-off reaches into the picture."""
        return self.clearance is not None and self.clearance.value <= 0

    def place(self, at: u.Quantity[u.arcmin]) -> SkyCoord:
        """Return the place on the sky of a point of the chart, (east, north) from the target."""
        east, north = at.to_value(u.rad)
        target = SkyCoord(ra=self.target.ra, dec=self.target.dec)
        return target.directional_offset_by(np.arctan2(east, north) * u.rad, np.hypot(east, north) * u.rad)


def sky_field(target: Target, rig: Rig, stars: NearbyStars | None = None, *,
              camera_angle: u.Quantity[u.deg] | None = None) -> SkyField:
    """Return the shapes of one target in a rig's field.

    `rig`: a pick-off sits above the top of the picture, as for the choice of the guide star. `stars`: of the catalogue
    around the target. `camera_angle`: position angle of the picture's top with the telescope west of the pier; that of
    the target if absent, else as a mosaic is laid out, else 0.
    Raises InvalidInputError if the angle is out of range.
    """
    camera = rig.camera
    view = field_of_view(camera.pixel_pitch, camera.columns, camera.rows, rig.telescope.focal_length)
    sides = np.array([view.width.to_value(u.arcmin), view.height.to_value(u.arcmin)])
    mosaic = framing(view, target)
    laid_out = mosaic.camera_angle if mosaic.panels > 1 else None
    wanted = (angle for angle in (camera_angle, target.camera_angle, laid_out) if angle is not None)
    angle = check("camera_angle", next(wanted, 0 * u.deg), _ANGLE)
    turn = _turn(angle.to_value(u.rad))
    frame = _rectangle(np.zeros(2), sides) @ turn
    middle = np.array([0.0, sides[1] / 2]) @ turn
    panels = np.array([_rectangle(np.array(place), sides) for row in mosaic.rows for place in row]) @ turn
    turns = (1,) if rig.mount.design == "fork" else (1, -1)
    star_at = _places(stars)
    magnitude = np.zeros(0) * u.mag if stars is None else stars.magnitude
    guide = _guide_views(rig, [sign * turn for sign in turns], star_at, magnitude)
    reach = MARGIN * max(np.abs(shape).max() for shape in (panels, *(view.outline.value for view in guide)))
    shown = np.flatnonzero((np.abs(star_at) <= reach).all(axis=1))
    shown = shown[np.argsort(magnitude.value[shown], kind="stable")][:MOST_STARS]
    return SkyField(
        target=target, camera_angle=angle, frame=frame * u.arcmin, ellipse=_ellipse(target), guide=guide,
        catalogue=stars is not None, top=np.stack([sign * middle for sign in turns]) * u.arcmin,
        star_places=star_at[shown] * u.arcmin,
        star_magnitudes=magnitude[shown], reach=reach * u.arcmin, clearance=_clearance(rig, view.height),
        pick_off=rig.guider.off_axis_offset.to(u.arcmin) if rig.guider is not None and rig.guider.off_axis else None,
        panels=panels * u.arcmin, held=_held(target, panels), best_angle=mosaic.camera_angle)


def camera_words(field: SkyField, sides: Iterable[tuple[Side, Side]]) -> str:
    """Return how the camera is turned on each of some sides of the pier, as for `guide_words`."""
    west = field.camera_angle.to_value(u.deg)
    tops = [f"{round(west + 180 * _index(field, turned)) % 360}°{f', telescope {side} of the pier' if side else ''}"
            for turned, side in sides]
    return f"top of the picture at {'; at '.join(tops)}"


def guide_words(field: SkyField, sides: Iterable[tuple[Side, Side]] = (("west", "west"), ("east", "east"))
                ) -> tuple[str, ...]:
    """Return what is to say of the guider's star on each of some sides of the pier.

    `sides`: for each, where the telescope is with the axes turned so and the target above the pole, which says how the
    picture is turned; and where it is seen, which is the other side below the pole.
    """
    if not field.catalogue or not field.guide:
        return (NO_CATALOGUE,) if field.guide else ()
    seen = ((side, field.guide[_index(field, turned)]) for turned, side in sides) if len(field.top) > 1 else (
        ("", field.guide[0]),)
    return tuple(f"{f'{side.capitalize()} of the pier' if side else 'Here'} the guider sees {_star_words(field, view)}."
                 for side, view in seen)


def pick_off_words(field: SkyField) -> str:
    """Return whether the pick-off shades the picture; empty without one."""
    if field.clearance is None or field.pick_off is None:
        return ""
    away = field.clearance.to_value(u.arcmin)
    where = (f"With the pick-off {field.pick_off.to_value(u.arcmin):.0f}′ from the centre, the off-axis offset of "
             "the guider, its field")
    return (f"{where} ends {away:.1f}′ outside the picture; the rim of its shadow is soft: look at a flat." if away > 0
            else f"{where} reaches {-away:.1f}′ into the picture, and its prism shades that edge. Move it outward and "
            "give its offset, or crop.")


def _index(field: SkyField, turned: Side) -> int:
    """Return which of the field's sides it is: west of the pier first, one for a fork."""
    return int(turned == "east" and len(field.top) > 1)


def _star_words(field: SkyField, view: GuideView) -> str:
    if view.brightest is None or view.brightest_at is None:
        return "no star of the catalogue, which ends at G 10; fainter ones may serve"
    at = minus(field.place(view.brightest_at).to_string("hmsdms", precision=0))
    more = "" if view.stars == 1 else f", the brightest of {view.stars}"
    return f"the star of G {view.brightest.value:.1f} at {at}{more}"


def panel_words(field: SkyField) -> tuple[str, ...]:
    """Return what is to say of the panels of a mosaic; nothing where one frame is enough."""
    if len(field.panels) < 2:
        return ()
    best = "" if field.best_angle is None else (
        f"; fewest with the picture's top at {field.best_angle.to_value(u.deg):.0f}° or half a turn on")
    return (f"It takes {len(field.panels)} panels that overlap their neighbours by {100 * OVERLAP:.0f} %{best}. Turned "
            f"as drawn, they hold {100 * field.held:.0f} % of the target.",)


def _held(target: Target, frames: np.ndarray) -> float:
    """Return the share of a target's ellipse inside any of some rectangles, (n, 5, 2); 1 for one of no known size."""
    edge = _ellipse(target)
    if edge is None:
        return 1.0
    away = np.sqrt((np.arange(RINGS) + 0.5) / RINGS)  # rings of equal area
    points = (away[:, None, None] * edge.to_value(u.arcmin)[None, :-1]).reshape(-1, 2)
    return float(np.any([_inside(points, frame) for frame in frames], axis=0).mean())


def _inside(points: np.ndarray, outline: np.ndarray) -> np.ndarray:
    """Return which points lie in a rectangle, (5, 2) closed."""
    away, inside = points - outline[:4].mean(axis=0), np.ones(len(points), bool)
    for side in (outline[0] - outline[1], outline[1] - outline[2]):
        inside &= np.abs(away @ side) <= side @ side / 2
    return inside


def _clearance(rig: Rig, height: u.Quantity[u.deg]) -> u.Quantity[u.arcmin] | None:
    """Return by how much the pick-off's field stays clear of the picture, whose top it sits above."""
    if rig.guider is None or not rig.guider.off_axis:
        return None
    return (guider_centre(rig.guider)[1] - guider_field(rig.guider)[1] / 2 - height / 2).to(u.arcmin)


def _turn(angle: float) -> np.ndarray:
    """Return the matrix that turns rows of (east, north) from north through east."""
    cosine, sine = np.cos(angle), np.sin(angle)
    return np.array([[cosine, -sine], [sine, cosine]])


def _rectangle(centre: np.ndarray, sides: np.ndarray) -> np.ndarray:
    return centre + np.array([(1, 1), (-1, 1), (-1, -1), (1, -1), (1, 1)]) * sides / 2


def _places(stars: NearbyStars | None) -> np.ndarray:
    if stars is None:
        return np.zeros((0, 2))
    return np.column_stack([stars.east.to_value(u.arcmin), stars.north.to_value(u.arcmin)])


def _guide_views(rig: Rig, turns: Iterable[np.ndarray], star_at: np.ndarray, magnitude: u.Quantity[u.mag]
                 ) -> tuple[GuideView, ...]:
    """Return the guider's field on each side of the pier, its turns given as matrices."""
    if rig.guider is None:
        return ()
    outline = _rectangle(guider_centre(rig.guider).to_value(u.arcmin), guider_field(rig.guider).to_value(u.arcmin))
    return tuple(_guide_view(outline @ turn, star_at, magnitude) for turn in turns)


def _guide_view(outline: np.ndarray, star_at: np.ndarray, magnitude: u.Quantity[u.mag]) -> GuideView:
    """Return the guider's field with the brightest star inside."""
    inside = _inside(star_at, outline)
    if not inside.any():
        return GuideView(outline=outline * u.arcmin, stars=0, brightest=None, brightest_at=None)
    best = np.flatnonzero(inside)[np.argmin(magnitude.value[inside])]
    return GuideView(outline=outline * u.arcmin, stars=int(inside.sum()), brightest=magnitude[best],
                     brightest_at=star_at[best] * u.arcmin)


def _ellipse(target: Target) -> u.Quantity[u.arcmin] | None:
    if target.size_major is None:
        return None
    major = target.size_major.to_value(u.arcmin)
    minor = major if target.size_minor is None else target.size_minor.to_value(u.arcmin)
    angle = 0.0 if target.position_angle is None else target.position_angle.to_value(u.rad)
    around = np.linspace(0, 2 * np.pi, ELLIPSE_POINTS)
    return np.column_stack([minor / 2 * np.sin(around), major / 2 * np.cos(around)]) @ _turn(angle) * u.arcmin
