"""Targets by what people call them, held against published places and another library's parser."""

import contextlib
import re

import hypothesis
import numpy as np
import pytest
from astropy import units as u
from astropy.coordinates import SkyCoord
from hypothesis import strategies as st

from planner.errors import InvalidInputError
from planner.files.sky_position import looks_like_position, parse_position, position_name
from planner.files.targets import find_each, find_target, find_targets
from planner.files.targets.catalogue import all_names, numbered_name, readable
from planner.files.targets.lists import read_target_list

# J2000 places as the NASA/IPAC Extragalactic Database and SIMBAD give them, to the arcminute; from memory.
PLACES = [
    ("ngc7331", "22 37 04 +34 25", "NGC 7331"), ("NGC 7331", "22 37 04 +34 25", "NGC 7331"),
    ("Caldwell 30", "22 37 04 +34 25", "C 30"), ("C30", "22 37 04 +34 25", "C 30"),
    ("M 31", "00 42 44 +41 16", "M 31"), ("m31", "00 42 44 +41 16", "M 31"),
    ("Messier 031", "00 42 44 +41 16", "M 31"), ("andromeda galaxy", "00 42 44 +41 16", "M 31"),
    ("UGC 454", "00 42 44 +41 16", "UGC 454"), ("PGC 2557", "00 42 44 +41 16", "PGC 2557"),
    ("M1", "05 34 32 +22 01", "M 1"), ("crab", "05 34 32 +22 01", "M 1"),
    ("m101", "14 03 13 +54 21", "M 101"), ("M 102", "14 03 13 +54 21", "M 102"),
    ("M 45", "03 47 29 +24 06", "M 45"), ("pleiades", "03 47 29 +24 06", "M 45"),
    ("NGC5139", "13 26 47 -47 29", "NGC 5139"), ("Omega Centauri", "13 26 47 -47 29", "NGC 5139"),
    ("horsehead", "05 40 59 -02 27", "B 33"), ("Barnard 33", "05 40 59 -02 27", "B 33"),
    ("ic-434", "05 41 01 -02 27", "IC 434"), ("flame nebula", "05 41 43 -01 51", "NGC 2024"),
    ("Coathanger", "19 25 24 +20 11", "Cr 399"), ("LMC", "05 23 34 -69 45", "LMC"),
    ("ESO 97-13", "14 13 10 -65 20", "ESO 97-013"), ("circinus", "14 13 10 -65 20", "ESO 97-013"),
    ("Lagoon", "18 03 37 -24 23", "M 8"), ("whirlpool", "13 29 53 +47 12", "M 51"),
]


@pytest.mark.parametrize(("text", "place", "name"), PLACES)
def test_forgiving_spelling_finds_the_published_place(text, place, name):
    target = find_target(text)
    published = SkyCoord(place, unit=(u.hourangle, u.deg))
    assert target.name == name
    # 5 arcmin: extended objects have no sharp centre.
    assert published.separation(SkyCoord(target.ra, target.dec)) < 5 * u.arcmin


def test_what_the_catalogue_knows_comes_along():
    galaxy = find_target("m31")
    assert galaxy.kind == "galaxy"
    assert galaxy.common_name == "NGC 224, Andromeda Galaxy"
    # RC3: major diameter at 25 mag/arcsec2 about 190 arcmin, total V 3.44; from memory.
    assert 150 * u.arcmin < galaxy.size_major < 210 * u.arcmin
    assert galaxy.magnitude.to_value(u.mag) == pytest.approx(3.44, abs=0.1)
    assert galaxy.surface_brightness is not None


@pytest.mark.parametrize("text", ["NGC 7000", "M 57", "M 13", "M 45", "NGC 6960"])
def test_surface_brightness_is_left_to_galaxies(text):
    assert find_target(text).surface_brightness is None


# Common practice, no source: what imagers know these fields by, and how many degrees they span.
@pytest.mark.parametrize(("text", "name", "kind", "degrees"), [
    ("North America Nebula", "NGC 7000", "emission", (2, 4.5)), ("IC 1396", "IC 1396", "nebula", (2, 3.5)),
    ("Cat's Paw", "NGC 6334", "emission", (0.5, 1)), ("Seagull", "IC 2177", "emission", (1.5, 3)),
    ("tulip", "Sh2-101", "emission", (0.2, 1)), ("tadpoles", "IC 410", "nebula", (0.6, 1.1)),
    ("Rho Ophiuchi", "IC 4604", "reflection", (0.5, 5)), ("Sh2-155", "Sh2-155", "emission", (0.2, 1)),
    ("Sharpless 155", "Sh2-155", "emission", (0.2, 1)), ("sharpless 240", "Sh2-240", "remnant", (2.5, 3.5)),
    ("sh 2-117", "Sh2-117", "emission", (2, 4.5)), ("LMC", "LMC", "galaxy", (9, 12)),
    ("Small Magellanic Cloud", "NGC 292", "galaxy", (4, 6)), ("Cygnus Loop", "Cygnus Loop", "remnant", (2.5, 4))])
