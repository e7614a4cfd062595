"""`explain` knows every step, check, setting, fault, table and law, and helps where it does not."""

from __future__ import annotations

import pytest

from prep.checks import all_checks
from prep.errors import UnknownWord
from prep.recipe.gate_rules import Expected, Rules
from prep.reference import explain
from prep.reference.explain import all_faults, all_laws, all_words, gate_owners, owners, recipe_owners
from prep.steps import all_steps


def test_every_word_is_explained() -> None:
    """Every word on offer has an answer that holds more than the word itself."""
    for word in all_words():
        assert len(explain(word).split()) > 3, word


def test_step() -> None:
    """A step's answer holds its docstring and all its settings."""
    for word, step in all_steps().items():
        text = explain(word)
        assert (step.__doc__ or "").strip().split("\n")[0] in text
        assert all(f"\n  {field.alias or name}\n" in text for name, field in step.model_fields.items())


def test_check() -> None:
    """A check's answer holds its docstring."""
    for word, check in all_checks().items():
        assert (check.__doc__ or "").strip().split("\n")[0] in explain(word)


def test_setting_of_one_step() -> None:
    """`step.setting` is that setting alone."""
    text = explain("seat_magnets.fixing")
    assert text.startswith("setting seat_magnets.fixing\n")
    assert "default: glue" in text


def test_bare_setting() -> None:
    """A bare setting is told for every owner, and what it may hold once."""
    text = explain("at")
    assert "carries.at" in text
    assert text.count("mapping at\n") == 1


def test_spaces_and_hyphens() -> None:
    """A word is found however it is joined."""
    assert explain("seat magnets") == explain("seat_magnets") == explain("Seat-Magnets")
    assert explain("too_weak") == explain("too-weak")


def test_fault() -> None:
    """A fault's answer is its meaning and its exit status."""
    assert explain("bad-quantity").startswith("fault bad-quantity (exit status 2)\n")


def test_table_and_column() -> None:
    """A table's answer lists its columns; a column may be asked for alone."""
    assert "wall_limit_mm" in explain("processes")
    assert "thinnest wall" in explain("processes.wall_limit_mm")


def test_law_has_its_source() -> None:
    """A law is told with its formula and source."""
    text = explain("pull_force")
    assert "Vokoun" in text
    assert "J1(q R1)" in text
    assert {"pull_force", "wall_thickness"} <= set(all_laws())


@pytest.mark.parametrize("word", ["steps", "checks", "tables", "faults", "laws", "recipe", "gate"])
def test_lists(word: str) -> None:
    """Each kind of word can be listed."""
    assert explain(word).count("\n") >= 3


def test_list_of_faults_is_whole() -> None:
    """The list of faults names every code."""
    text = explain("faults")
    assert all(code in text for code in all_faults())


def test_gate() -> None:
    """The gate's answer holds what stands in verdicts, an example, and every key of gate.yaml, whatever its depth."""
    text = explain("gate")
    assert text == explain("gate.yaml") == explain("watch")
    assert "ledger.jsonl" in text
    assert '- {match: "body*", longest: 92 mm ± 1 mm' in text
    for model in (Rules, Expected):
        assert all(
            f"\n  {name}\n" in text and str(field.description)[:40] in text
            for name, field in model.model_fields.items()
        )


def test_key_of_the_gate() -> None:
    """A key of gate.yaml is told with its default, by `gate.key` or by the bare word."""
    assert "default: 2 s" in explain("gate.quiet")
    assert explain("quiet") == explain("gate.quiet")
    assert explain("stuck").startswith("setting gate.stuck\n")


def test_key_of_recipe_and_gate() -> None:
    """A word that recipes and gate.yaml share says both, and what the gate's holds once."""
    text = explain("longest")
    assert "setting parts.longest\n" in text
    assert "setting gate.longest\n" in text
    assert text.count("mapping longest\n") == 1
    assert "match" in text


def test_recipe_and_gate_share_no_mapping() -> None:
    """No word leads to one mapping in a recipe and to another in gate.yaml, so that none hides the other."""
    assert set(gate_owners()) == {"gate", "longest"}
    assert not set(recipe_owners()) & set(gate_owners())
    assert owners() == {**recipe_owners(), **gate_owners()}


@pytest.mark.parametrize(
    ("word", "near"), [("seat_magnet", "seat_magnets"), ("fixng", "fixing"), ("to-weak", "too-weak")]
)
def test_unknown_word(word: str, near: str) -> None:
    """A word that is not known finds the nearest."""
    with pytest.raises(UnknownWord) as caught:
        explain(word)
    assert f"`{near}`" in caught.value.fix


def test_nothing_near() -> None:
    """A word that resembles nothing is told where the lists are."""
    with pytest.raises(UnknownWord) as caught:
        explain("qqqqqqqq")
    assert "prep explain steps" in caught.value.fix
