"""Reading a recipe: what is held, and every fault with its line and its fix."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

import pytest

from prep.errors import (
    BadQuantity,
    BadRecipe,
    BadTable,
    BadValue,
    DuplicateKey,
    Faults,
    LooserLimit,
    MissingFile,
    MissingKey,
    PrepError,
    UnknownCheck,
    UnknownKey,
    UnknownPart,
    UnknownRow,
    UnknownStep,
)
from prep.recipe import Recipe, read_recipe
from tests.recipe.conftest import HEAD

Read = Callable[..., Recipe]


def refused(read: Read, text: str, kind: type[PrepError], head: str = HEAD) -> PrepError:
    """The one fault a recipe is refused with."""
    with pytest.raises(kind) as caught:
        read(text, head)
    return caught.value


def test_whole_recipe(read: Read, tmp_path: Path) -> None:
    """Every section of a recipe is held in base units, with the lines it stood on."""
    recipe = read(
        """\
revision: 3
carries:
  - {item: CR2032, part: body, at: "0, 0, 8 mm"}
steps:
  - step: drill_hole
    name: vent
    part: body
    width: 0.25 in
    at: {facing: +z, ring: {count: 3, radius: 4 mm}}
  - {step: join_pair, between: [body, back]}
checks: {wall: 1.2 mm, loose: {accept: "it is a rattle"}}
outputs: {format: both}
"""
    )
    drill, join = recipe.steps
    assert recipe.revision == "3"
    assert recipe.slug == "kitchen-timer-3"
    assert recipe.carries[0].at == (0.0, 0.0, 8.0)
    assert drill.width == 6.35
    assert drill.at[0].ring.radius == 4.0
    assert join.changes() == ("body", "back")
    assert recipe.checks["wall"].check.limit == 1.2
    assert recipe.checks["loose"].accept == "it is a rattle"
    assert recipe.outputs.format == "both"
    assert (recipe.line_of(0), recipe.line_of(1)) == (11, 16)
    assert recipe.where("steps", 0, "width").endswith("timer.yaml:14")
    assert recipe.step_where(0).endswith('timer.yaml:11, step "vent"')
    assert recipe.sha256 == hashlib.sha256((tmp_path / "timer.yaml").read_bytes()).hexdigest()
    assert recipe.mesh_path("body") == tmp_path / "body.stl"


def test_defaults(read: Read) -> None:
    """A recipe of four keys is whole: parts in mm, printed along z, 3MF out, no steps."""
    recipe = read("")
    part = recipe.parts["body"]
    assert (part.unit, part.up, part.place, part.longest) == ("mm", (0.0, 0.0, 1.0), None, None)
    assert (recipe.revision, recipe.steps, recipe.outputs.format) == ("A", (), "3mf")
    assert recipe.process_row.name == "extrusion-0.4"
    assert recipe.material_row("body").density_g_cm3 == recipe.tables.materials.get("pla").density_g_cm3


def test_frozen(read: Read) -> None:
    """A recipe that was read cannot be changed."""
    with pytest.raises(Exception, match="frozen"):
        read("").project = "other"


def test_bare_number(read: Read) -> None:
    """A number without a unit is refused with the text to write."""
    fault = refused(read, "steps:\n  - {step: drill_hole, part: body, width: 5}\n", BadQuantity)
    assert fault.fix == "write `5 mm`"
    assert fault.where.endswith('timer.yaml:8, step "drill hole"')


def test_wrong_dimension(read: Read) -> None:
    """A mass where a length belongs names both."""
    fault = refused(read, "steps:\n  - {step: drill_hole, part: body, width: 5 g}\n", BadQuantity)
    assert "a length is needed here, but `g` is a unit of mass" in fault.what


def test_outside_limits(read: Read) -> None:
    """A length that must be more than nothing says so with its unit."""
    fault = refused(read, "steps:\n  - {step: drill_hole, part: body, width: -1 mm}\n", BadValue)
    assert fault.fix == "give more than `0 mm`"
    assert fault.found == "`-1 mm`"


def test_example_keeps_the_limits_of_its_key(read: Read) -> None:
    """What is shown as an example would itself be taken: 35 % is over a limit of 20 %, so the form stands alone."""
    text = "steps:\n  - {step: drill_hole, part: body, width: thin, share: some, rest: some}\n"
    with pytest.raises(Faults) as caught:
        read(text)
    assert [fault.fix for fault in caught.value.faults] == [
        'write a length with its unit (mm, um, µm, cm, m, in, ", ft), as `5 mm`',
        "write a share with its unit (%), as `35 %`",
        "write a share with its unit (%)",
    ]


def test_share_over_limit(read: Read) -> None:
    """A share over one is refused in percent, though optional."""
    fault = refused(read, "steps:\n  - {step: drill_hole, part: body, width: 1 mm, share: 120 %}\n", BadValue)
    assert fault.fix == "give at most `100 %`"


def test_unknown_key_of_step(read: Read) -> None:
    """A misspelt setting finds the nearest, on its own line."""
    fault = refused(
        read, "steps:\n  - step: drill_hole\n    part: body\n    widht: 5 mm\n    width: 5 mm\n", UnknownKey
    )
    assert fault.fix == "did you mean `width`?"
    assert ":10" in fault.where


def test_unknown_key_at_top(read: Read) -> None:
    """A misspelt section finds the nearest."""
    assert refused(read, "carrys: []\n", UnknownKey).fix == "did you mean `carries`?"


def test_unknown_key_deep(read: Read) -> None:
    """A misspelt word inside a place finds the nearest word of places."""
    text = "steps:\n  - {step: drill_hole, part: body, width: 1 mm, at: {point: '0, 0, 0 mm', rign: {}}}\n"
    assert refused(read, text, UnknownKey).fix == "did you mean `ring`?"


def test_word_from_alias(read: Read) -> None:
    """Keys are offered as they are written, `from` and not the name held inside."""
    text = "steps:\n  - {step: drill_hole, part: body, width: 1 mm, at: {ray: {form: '0, 0, 0 mm', toward: -z}}}\n"
    with pytest.raises(Faults) as caught:
        read(text)
    assert {fault.code for fault in caught.value.faults} == {"unknown-key", "missing-key"}
    assert "did you mean `from`?" in str(caught.value)


def test_wrong_word(read: Read) -> None:
    """A word that is not among those allowed finds the nearest."""
    fault = refused(read, "steps:\n  - {step: drill_hole, part: body, width: 1 mm, fixing: glued}\n", BadValue)
    assert fault.fix == "did you mean `glue`?"


def test_whole_number(read: Read) -> None:
    """A count is a whole number."""
    fault = refused(read, "steps:\n  - {step: drill_hole, part: body, width: 1 mm, count: 2.5}\n", BadValue)
    assert "must be a whole number" in fault.what


def test_settings_that_do_not_go_together(read: Read) -> None:
    """What a step says in its own words is told with the step's line and where to look."""
    fault = refused(read, "steps:\n  - {step: drill_hole, part: body, width: 1 mm, share: 5 %, count: 2}\n", BadValue)
    assert fault.what == "`share` goes with one hole only"
    assert fault.fix == "see `prep explain drill_hole`"
    assert fault.where.endswith('timer.yaml:8, step "drill hole"')