def test_what_imagers_call_a_field_is_found_with_its_extent(text, name, kind, degrees):
    found = find_target(text)
    assert found.name == name
    assert kind in found.kind
    assert degrees[0] < found.size_major.to_value(u.deg) < degrees[1]


def test_catalogues_that_disagree_are_both_told():
    assert "120 x 30" in find_target("NGC 7000").size_elsewhere
    assert find_target("NGC 6888").size_elsewhere == ""


# Emission measures by radio: an H-alpha of hundreds of rayleigh in the North America Nebula (common practice, no
# source), more in the Carina Nebula; a remnant has little.
def test_h_alpha_of_nebulae():
    america, carina, loop = (find_target(name).line_brightness for name in ("NGC 7000", "NGC 3372", "Cygnus Loop"))
    assert 100 * u.R < america < 1000 * u.R < carina
    assert loop < 50 * u.R
    assert find_target("M 31").line_brightness is None


@pytest.mark.parametrize("name", ["NGC 598", "NGC 224", "NGC 7331", "NGC 4594", "NGC 5194"])
def test_surface_brightness_is_in_v(name):
    # Independent: V magnitude spread over the ellipse of the axes. An isophotal mean lies within a magnitude above it
    # (offset of 3317 galaxies 0.4 mag in either band); as a B value it would lie a colour, 0.5 to 0.9 mag, farther off.
    found = find_target(name)
    area = np.pi / 4 * (found.size_major * found.size_minor).to_value(u.arcsec**2)
    assert abs(found.surface_brightness.value - found.magnitude.value - 2.5 * np.log10(area) - 0.4) < 0.45


@pytest.mark.parametrize("text", ["Orion B", "Sculptor Filament", "Checkmark"])
def test_absurd_names_are_gone(text):
    with pytest.raises(InvalidInputError, match="is not in the catalogue"):
        find_target(text)


@pytest.mark.parametrize(("text", "words"), [
    ("Vesta", "moves against the stars"), ("1P/Halley", "moves against the stars"), ("LBN 437", "list of your own"),
    ("C/2023 A3", "moves against the stars"), ("2004 MN4", "moves against the stars"),
    ("Jupiter", "moves against the stars"), ("saturn", "moves against the stars"), ("vdB 142", "list of your own"),
    ("Sh2-999", "Did you mean Sh2-[0-9]+ or"), ("Magellanic Cloud", "Large .* Small")])
def test_what_is_not_here_is_refused_in_its_own_kind(text, words):
    with pytest.raises(InvalidInputError, match=words):
        find_target(text)


def test_two_numbers_of_one_object_are_one_target():
    assert [target.name for target in find_targets(["M 31", "NGC 224", "UGC 454"])] == ["M 31"]


def test_a_duplicate_gives_the_object_it_repeats():
    # IC 11 = NGC 281 (Dreyer's index catalogue repeats Barnard's nebula).
    assert find_target("IC 11").name == "NGC 281"
    assert find_target("IC 11").ra == find_target("NGC 281").ra


@pytest.mark.parametrize(("text", "words"), [
    ("NGC 9999", "is not in the catalogue. Did you mean NGC"), ("Andromida galaxy", "Did you mean Andromeda Galaxy"),
    ("M 111", "Did you mean .*M 11"), ("xyzzy", "Give a catalogue number"), ("", "must name something"),
    ("  ", "must name something"), ("7331", "Did you mean NGC 7331"), ("'; drop table objects", "is not in the"),
    ("IC 1064", "there is no such object"), ("Butterfly", "fits more than one name. Choose from: .*NGC 6302"),
    ("M" * 3000, "is not in the catalogue"), ("NGC " + "9" * 400, "is not in the catalogue"),
    ("25 00 00 +10 00 00", "right ascension = 25 00 00: must be"), ("10 61 00 +10 00 00", "minutes and seconds"),
    ("10 20 30 +91 00 00", r"declination = \+91 00 00: must be"), ("10 20 30 -10 -5 00", "minutes and seconds"),
])
def test_what_is_unknown_gets_one_line_with_the_nearest(text, words):
    with pytest.raises(InvalidInputError, match=words):
        find_target(text)


POSITIONS = ["22 37 04 +34 24 57", "22:37:04.1 +34:24:56", "22h37m04.1s +34d24m56s", "22:37 -00:30",
             "00 00 00 -00 00 30", "23:59:59.9 -89:59:59"]


