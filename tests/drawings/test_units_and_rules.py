"""Units by name and number, and rules on layers, linetypes and kinds."""

from __future__ import annotations

import pytest

from nestlib.drawings.rules import DEFAULT_RULES, Rule, Rules, rules_from
from nestlib.drawings.sketch import Style
from nestlib.drawings.units import millimetres, unit_name, unit_of_code
from nestlib.errors import JobError


@pytest.mark.parametrize("text", ["in", "inch", "Inches", ' " ', "IN"])
def test_names_of_units_are_understood(text: str) -> None:
    """Whatever the case and the usual spellings."""
    assert unit_name(text) == "in"


@pytest.mark.parametrize("text", ["", "furlong", "mmm"])
def test_unknown_units_are_refused(text: str) -> None:
    """With the name that was given."""
    with pytest.raises(ValueError, match="there is no unit"):
        millimetres(text)


@pytest.mark.parametrize("code", [None, 0, -1, 25, 99])
def test_numbers_that_mean_no_unit(code: int | None) -> None:
    """Nothing is guessed for unitless, missing and unknown."""
    assert unit_of_code(code) is None


@pytest.mark.parametrize(
    ("layer", "action"),
    [
        ("0", "cut"),
        ("CUT_OUTER", "cut"),
        ("Aussenkontur", "cut"),
        ("multiple", "cut"),
        ("BENDING", "ignore"),
        ("Biegelinien", "ignore"),
        ("lignes de pliage", "ignore"),
        ("Plegado", "ignore"),
        ("CENTER_MARKS", "ignore"),
        ("Mittellinie", "ignore"),
        ("Dimensions", "ignore"),
        ("Bemaßung", "ignore"),
        ("Zeichnungsrahmen", "ignore"),
        ("cartouche", "ignore"),
        ("SHEET", "ignore"),
        ("LEAD_IN", "ignore"),
        ("Etching", "mark"),
        ("GRAVUR", "mark"),
        ("marquage", "mark"),
        ("Engraved text", "mark"),
    ],
)
def test_layers_in_plain_words(layer: str, action: str) -> None:
    """English, German, French and Spanish."""
    assert DEFAULT_RULES.action(Style("LINE", layer)) == action


@pytest.mark.parametrize("linetype", ["CENTER2", "HIDDEN", "DASHED", "PHANTOM", "ACAD_ISO04W100"])
def test_broken_lines_are_not_cut(linetype: str) -> None:
    """Linetypes of centre lines and hidden edges are left out on any layer but one of marks."""
    assert DEFAULT_RULES.action(Style("LINE", "0", linetype)) == "ignore"
    assert DEFAULT_RULES.action(Style("LINE", "etch", linetype)) == "mark"


def test_the_first_rule_that_fits_decides() -> None:
    """Order matters, and no rule means cut."""
    rules = Rules((Rule("mark", layer="a*"), Rule("ignore", layer="ab"), Rule("cut", kind="ARC")))
    assert [rules.action(Style("LINE", name)) for name in ("AB", "b")] == ["mark", "cut"]


def test_rules_of_a_job_come_before_the_usual_ones() -> None:
    """One layer is cut although its name says frame; the others stay as they are."""
    rules = rules_from([{"action": "cut", "layer": "FRAME", "kind": "LW*"}])
    assert rules.action(Style("LWPOLYLINE", "frame")) == "cut"
    assert rules.action(Style("LINE", "frame")) == "ignore"


def test_all_that_is_wrong_with_rules_is_told_at_once() -> None:
    """Unknown keys, patterns and actions, with the number of the rule."""
    with pytest.raises(JobError) as caught:
        rules_from([{"action": "burn"}, {"colour": 3, "layer": 7}], file="job.toml")
    problems = [(p.file, p.place, p.problem) for p in caught.value.problems]
    assert problems == [
        ("job.toml", "rule 1", "action is 'burn'"),
        ("job.toml", "rule 2", 'there is no key "colour"'),
        ("job.toml", "rule 2", "layer is 7"),
        ("job.toml", "rule 2", "action is None"),
    ]


def test_a_rule_says_what_it_is_about() -> None:
    """Lists of what was left out name it."""
    assert (
        str(Rule("ignore", layer="*bend*", kind="LINE")) == 'rule for layer "*bend*", kind "LINE"'
    )
    assert str(Rule("cut")) == "rule for everything"
