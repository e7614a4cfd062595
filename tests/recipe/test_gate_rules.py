"""gate.yaml: what it asks, what is asked without it, who is told, and every mistake in it named with its line."""

from __future__ import annotations

import inspect
import re
import textwrap
from pathlib import Path

import pytest

from prep.errors import (
    BadQuantity,
    BadRecipe,
    BadTable,
    BadValue,
    DuplicateKey,
    Faults,
    MissingFile,
    PrepError,
    UnknownKey,
    UnknownRow,
)
from prep.recipe.gate_rules import Expected, Rules, read_rules

ROOT = Path(__file__).resolve().parents[2]
FULL = """process: extrusion-0.4
bed: 100, 110, 120 mm
wall: 1.2 mm
longest:
  - {match: "body*", longest: 92 mm ± 1 mm}
  - {match: "*.obj", unit: inch}
told: [Ada, Ben]
quiet: 3 s
interval: 1 min
stuck: 5 min
largest: 50
time: 90 s
memory: 2048
"""


def rules_of(folder: Path, text: str) -> Rules:
    """The rules of a folder whose gate.yaml holds a text."""
    (folder / "gate.yaml").write_text(text, encoding="utf-8")
    return read_rules(folder)


def faults_in(folder: Path, text: str) -> list[PrepError]:
    """What is wrong with a text, one by one."""
    with pytest.raises(Faults) as caught:
        rules_of(folder, text)
    return list(caught.value.faults)


def test_everything_said(tmp_path: Path) -> None:
    """Every key is read in its unit, and the first pattern that fits a name, case aside, counts."""
    rules = rules_of(tmp_path, FULL)
    assert rules.model_fields_set == set(Rules.model_fields)
    assert (rules.bed, rules.wall, rules.quiet, rules.interval) == ((100.0, 110.0, 120.0), 1.2, 3.0, 60.0)
    assert (rules.stuck, rules.largest, rules.time, rules.memory) == (300.0, 50, 90.0, 2048)
    body, other = rules.asking("Body_revC.obj", tmp_path), rules.asking("cap.OBJ", tmp_path)
    assert (body.longest, body.unit) == ("92 mm ± 1 mm", None)
    assert (other.longest, other.unit) == (None, "inch")
    assert body.short_hash != other.short_hash
    assert rules.asking("body2.stl", tmp_path).short_hash == body.short_hash


@pytest.mark.parametrize("text", [None, "", "# wall: 1.2 mm\n\n"])
def test_nothing_said(tmp_path: Path, text: str | None) -> None:
    """Without gate.yaml, or with one in which nothing or only remarks stand, every key has its default."""
    rules = read_rules(tmp_path) if text is None else rules_of(tmp_path, text)
    assert rules == Rules()
    assert rules.model_fields_set == set()


def test_told_of() -> None:
    """The names of the first pattern that fits come first, then those told of every file, nobody twice."""
    rules = Rules(
        longest=(
            Expected(match="body_rev?.stl", told=("Ada", "Cem")),
            Expected(match="body*", told=("Ben",)),
            Expected(match="lid*"),
        ),
        told=("workshop", "Ada"),
    )
    assert rules.told_of("body_revC.stl") == ("Ada", "Cem", "workshop")
    assert rules.told_of("BODY v2.stl") == ("Ben", "workshop", "Ada")
    assert rules.told_of("lid.stl") == rules.told_of("dial.stl") == ("workshop", "Ada")
    assert Rules().told_of("lid.stl") == ()


def test_told_asks_nothing_else_of_a_file(tmp_path: Path) -> None:
    """Who is told does not make content that was judged under another name be judged again."""
    asked = [
        rules_of(tmp_path, f"longest: [{{match: 'lid*', unit: inch{told}}}]\n").asking("lid.stl", tmp_path).short_hash
        for told in ("", ", told: [Ada]")
    ]
    assert asked[0] == asked[1]