@pytest.mark.parametrize("text", POSITIONS)
def test_positions_as_another_parser_reads_them(text):
    ra, dec = parse_position(text)
    other = SkyCoord(text, unit=(u.hourangle, u.deg))
    np.testing.assert_allclose([ra.to_value(u.deg), dec.to_value(u.deg)], [other.ra.deg, other.dec.deg], atol=1e-9)


@pytest.mark.parametrize("text", ["339.267d 34.4158d", "339.267 34.4158", "339.267, +34.4158", "339.267°, 34.4158°",
                                  "339.267 deg 34.4158 deg", "339.267deg +34.4158degrees"])
def test_decimal_degrees(text):
    target = find_target(text)
    np.testing.assert_allclose([target.ra.value, target.dec.value], [339.267, 34.4158], rtol=1e-12)


@pytest.mark.parametrize("text", ["10,68 41,27", "10,5 -41,2", "22h37,5m +34°24,9′", "22 37,5 +34 24,9"])
def test_decimal_commas_are_not_taken_for_minutes_or_seconds(text):
    with pytest.raises(InvalidInputError, match=re.escape(f"Write it like {text.replace(',', '.')}")):
        find_target(text)


@pytest.mark.parametrize("text", ["22 37 04,5 +34 24 57,2", "22:37:04,5 +34:24:57,2"])
def test_a_comma_is_a_decimal_mark_where_the_numbers_would_be_too_many(text):
    assert looks_like_position(text)
    assert parse_position(text) == parse_position(text.replace(",", "."))


@pytest.mark.parametrize("text", ["22,37,04 +34,24,57", "22:37:04,34:24:57"])
def test_commas_may_part_the_numbers(text):
    assert parse_position(text) == parse_position("22 37 04 +34 24 57")


def test_the_two_may_be_written_in_different_ways():
    ra, dec = parse_position("84.5d −69°06′36″")
    assert ra.value == 84.5
    assert dec.value == pytest.approx(-69.11)  # 6′ is 0.1°, 36″ 0.01°
    assert parse_position("84.5 -69 06 36") == (ra, dec)


def test_hours_and_degrees_in_other_marks():
    assert parse_position("1.5h 10d")[0] == 22.5 * u.deg
    assert parse_position("339d16m01.2s +34d24m57s")[0].value == pytest.approx(339.267)
    assert parse_position("22h37m +34°25′")[1].value == pytest.approx(34 + 25 / 60)
    assert parse_position("22 37 04 −34 24 57")[1].value < 0  # the true minus sign


@hypothesis.given(st.floats(0, 359.999), st.floats(-90, 90))
def test_a_positions_name_is_a_position(ra_deg, dec_deg):
    name = position_name(ra_deg * u.deg, dec_deg * u.deg)
    ra, dec = parse_position(name)
    # To the second of time and of arc.
    assert abs((ra.value - ra_deg + 180) % 360 - 180) <= 7.6 / 3600
    assert abs(dec.value - dec_deg) <= 0.6 / 3600
    assert looks_like_position(name)


@hypothesis.given(st.text(max_size=40) | st.from_regex(r"(ngc|m|ic|c|eso|b) ?-?[0-9]{1,5}", fullmatch=True))
@hypothesis.settings(max_examples=30)
def test_any_text_is_found_or_refused(text):
    with contextlib.suppress(InvalidInputError):
        assert find_target(text).name


def test_readable_names_lead_back_to_their_object():
    names = [name for name in all_names() if name.startswith(("NGC ", "IC "))][::97]
    for name in names:
        padded = numbered_name(name)
        assert padded is not None
        assert readable(padded) == name


def _list(tmp_path, text):
    path = tmp_path / "mine.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_list_of_ones_own(tmp_path):
    path = _list(tmp_path, "# mine\nname;ra;dec;size_arcmin;magnitude\nLoop;20:50:00;+30:40;60;\nDot;312.5;-3.25;;9.5\n"
                           "NGC 7331;;;;\n")
    loop, dot, galaxy = read_target_list(path)
    assert loop.ra == 312.5 * u.deg
    assert loop.dec.value == pytest.approx(30 + 40 / 60)
    assert loop.size_major == 60 * u.arcmin
    assert dot.dec == -3.25 * u.deg
    assert dot.magnitude == 9.5 * u.mag
    assert galaxy == "NGC 7331"
    assert find_target("loop", targets=path) == loop
    assert find_target("M 31", targets=path).name == "M 31"
    assert [target.name for target in find_targets([str(path), "ngc7331"])] == ["Loop", "Dot", "NGC 7331"]