def test_place_of_two_forms(read: Read) -> None:
    """A place that is said twice is refused in the words of places."""
    text = "steps:\n  - {step: drill_hole, part: body, width: 1 mm, at: {point: '0, 0, 0 mm', facing: +z}}\n"
    fault = refused(read, text, BadValue)
    assert "exactly one of point, ray, facing, seam" in fault.what
    assert fault.fix == "see `prep explain at`"


def test_missing_key(read: Read) -> None:
    """A setting without default that is left out is named with an example."""
    fault = refused(read, "steps:\n  - {step: drill_hole, part: body}\n", MissingKey)
    assert fault.fix == "add `width: 5 mm`"


def test_missing_sections(read: Read) -> None:
    """All sections that have no default are missed at once."""
    with pytest.raises(Faults) as caught:
        read("", head="recipe: 1\n")
    assert [fault.what.split("`")[1] for fault in caught.value.faults] == ["project", "process", "parts"]
    assert {type(fault) for fault in caught.value.faults} == {MissingKey}


def test_several_faults(read: Read) -> None:
    """Faults of several kinds in one file are all reported, in the order of the file."""
    with pytest.raises(Faults) as caught:
        read(
            "carrys: []\n"
            "steps:\n"
            "  - {step: drill_hole, part: bodi, width: 5}\n"
            "  - {step: dril_hole}\n"
            "  - {step: join_pair, between: [body, backk]}\n"
            "checks: {wal: 1 mm}\n"
        )
    assert [fault.code for fault in caught.value.faults] == [
        "unknown-key",
        "bad-quantity",
        "unknown-part",
        "unknown-step",
        "unknown-part",
        "unknown-check",
    ]


