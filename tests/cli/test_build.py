"""`prep build`, `prep why` and `prep diff` as a person types them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from prep.cli import run


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A new project, built once."""
    folder = tmp_path_factory.mktemp("project") / "thing"
    assert run(["new", str(folder)]) == 0
    assert run(["build", str(folder / "thing.yaml")]) == 0
    return folder


def test_a_new_project_builds(built: Path) -> None:
    """What `prep new` starts is right from the first build."""
    out = built / "build" / "thing-A"
    assert {"parts", "pictures", "drawings", "report.html", "report.json"} <= {path.name for path in out.iterdir()}
    assert json.loads((out / "report.json").read_text("utf-8"))["verdict"] == "pass"


def test_json_is_all_of_stdout(built: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """With --json stdout is the report and nothing else, not even from a library below."""
    assert run(["build", str(built / "thing.yaml"), "--json"]) == 0
    assert json.loads(capfd.readouterr().out)["project"] == "thing"


def test_a_failed_check_is_status_one(built: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """A hold that is not met fails the build, and the summary says what and by how much."""
    recipe = built / "weak.yaml"
    text = (built / "thing.yaml").read_text("utf-8").replace("hold: 5 N", "hold: 500 N")
    recipe.write_text(text, "utf-8")
    assert run(["build", str(recipe), "-o", str(built / "weak")]) == 1
    assert "limit 500" in capfd.readouterr().out
    recipe.unlink()


def test_a_wrong_recipe_is_status_two_and_leaves_the_old_result(built: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """A fault is told in four parts on stderr; what was built before stays."""
    recipe = built / "wrong.yaml"
    recipe.write_text((built / "thing.yaml").read_text("utf-8").replace("disc 6x2 N42", "disc 6x2 N43"), "utf-8")
    report = (built / "build" / "thing-A" / "report.json").read_bytes()
    assert run(["build", str(recipe)]) == 2
    error = capfd.readouterr().err
    assert "error[unknown-row]" in error
    assert "wrong.yaml:" in error
    assert "disc 6x2 N42" in error
    assert (built / "build" / "thing-A" / "report.json").read_bytes() == report
    recipe.unlink()


def test_why_says_what_is_kept_and_what_is_not(built: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """After a build nothing is to be done again; a changed setting is named."""
    assert run(["why", str(built / "thing.yaml")]) == 0
    assert "kept" in capfd.readouterr().out
    recipe = built / "changed.yaml"
    recipe.write_text((built / "thing.yaml").read_text("utf-8").replace("count: 4", "count: 3"), "utf-8")
    assert run(["why", str(recipe), "--json"]) == 0
    assert [reason["again"] for reason in json.loads(capfd.readouterr().out)] == [True]
    recipe.unlink()


def test_diff_says_what_changed(built: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """Two reports side by side: the magnet, its mass, the part's volume; nothing for the same one twice."""
    recipe = built / "bigger.yaml"
    recipe.write_text((built / "thing.yaml").read_text("utf-8").replace("disc 6x2 N42", "disc 5x2 N42"), "utf-8")
    assert run(["build", str(recipe), "-o", str(built / "bigger")]) == 0
    capfd.readouterr()
    old = built / "build" / "thing-A"
    assert run(["diff", str(old), str(built / "bigger")]) == 0
    text = capfd.readouterr().out
    assert "disc 6x2 N42" in text
    assert "disc 5x2 N42" in text
    assert "pull" in text
    assert run(["diff", str(old), str(old / "report.json")]) == 0
    assert "nothing changed" in capfd.readouterr().out
    assert run(["diff", str(old), str(built / "bigger"), "--json"]) == 0
    assert {change["about"] for change in json.loads(capfd.readouterr().out)} >= {"item", "mass", "part", "step"}
    recipe.unlink()


@pytest.mark.parametrize("text", [None, "{}", "not json"])
def test_what_is_no_report_is_refused(
    tmp_path: Path, text: str | None, built: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """A missing file, another JSON, or no JSON at all: `bad-report`, status 2."""
    path = tmp_path / "report.json"
    if text is not None:
        path.write_text(text)
    assert run(["diff", str(path), str(built / "build" / "thing-A")]) == 2
    assert "error[bad-report]" in capfd.readouterr().err


def test_the_store_is_beside_the_recipe_whatever_the_folder(built: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """A build into another folder is what `why` knows of; --fresh runs all and keeps it."""
    recipe = built / "apart.yaml"
    recipe.write_text((built / "thing.yaml").read_text("utf-8").replace("count: 4", "count: 2"), "utf-8")
    again = []
    for _ in range(2):
        assert run(["build", str(recipe), "-o", str(built / "far" / "apart"), "--fresh", "--json"]) in {0, 1}
        again += [step["reused"] for step in json.loads(capfd.readouterr().out)["steps"]]
        assert run(["why", str(recipe), "--json"]) == 0
        again += [reason["again"] for reason in json.loads(capfd.readouterr().out)]
    assert again == [False] * 4
    assert [path.name for path in (built / "far").iterdir()] == ["apart"]
    recipe.unlink()


@pytest.mark.parametrize("out", [".", "afile/sub", "meshes"])
def test_a_folder_that_will_not_do_is_status_two(
    built: Path, out: str, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The recipe's own folder, a file on the way, a folder of meshes: told in four parts, and nothing is changed."""
    (built / "afile").write_text("")
    (built / "meshes").mkdir(exist_ok=True)
    (built / "meshes" / "report.json").write_text("{}")
    before = sorted(built.rglob("*"))
    monkeypatch.chdir(built)
    assert run(["build", "thing.yaml", "-o", out]) == 2
    error = capfd.readouterr().err
    assert "found:" in error
    assert "fix:" in error
    assert sorted(built.rglob("*")) == before