@pytest.mark.parametrize(
    ("text", "kind", "says"),
    [
        ("proces: x\n", UnknownKey, "did you mean `process`"),
        ("longest: [{match: a, longst: 1 mm}]\n", UnknownKey, "did you mean `longest`"),
        ("longest: [{match: a, unit: inches}]\n", BadValue, "did you mean `inch`"),
        ("longest: [{match: a, told: Ada}]\n", BadValue, "write a list: `told: [Ada]`"),
        ("wall: 3\n", BadQuantity, "write `3 mm`"),
        ("quiet: 3\n", BadQuantity, "write `3 s`"),
        ("quiet: 3 mm\n", BadQuantity, "is a unit of length"),
        ("interval: 0 s\n", BadValue, "give at least `0.05 s`"),
        ("wall: 0 mm\n", BadValue, "give more than `0 mm`"),
        ("memory: 12\n", BadValue, "give at least 256"),
        ("largest: 50 MB\n", BadValue, "write a whole number, as `largest: 600`"),
        ("told: Ada\n", BadValue, "must be a list"),
        ("bed: -1, 2, 3 mm\n", BadValue, "every side of the bed must be more than 0 mm"),
        ("bed: 180, 180, 0 mm\n", BadValue, "found: `180, 180, 0 mm`"),
        ("bed: 0, 180, 180 mm\n", BadValue, "write values that fit, as `bed: 180, 180, 180 mm`"),
        ("longest: [{longest: 1 mm}]\n", PrepError, "`match` is missing"),
        ("wall: 1 mm\nwall: 2 mm\n", DuplicateKey, "first on line 1"),
        ("wall: 1 mm\nprocess: extrusion-0.5\n", UnknownRow, "gate.yaml:2"),
        ("- 1\n", BadRecipe, "a gate file is a mapping of keys to values"),
        ("a: [\n", BadRecipe, "the gate file is not YAML"),
        ("wall:\n\t1 mm\n", BadRecipe, "indent with spaces only"),
    ],
)
def test_mistakes(tmp_path: Path, text: str, kind: type[PrepError], says: str) -> None:
    """Each mistake is a fault with its line, what was found, and one thing to do that has to do with gate.yaml."""
    with pytest.raises(kind) as caught:
        rules_of(tmp_path, text)
    assert says in str(caught.value)
    assert f"{tmp_path / 'gate.yaml'}" in caught.value.where
    assert caught.value.fix
    assert "recipe" not in f"{caught.value.what} {caught.value.fix}"


@pytest.mark.parametrize(
    ("text", "fix"),
    [
        ("bed: 170 x 160 x 150 mm", 'write "170, 160, 150 mm"'),
        ("bed: 17x16x15 cm", 'write "17, 16, 15 cm"'),
        ("bed: 170 160 150", 'write "170, 160, 150 mm"'),
        ("bed: [170 mm, 160 mm, 150 mm]", 'write "170, 160, 150 mm"'),
        ("bed: 170, 160, 150 millimetres", 'write "170, 160, 150 mm"'),
        ("stuck: 2 hours", "write `2 h`"),
        ("wall: 1,3 mm", "write a decimal point: `1.3 mm`"),
        ("longest: [{match: a, longest: 91 mm +- 2}]", "write `91 mm ± 2 mm`"),
        ("told: Cem, Dora", "write a list: `told: [Cem, Dora]`"),
    ],
)
def test_what_was_written_is_kept(tmp_path: Path, text: str, fix: str) -> None:
    """Where it is sure what is meant, the fix is the reader's own values in the right form, which is then read."""
    with pytest.raises(PrepError) as caught:
        rules_of(tmp_path, text + "\n")
    assert caught.value.fix == fix
    key, _, value = text.partition(": ")
    own = re.findall(r"[\"`]([^\"`]+)[\"`]", fix)[-1].removeprefix(f"{key}: ")
    mended = value.replace("91 mm +- 2", own) if value.startswith("[{") else own
    assert rules_of(tmp_path, f"{key}: {mended}\n").model_fields_set == {key}


@pytest.mark.parametrize(
    ("text", "fix"),
    [
        ("stuck: 2 days", "write a time with its unit (s, min, h), as `10 min`"),
        ("quiet: 3 mm", "write a time with its unit (s, min, h), as `2 s`"),
        ("bed: 180, 170", "write x, y and z with one unit, as `180, 180, 180 mm`"),
        ("bed: 12,5 x 3 mm", "write x, y and z with one unit, as `180, 180, 180 mm`"),
        (
            "longest: [{match: a, longest: 9 ells}]",
            "write a length with its unit, and the tolerance allowed, as `92 mm ± 1 mm`",
        ),
        ("told: {a: 1}", "write a list, as `told: [Ada, Ben]`"),
    ],
)
def test_what_is_not_sure_is_shown_as_a_form(tmp_path: Path, text: str, fix: str) -> None:
    """Where it is not sure what is meant, the fix says the form by the key's own example, and makes up no value."""
    with pytest.raises(PrepError) as caught:
        rules_of(tmp_path, text + "\n")
    assert caught.value.fix == fix


