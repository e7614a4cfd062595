"""`read_source`: a YAML file as plain data, with the line on which everything stands."""

from __future__ import annotations

import errno
import hashlib
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

from prep.errors import BadRecipe, DuplicateKey, Faults, MissingFile, PrepError
from prep.tables.table import nearest_word

Keys = tuple[str | int, ...]

LARGEST_BYTES = 256_000
MOST_VALUES = 20_000
DEEPEST = 30


@dataclass(frozen=True)
class Called:
    """How faults speak of one kind of file that people write.

    Attributes
    ----------
    word : what it is
    begin, missing : what to do where it holds nothing, and where it is not there
    may_be_empty : whether a file that says nothing is one
    """

    word: str
    begin: str
    missing: str
    may_be_empty: bool = False


RECIPE = Called(
    "recipe",
    "begin with `recipe: 1` (`prep new NAME` writes one to start from)",
    "`prep new NAME` starts a project with a recipe",
)
GATE = Called(
    "gate file",
    "write keys and values, as `wall: 1.2 mm` (`prep explain gate` lists them)",
    "put the file itself into the folder, or take the link away",
    may_be_empty=True,
)


@dataclass(frozen=True)
class Source:
    """A recipe, or another file of YAML, as it was read.

    Attributes
    ----------
    path : as the person named it
    lines : line, from 1, of every key and list item, by the keys that lead to it
    """

    path: Path
    sha256: str
    data: Mapping[str, Any]
    lines: Mapping[Keys, int]

    def where(self, keys: Keys = ()) -> str:
        """File and line of what stands under these keys, or of the nearest thing above it."""
        while keys and keys not in self.lines:
            keys = keys[:-1]
        line = self.lines.get(keys)
        return f"{self.path}:{line}" if line else str(self.path)

    def at(self, keys: Keys) -> Any:  # noqa: ANN401  # whatever YAML holds
        """What stands under these keys; None where nothing does."""
        here: Any = self.data
        for key in keys:
            try:
                here = here[key]
            except (KeyError, IndexError, TypeError):
                return None
        return here


def read_source(path: Path) -> Source:
    """The file's data and lines.

    Raises
    ------
    MissingFile
        There is no such file.
    BadRecipe
        Too large, not UTF-8, not YAML 1.2, not one mapping, a tag, or anchors that unfold without end.
    DuplicateKey, Faults
        A key stands twice.

    Notes
    -----
    Anchors and aliases are unfolded by copying. Tags are refused, so nothing is ever constructed but text, numbers,
    truth values, lists and mappings.
    """
    source, doubles = read_with_doubles(path, RECIPE)
    if doubles:
        raise doubles[0] if len(doubles) == 1 else Faults(doubles)
    return source


def read_with_doubles(path: Path, called: Called) -> tuple[Source, tuple[PrepError, ...]]:
    """The file's data and lines, and a fault for every key that stands twice, of which the first is kept.

    Raises
    ------
    MissingFile, BadRecipe
        As `read_source`.
    """
    content = _read_bytes(path, called)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadRecipe(
            f"the {called.word} is not UTF-8 text",
            where=str(path),
            found=f"byte 0x{content[error.start]:02x} at offset {error.start}",
            fix="save the file as UTF-8",
        ) from error
    _refuse_deep(path, text, called)
    try:
        root = YAML(typ="rt", pure=True).compose(text)
    except MarkedYAMLError as error:
        raise _not_yaml(path, text, error, called) from error
    except (YAMLError, ValueError, RecursionError) as error:
        raise BadRecipe(
            f"the {called.word} is not YAML",
            where=str(path),
            found=_first_line(error),
            fix="remove what YAML cannot hold",
        ) from error
    sha256 = hashlib.sha256(content).hexdigest()
    if root is None and called.may_be_empty:
        return Source(path, sha256, {}, {}), ()
    if not isinstance(root, MappingNode):
        raise BadRecipe(
            f"a {called.word} is a mapping of keys to values",
            where=str(path),
            found="an empty file" if root is None else f"a {root.id}",
            fix=called.begin,
        )
    unfolding = _Unfolding(path, called.word)
    data = unfolding.mapping(root, ())
    return Source(path, sha256, data, unfolding.lines), tuple(unfolding.faults)