def test_unknown_step(read: Read) -> None:
    """A step that does not exist finds the nearest."""
    assert refused(read, "steps: [{step: dril_hole}]\n", UnknownStep).fix == "did you mean `drill_hole`?"


def test_step_without_word(read: Read) -> None:
    """A step begins with its word."""
    assert "- step: drill_hole" in refused(read, "steps: [{part: body}]\n", MissingKey).fix


def test_steps_not_a_list(read: Read) -> None:
    """Steps are a list."""
    assert "is a list" in refused(read, "steps: {step: drill_hole}\n", BadValue).what


def test_unknown_part(read: Read) -> None:
    """A part that is not listed finds the nearest."""
    fault = refused(read, "steps: [{step: join_pair, between: [body, bakc]}]\n", UnknownPart)
    assert fault.fix == "did you mean `back`?"


def test_unknown_part_of_carried(read: Read) -> None:
    """A carried item is held by a part of the recipe."""
    refused(read, "carries: [{item: CR2032, part: lid, at: '0, 0, 0 mm'}]\n", UnknownPart)


def test_carried_mass(read: Read) -> None:
    """A carried item weighs what its row says, or what the recipe says."""
    recipe = read(
        "carries:\n"
        "  - {item: cr2032, part: body, at: '0, 0, 0 mm'}\n"
        "  - {item: little bell, part: body, at: '0, 0, 0 mm', mass: 12 g}\n"
    )
    cell, bell = recipe.carries
    assert recipe.carried_mass_g(cell) == recipe.tables.cells.get("CR2032").mass_g
    assert recipe.carried_mass_g(bell) == 12.0


def test_unknown_carried(read: Read) -> None:
    """A carried item that no table knows and that has no mass is refused."""
    fault = refused(read, "carries: [{item: CR2023, part: body, at: '0, 0, 0 mm'}]\n", UnknownRow)
    assert "did you mean `CR20" in fault.fix


def test_unknown_check(read: Read) -> None:
    """A check that does not exist finds the nearest."""
    assert refused(read, "checks: {wal: 1.2 mm}\n", UnknownCheck).fix == "did you mean `wall`?"


def test_check_without_limit(read: Read) -> None:
    """A check without a limit takes a mapping only."""
    assert "has no single limit" in refused(read, "checks: {loose: 1 mm}\n", BadValue).what


def test_looser_limit(read: Read) -> None:
    """A limit looser than the process needs a reason."""
    fault = refused(read, "checks: {wall: 0.3 mm}\n", LooserLimit)
    assert fault.found == "0.3 mm, the process says 0.8 mm"


def test_looser_limit_with_reason(read: Read) -> None:
    """A limit looser than the process stands with a reason."""
    wanted = read('checks: {wall: {limit: 0.3 mm, accept: "a display piece"}}\n').checks["wall"]
    assert (wanted.check.limit, wanted.accept) == (0.3, "a display piece")


def test_unknown_process(read: Read) -> None:
    """A process that no table has is refused while reading, with the nearest."""
    fault = refused(read, "", UnknownRow, HEAD.replace("extrusion-0.4", "extrusion-0.5"))
    assert "extrusion-0." in fault.fix
    assert fault.where.endswith(":3")