@pytest.mark.parametrize(
    ("text", "entry"),
    [
        ("longest: 92 mm", '- {match: "*", longest: 92 mm}'),
        ("longest: 92", '- {match: "*", longest: 92 mm}'),
        ("longest: [92 mm ± 1 mm]", '- {match: "*", longest: 92 mm ± 1 mm}'),
        ('longest: {match: "*b", longest: 3 mm, told: [Ada]}', '- {match: "*b", longest: 3 mm, told: [Ada]}'),
    ],
)
def test_size_that_is_no_list(tmp_path: Path, text: str, entry: str) -> None:
    """A size at the top of gate.yaml is shown as an entry of the list that belongs there, which is then read."""
    with pytest.raises(BadValue) as caught:
        rules_of(tmp_path, text + "\n")
    assert caught.value.fix == f"write a list under it: `{entry}`"
    assert rules_of(tmp_path, f"longest:\n  {entry}\n").expected("xb") is not None


def test_all_mistakes_at_once(tmp_path: Path) -> None:
    """However different they are, all mistakes are told together, by line; those of the shop's tables follow."""
    (tmp_path / "shop").mkdir()
    (tmp_path / "shop" / "processes.csv").write_text("name,nonsense\nx,1\n", encoding="utf-8")
    text = "wal: 1 mm\nquiet: 3\nlongest:\n  - {match: 'lid*', unit: inches}\nquiet: 4 s\n"
    faults = faults_in(tmp_path, text)
    assert [type(each) for each in faults] == [UnknownKey, BadQuantity, BadValue, DuplicateKey, BadTable]
    lines = [re.search(r"gate\.yaml:(\d+)", each.where) for each in faults]
    assert [int(line[1]) if line else None for line in lines] == [1, 2, 4, 5, None]
    assert "processes.csv" in faults[-1].where


def test_unknown_process_beside_other_mistakes(tmp_path: Path) -> None:
    """A process that no table has is told with its line, whatever else is wrong."""
    faults = faults_in(tmp_path, "wall: 3\nprocess: extrusion-0.44\n")
    assert [each.where.rpartition(":")[2] for each in faults] == ["1", "2"]
    assert "did you mean `extrusion-0.4`" in faults[1].fix


def test_link_to_nothing(tmp_path: Path) -> None:
    """A gate.yaml that is a link to nothing is a fault, not a folder without rules."""
    (tmp_path / "gate.yaml").symlink_to(tmp_path / "gone.yaml")
    with pytest.raises(MissingFile, match="no such gate file"):
        read_rules(tmp_path)


def test_shop_tables_count(tmp_path: Path) -> None:
    """A process of the shop's own table may be asked for; a table that cannot be read is a fault."""
    (tmp_path / "shop").mkdir()
    table = tmp_path / "shop" / "processes.csv"
    table.write_text("name,bed_x_mm\nextrusion-0.4,77\n", encoding="utf-8")
    assert rules_of(tmp_path, "process: extrusion-0.4\n").process == "extrusion-0.4"
    table.write_text("name,nonsense\nx,1\n", encoding="utf-8")
    with pytest.raises(BadTable):
        read_rules(tmp_path)


def test_example_on_its_page(tmp_path: Path) -> None:
    """The example under `Examples`, which `prep explain gate` prints, is read, and shows every form of expectation."""
    _, _, section = inspect.cleandoc(Rules.__doc__ or "").partition("Examples\n--------\n")
    example, _, _ = section.partition("\n\n")
    rules = rules_of(tmp_path, textwrap.dedent(example) + "\n")
    assert rules.told_of("body_revC.stl") == ("Ada", "workshop")
    assert {key for one in rules.longest for key in one.model_fields_set} == set(Expected.model_fields)


def test_example_in_the_readme(tmp_path: Path) -> None:
    """The gate.yaml that README shows is read."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    _, _, section = readme.partition("### A shared folder\n")
    example = re.search(r"```yaml\n(.*?)```", section, flags=re.DOTALL)
    assert example is not None
    assert rules_of(tmp_path, example[1]).longest


def test_every_key_says_what_happens() -> None:
    """Every key has a description of several words."""
    short = [
        f"{model.__name__}.{name}"
        for model in (Rules, Expected)
        for name, field in model.model_fields.items()
        if len((field.description or "").split()) < 6
    ]
    assert short == []