@dataclass
class _Unfolding:
    """From YAML's nodes to plain data, counting so that aliases cannot grow without end."""

    path: Path
    word: str
    lines: dict[Keys, int] = field(default_factory=dict)
    faults: list[PrepError] = field(default_factory=list)
    count: int = 0

    def value(self, node: Node, keys: Keys) -> Any:  # noqa: ANN401  # whatever YAML holds
        self.count += 1
        if self.count > MOST_VALUES or len(keys) > DEEPEST:
            raise BadRecipe(
                f"the {self.word} unfolds to more than a {self.word} can need",
                where=self._where(node),
                found=f"over {MOST_VALUES} values, or deeper than {DEEPEST} levels",
                fix="write it without aliases (`*name`)",
            )
        self.lines.setdefault(keys, node.start_mark.line + 1)
        if isinstance(node, MappingNode):
            return self.mapping(node, keys)
        if isinstance(node, SequenceNode):
            self._refuse_tag(node, "seq")
            return [self.value(child, (*keys, index)) for index, child in enumerate(node.value)]
        return self._scalar(node) if isinstance(node, ScalarNode) else None

    def mapping(self, node: MappingNode, keys: Keys) -> dict[str, Any]:
        self._refuse_tag(node, "map")
        held: dict[str, Any] = {}
        for key_node, child in node.value:
            if not isinstance(key_node, ScalarNode):
                raise BadRecipe("a key is plain text", where=self._where(key_node), found="a list or mapping as a key")
            key = str(key_node.value)
            if key in held:
                self.faults.append(
                    DuplicateKey(
                        f"`{key}` stands twice in the same mapping",
                        where=self._where(key_node),
                        found=f"first on line {self.lines[(*keys, key)]}",
                        fix="keep one of the two",
                    )
                )
                continue
            self.lines[(*keys, key)] = key_node.start_mark.line + 1
            held[key] = self.value(child, (*keys, key))
        return held

    def _scalar(self, node: ScalarNode) -> str | int | float | bool | None:
        kind = _tag(node).rpartition(":")[2]
        text = str(node.value)
        if kind == "null":
            return None
        if kind == "bool":
            return text.lower() == "true"
        try:
            if kind == "int":
                return int(text.replace("_", ""), 0)
            if kind == "float":
                return float(text.replace("_", "").replace(".inf", "inf").replace(".nan", "nan").lower())
        except ValueError:
            return text
        if kind not in {"str", "timestamp", "merge", "value"}:
            self._refuse_tag(node, "str")
        return text

    def _refuse_tag(self, node: Node, plain: str) -> None:
        tag = _tag(node)
        if tag != f"tag:yaml.org,2002:{plain}":
            raise BadRecipe(
                f"a {self.word} holds plain values, no tags",
                where=self._where(node),
                found=f"`{tag}`",
                fix="leave out the tag",
            )

    def _where(self, node: Node) -> str:
        return f"{self.path}:{node.start_mark.line + 1}"


def _tag(node: Node) -> str:
    return str(node.tag or "")


def _read_bytes(path: Path, called: Called) -> bytes:
    if not path.is_file():
        folder = path.parent
        names = sorted(each.name for each in folder.iterdir() if each.is_file()) if folder.is_dir() else []
        near = nearest_word(path.name, names)
        raise MissingFile(
            f"there is no such {called.word}" if not path.exists() else f"a {called.word} is a file, this is a folder",
            where=str(path),
            fix=f"did you mean `{folder / near}`?" if near else called.missing,
        )
    size = path.stat().st_size
    if size > LARGEST_BYTES:
        raise BadRecipe(
            f"the file is too large for a {called.word}", where=str(path), found=f"{size} bytes, limit {LARGEST_BYTES}"
        )
    content = path.read_bytes()
    if not content and size:  # nothing at all is how "try again" reads
        raise BlockingIOError(errno.EAGAIN, os.strerror(errno.EAGAIN), str(path))
    return content


def _not_yaml(path: Path, text: str, error: MarkedYAMLError, called: Called) -> BadRecipe:
    mark = error.problem_mark or error.context_mark
    lines = text.splitlines()
    number = min(mark.line, max(len(lines) - 1, 0)) if mark is not None else 0
    line = lines[number] if lines else ""
    before = lines[max(number - 1, 0) : number + 1]
    if any("\t" in each[: len(each) - len(each.lstrip())] for each in before):
        what, fix = "a line is indented with a tab", "indent with spaces only"
    elif error.problem and "mapping values are not allowed" in error.problem:
        what, fix = "the indentation or a colon is wrong here", 'line up the keys; put text with ": " between quotes'
    elif error.problem and "undefined alias" in error.problem:
        what, fix = "an alias has no anchor", "write the value out"
    elif error.problem and "single document" in f"{error.context} {error.problem}":
        what, fix = f"a {called.word} is one document", "remove the line `---` and what follows it"
    else:
        what, fix = f"the {called.word} is not YAML", "line up the keys of one mapping, close every bracket and quote"
    return BadRecipe(
        what,
        where=f"{path}:{number + 1}",
        found=f"`{line.strip()[:80]}`" + (f" ({error.problem})" if error.problem else ""),
        fix=fix,
    )


def _refuse_deep(path: Path, text: str, called: Called) -> None:
    """Brackets opened far deeper than anybody needs would keep the parser busy for seconds."""
    depth = 0
    for place, mark in enumerate(text):
        depth += (mark in "[{") - (mark in "]}" and depth > 0)
        if depth > 10 * DEEPEST:
            raise BadRecipe(
                f"brackets are nested too deep for a {called.word}",
                where=f"{path}:{text.count(chr(10), 0, place) + 1}",
                found=f"over {10 * DEEPEST} brackets open",
                fix="close the brackets",
            )


def _first_line(error: Exception) -> str:
    return str(error).strip().splitlines()[0][:120] if str(error).strip() else type(error).__name__