def test_unknown_material(read: Read) -> None:
    """A material that no table has is refused while reading, with its line."""
    fault = refused(read, "", UnknownRow, HEAD.replace("back.stl, material: pla", "back.stl, material: plaa"))
    assert fault.where.endswith(":6")


def test_missing_mesh(read: Read) -> None:
    """A mesh that is not there finds the nearest file beside it."""
    fault = refused(read, "", MissingFile, HEAD.replace("body.stl", "boody.stl"))
    assert fault.fix == "did you mean `body.stl`?"


def test_part_name(read: Read) -> None:
    """A part's name that could not be a file's name is refused."""
    refused(read, "", BadValue, HEAD.replace("  body:", "  ../body:"))


def test_shop_table(read: Read, tmp_path: Path) -> None:
    """A shop's row beside the recipe is known to it."""
    (tmp_path / "shop").mkdir()
    (tmp_path / "shop" / "materials.csv").write_text("name,density_g_cm3\npla,1.3\n")
    assert read("").material_row("body").density_g_cm3 == 1.3


def test_bad_shop_table(read: Read, tmp_path: Path) -> None:
    """A shop's table that cannot be read is a fault beside the recipe's own."""
    (tmp_path / "shop").mkdir()
    (tmp_path / "shop" / "materials.csv").write_text("name,densty\npla,1.3\n")
    with pytest.raises((BadTable, Faults)) as caught:
        read("carrys: []\n")
    assert "error[bad-table]" in str(caught.value)
    assert "error[unknown-key]" in str(caught.value)


def test_another_version(read: Read) -> None:
    """A recipe of another version is refused before anything else is judged."""
    assert "version 1" in refused(read, "", BadRecipe, "recipe: 2\nwhatever: x\n").found


def test_no_version(read: Read) -> None:
    """A recipe says which version it is written in."""
    assert refused(read, "", MissingKey, HEAD.replace("recipe: 1\n", "")).fix == "begin with `recipe: 1`"


def test_missing_file(tmp_path: Path) -> None:
    """A recipe that is not there finds the nearest file."""
    (tmp_path / "timer.yaml").write_text("recipe: 1\n")
    with pytest.raises(MissingFile) as caught:
        read_recipe(tmp_path / "timr.yaml")
    assert "timer.yaml" in caught.value.fix


def test_duplicate_key(read: Read) -> None:
    """A key that stands twice is refused with both lines."""
    fault = refused(read, "project: other\n", DuplicateKey)
    assert fault.where.endswith(":7")
    assert "line 2" in fault.found


def test_every_fault_has_four_parts(read: Read) -> None:
    """What is wrong, where, and what to do are never empty."""
    with pytest.raises(Faults) as caught:
        read("steps:\n  - {step: drill_hole, part: bodi, width: 5, count: x}\n  - 3\nchecks: [1]\ncarries: {}\n")
    assert len(caught.value.faults) == 6
    assert all(fault.what and fault.where and fault.fix for fault in caught.value.faults)


def test_steps_do_not_share_a_title(read: Read) -> None:
    """Unnamed steps of a kind are numbered, past names that are given; a name given twice is a fault with its line."""
    join = "  - {step: join_pair, between: [body, back]}\n"
    recipe = read("steps:\n" + join * 2 + join.replace("}", ", name: join pair 3}") + join)
    assert [step.title for step in recipe.steps] == ["join pair", "join pair 2", "join pair 3", "join pair 4"]
    twice = join.replace("}", ", name: lid}") * 2
    fault = refused(read, "steps:\n" + twice, BadValue)
    assert "same name" in fault.what
    assert ":9" in fault.where


@pytest.mark.parametrize(("name", "says"), [("Body", "`Body` beside `body`"), ("CON", "`CON`"), ("lpt9", "`lpt9`")])
def test_part_names_that_some_systems_confuse(read: Read, name: str, says: str) -> None:
    """Names that differ in capitals only, and names of devices, are refused with the line and a way out."""
    fault = refused(read, "", BadValue, HEAD.replace("  back:", f"  {name}:"))
    assert fault.found == says
    assert fault.where.endswith(":6")
    assert fault.fix
