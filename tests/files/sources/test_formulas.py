"""Formulas are shown as their docstrings give them."""

from planner.files.sources.formulas import formulas

MODULE = '''"""Air.

Nothing to compute here.
"""


def airmass(h):
    r"""Return the airmass, :math:`X` for short [B2]_.

    .. math:: X = 1 /
              \\sin h

    and so on.

    Parameters
    ----------
    h : float
        Altitude.

    Returns
    -------
    float
        NaN below ``0``.

    Notes
    -----
    Flat.

    References
    ----------
    .. [A1] A. Author, J. 1,
       2 (1999).
    .. [B2] `other`
    """


def other(h):
    """Return more.

    .. [B2] B. Author, J. 3 (2001).
    """


def plain():
    """Return one."""
'''


def test_a_docstring_becomes_a_formula(tmp_path):
    (tmp_path / "sky").mkdir()
    (tmp_path / "sky" / "air.py").write_text(MODULE)
    first, second = formulas(tmp_path)
    assert (first.room, first.module, first.title) == ("sky", "planner.sky.air", "Airmass")
    assert first.summary == "The airmass, $X$ for short (B2)."
    assert first.equations == (r"X = 1 / \sin h",)
    assert first.validity == "$$ X = 1 / \\sin h $$\n\nand so on.\n\nNaN below `0`.\n\nFlat."
    assert first.references == ("A. Author, J. 1, 2 (1999).", "B. Author, J. 3 (2001).")
    assert second.summary == "More."
    assert first.holds("AUTHOR sin")
    assert not first.holds("author cos")


def test_every_paper_of_the_formula_rooms_is_shown():
    from planner.files.sources.formulas import ROOMS, formula_references

    shown = {paper for one in formulas() for paper in one.references}
    named = {item.text for item in formula_references() if item.modules[0].split(".")[0] in ROOMS}
    assert named - shown == set()
    assert all("::" not in one.validity and ":math:" not in one.validity for one in formulas())