def test_a_figure_under_a_column_that_names_its_unit_may_carry_one(tmp_path):
    for size in ("90", "90 arcmin", "1.5 deg"):
        target, = read_target_list(_list(tmp_path, f"name,ra,dec,size_arcmin\nx,1,2,{size}"))
        assert target.size_major.to_value(u.arcmin) == pytest.approx(90)


def test_a_comma_that_parts_no_cells_is_a_decimal_mark(tmp_path):
    # 10,38 was 10 h 38 min.
    read, = read_target_list(_list(tmp_path, "name;ra;dec;size\nA 1,2;10,38;-41,27;10,5"))
    assert (read.name, read.ra, read.dec, read.size_major) == (
        "A 1,2", 10.38 * u.deg, -41.27 * u.deg, 10.5 * u.arcmin)
    with pytest.raises(InvalidInputError, match=r"right ascension = 10,38: .*Write it like 10\.38"):
        read_target_list(_list(tmp_path, 'name,ra,dec\nx,"10,38","41,27"'))


@pytest.mark.parametrize(("text", "words"), [
    ("", "must hold a line of column names"), ("name,ra\nx,3", "must hold name, and ra and dec together"),
    ("nam,ra,dec\nx,1,2", "nam: is not a column of a target list. Did you mean name"), ("name,name\nx,y", "each once"),
    ("name,ra,dec\nx,1,99", "mine.csv, line 2, declination = 99"), ("name,ra,dec\nx,1,", "line 2, declination"),
    ("name,ra,dec\nx,1,2,3,4", "must hold name, ra, dec"), ("name,ra,dec\n,1,2", "line 2"),
    ("name,ra,dec,magnitude\nx,1,2,bright", "magnitude = bright: must"), ("name,ra,dec,size\nx,1,2,-3", "size_major"),
    ("name,ra,dec\nx,1,2\ny,\"1,2", 'mine.csv, line 3 = y,"1,2: may hold double quotes only'),
    ("name,ra,dec\nx," + "2" * 200_000 + ",1", "line 2, right ascension = 2222"),
    ("name,ra,dec,mag\nx,1,2,nan", "finite"), ("name,ra,dec,size\nx,1,2,nan", "size_major"),
])
def test_bad_lists_are_named_by_line(tmp_path, text, words):
    with pytest.raises(InvalidInputError, match=words):
        read_target_list(_list(tmp_path, text))


def test_the_standing_list_comes_first_when_there_is_one(tmp_path, monkeypatch):
    monkeypatch.setattr("planner.files.targets.find.user_targets_path", lambda: tmp_path / "mine.csv")
    assert find_target("M 31").name == "M 31"
    _list(tmp_path, "name,ra,dec\nM 31,10,20\n")
    assert find_target("m 31").dec == 20 * u.deg


def test_the_demo_list_is_known_to_the_catalogue():
    from planner.files.own_files import packaged_data

    targets = find_targets([str(packaged_data("targets.csv"))])
    assert len(targets) == 10
    assert min(target.dec for target in targets) < -30 * u.deg < 60 * u.deg < max(target.dec for target in targets)


@pytest.mark.parametrize("text", ["\udcff", "\ud800 1 2", "NGC\x007331", "\u202eM31"])
def test_bytes_that_are_no_text_are_refused_as_a_name(text):
    with pytest.raises(InvalidInputError, match="must hold no control characters"):
        find_target(text)


def test_many_names_are_found_as_one_by_one_and_the_others_kept_apart():
    names = ["NGC 891", "horsehead", "M 31", "22 37 04 +34 24 57", "no such thing", "NGC 99999", "moon", "", "Sh2-101"]
    found, unknown = find_each(names)
    assert list(unknown) == ["no such thing", "NGC 99999", "moon"]
    assert all(found[name] == find_target(name) for name in found)
    assert len(found) == 5


def test_a_name_of_a_cluster_keeps_its_letters():
    assert find_target("mel 22").name == "Mel 22"


@pytest.mark.parametrize(("wanted", "offered", "never"), [
    ("Sculptor Filament", "", "helmet"),  # no object of that kind has such a word
    ("Horshead", "Horsehead Nebula", "helmet"),
    ("Rosete Nebula", "Rosette Nebula", "Lobster"),
    ("Andromda Galaxy", "Andromeda Galaxy", "Nebula"),
])
def test_names_offered_are_near_in_a_word_and_of_the_kind(wanted, offered, never):
    with pytest.raises(InvalidInputError) as caught:
        find_target(wanted)
    assert offered in str(caught.value)
    assert never not in str(caught.value)


def test_a_listed_brightness_that_no_galaxy_has_is_left_out():
    # McConnachie 2012, AJ 144, 4: the Sculptor dwarf's central surface brightness is 23.5 in V; listed is 18.75.
    assert not find_target("ESO 351-030").surface_brightness
