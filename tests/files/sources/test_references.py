"""The list of papers is gathered from the docstrings themselves."""

from planner.files.sources.formulas import formula_references


def test_references_are_gathered_with_their_modules(tmp_path):
    (tmp_path / "sky").mkdir()
    (tmp_path / "sky" / "a.py").write_text(
        '"""A.\n\n    .. [AB1] A. Bee, J. 1,\n       2 (1999).\n    .. [C2] C. Dee.\n"""\n')
    (tmp_path / "b.py").write_text('"""B.\n\n.. [AB1] A. Bee, J. 1, 2 (1999).\n"""\n')
    found = [(item.text, item.modules) for item in formula_references(tmp_path)]
    assert found == [("A. Bee, J. 1, 2 (1999).", ("b", "sky.a")), ("C. Dee.", ("sky.a",))]


def test_the_package_names_its_papers():
    texts = [item.text for item in formula_references()]
    assert any("Kasten" in text and "28, 4735" in text for text in texts)
    assert len(texts) > 10
