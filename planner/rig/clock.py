"""Whether the clock of a site can be that of its longitude."""

import datetime
from zoneinfo import ZoneInfo

from planner.rig.site import Site

LARGEST_CLOCK_ERROR_H = 4.5
DATE_LINE_DEG = 150  # no clock east of the date line by its longitude and west by its date is nearer to Greenwich


def clock_problem(site: Site, now: datetime.datetime) -> str:
    """Return a sentence if the clock of the site cannot be that of its longitude, empty if it can.

    Clocks in use stay within about three hours of the Sun, four in summer; one that is further off names another night
    "tonight".
    """
    offset = now.astimezone(ZoneInfo(site.time_zone)).utcoffset() or datetime.timedelta()
    longitude = (site.longitude.to_value("deg") + 180) % 360 - 180
    late = offset / datetime.timedelta(hours=1) - longitude / 15
    if abs(longitude) > DATE_LINE_DEG:  # islands there keep the date of the other side
        late = (late + 12) % 24 - 12
    if abs(late) <= LARGEST_CLOCK_ERROR_H:
        return ""
    return (f'Site "{site.name}": time_zone = {site.time_zone} and longitude = {longitude:+.1f} deg do not belong '
            f"together: that clock is {abs(late):.1f} h {'ahead of' if late > 0 else 'behind'} the Sun, so tonight may "
            "be taken for another night. Correct one of them (east is positive).")
