"""YAML as plain data with lines: what is read, and what is refused in bounded time."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.errors import BadRecipe, DuplicateKey, Faults, MissingFile, PrepError
from prep.recipe.source import LARGEST_BYTES, Source, read_source


@pytest.fixture
def source(tmp_path: Path):
    """Writes bytes or text and reads them."""

    def write_and_read(content: str | bytes) -> Source:
        path = tmp_path / "r.yaml"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_source(path)

    return write_and_read


def test_plain_values(source) -> None:
    """Text, numbers, truth values and nothing are told apart by the rules of YAML 1.2."""
    # https://yaml.org/spec/1.2.2/ section 10.3.2: core schema; `yes` and `12:30` are text there
    data = source("a: text\nb: 5\nc: 2.5\nd: true\ne: null\nf: yes\ng: 12:30\nh: 0o17\ni: .inf\nj: '5'\nk: 5 mm\n").data
    assert list(data.values()) == ["text", 5, 2.5, True, None, "yes", "12:30", 15, float("inf"), "5", "5 mm"]


def test_lines(source) -> None:
    """Every key and every item of a list has its line; what is missing has that of the nearest above."""
    held = source("a:\n  b:\n    - 1\n    - c: 2\n")
    assert held.where(("a", "b", 1, "c")).endswith(":4")
    assert held.where(("a", "b", 0)).endswith(":3")
    assert held.where(("a", "nowhere", "deep")).endswith(":1")


def test_alias_is_copied(source) -> None:
    """An anchor may be used again."""
    assert source("a: &x {k: 1 mm}\nb: *x\n").data == {"a": {"k": "1 mm"}, "b": {"k": "1 mm"}}


def test_byte_order_mark(source) -> None:
    """A byte order mark is no part of the first key."""
    assert source(b"\xef\xbb\xbfa: 1\n").data == {"a": 1}


@pytest.mark.parametrize(
    ("text", "line", "word"),
    [
        ("a:\n\tb: 1\n", 2, "tab"),
        ("a: 1\n b: 2\n", 2, "indentation"),
        ("a: [1, 2\nb: 3\n", 2, "YAML"),
        ("a: *nowhere\n", 1, "anchor"),
        ("a: 1\n---\nb: 2\n", 2, "one document"),
        ("a: note: 5\n", 1, "colon"),
        ('a: "open\n', 1, "YAML"),
    ],
)
def test_not_yaml(source, text: str, line: int, word: str) -> None:
    """What is no YAML is refused with its line and what is likely wrong."""
    with pytest.raises(BadRecipe) as caught:
        source(text)
    assert word in caught.value.what
    assert caught.value.where.endswith(f":{line}")
    assert caught.value.fix


@pytest.mark.parametrize("text", ["", "- a\n- b\n", "just text\n", "# nothing\n"])
def test_not_a_mapping(source, text: str) -> None:
    """A file that holds no mapping is no recipe."""
    with pytest.raises(BadRecipe, match="mapping"):
        source(text)


@pytest.mark.parametrize(
    "text", ["a: !!python/object:os.system x\n", "a: !own {b: 1}\n", "a: !!binary aGk=\n", "!x {a: 1}\n"]
)
def test_tags(source, text: str) -> None:
    """Tags are refused, so nothing of the machine is ever constructed."""
    with pytest.raises(BadRecipe, match="tags"):
        source(text)


def test_not_utf8(source) -> None:
    """Bytes that are no UTF-8 are refused with their offset."""
    with pytest.raises(BadRecipe, match="UTF-8") as caught:
        source(b"a: \xff\n")
    assert "offset 3" in caught.value.found


def test_control_characters(source) -> None:
    """Characters that YAML cannot hold are refused."""
    with pytest.raises(BadRecipe):
        source("a: \x00\n")


def test_too_large(source) -> None:
    """A file far larger than any recipe is refused before it is parsed."""
    with pytest.raises(BadRecipe, match="too large"):
        source(b"#" * (LARGEST_BYTES + 1))


def test_unfolding_bomb(source) -> None:
    """Aliases of aliases that would unfold to millions of values stop in bounded time."""
    levels = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    levels += [f"a{n}: &a{n} [" + ", ".join([f"*a{n - 1}"] * 10) + "]" for n in range(1, 9)]
    start = time.perf_counter()
    with pytest.raises(BadRecipe, match="unfolds"):
        source("\n".join(levels))
    assert time.perf_counter() - start < 5.0


def test_endless_alias(source) -> None:
    """An alias inside its own anchor stops."""
    with pytest.raises(BadRecipe):
        source("a: &a [*a]\n")


def test_deep_nesting(source) -> None:
    """Nesting deeper than any recipe stops."""
    with pytest.raises(BadRecipe):
        source("a: " + "[" * 5000 + "]" * 5000)


def test_duplicates_all_reported(source) -> None:
    """Every key that stands twice is reported."""
    with pytest.raises(Faults) as caught:
        source("a: 1\na: 2\nb: {c: 1, c: 2}\n")
    assert [type(fault) for fault in caught.value.faults] == [DuplicateKey, DuplicateKey]


def test_folder(tmp_path: Path) -> None:
    """A folder is no recipe."""
    with pytest.raises(MissingFile, match="folder"):
        read_source(tmp_path)


@settings(max_examples=150, deadline=None)
@given(st.text(alphabet="ab:-[]{}&*!|>'\"#%,? \t\n0159.\x85", max_size=60))
def test_anything_is_read_or_refused(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    """Whatever the text, the answer is data or a fault a person can mend, never another exception."""
    path = tmp_path_factory.mktemp("fuzz") / "r.yaml"
    path.write_text(text, encoding="utf-8")
    try:
        assert isinstance(read_source(path).data, dict)
    except PrepError as fault:
        assert fault.what
