"""Settings in words."""

from __future__ import annotations

from typing import Annotated, Literal

import pytest
from pydantic import BaseModel, BeforeValidator, Field

from prep.reference.setting import form_of, settings_of, yaml_text
from prep.units import Fraction, Length, LengthBand


class Inner(BaseModel):
    """A mapping."""

    start: Length = Field(alias="from")
    turn: int = 0


class Everything(BaseModel):
    """One setting of every form."""

    length: Length = Field(2.0, gt=0, le=50, description="how long")
    share: Fraction | None = Field(None, ge=0, le=1)
    word: Literal["glue", "press"] = "glue"
    count: int = Field(ge=1)
    flag: bool = False
    inner: Inner | None = None
    pair: tuple[str, str]
    many: tuple[Inner, ...] = ()
    one_or_many: Annotated[tuple[Inner, ...], BeforeValidator(lambda value: value)] = ()
    either: Length | Inner
    given: LengthBand = Field(examples=["92 mm ± 1 mm"])
    names: tuple[str, ...] = Field((), examples=[["Ada", "Ben"]])


@pytest.mark.parametrize(
    ("word", "form"),
    [
        ("length", "a length with its unit, as `5 mm`, more than `0 mm`, at most `50 mm`"),
        ("share", "a share with its unit, as `35 %`, at least `0 %`, at most `100 %`"),
        ("word", "`glue` or `press`"),
        ("count", "a whole number, at least 1"),
        ("flag", "`true` or `false`"),
        ("inner", "a mapping of `from`, `turn`"),
        ("pair", "a list of 2, each text"),
        ("many", "a list, each a mapping of `from`, `turn`"),
        ("one_or_many", "one or a list, each a mapping of `from`, `turn`"),
        ("either", "a length with its unit, as `5 mm`; or a mapping of `from`, `turn`"),
        ("given", "a length with its unit, and the tolerance allowed, as `92 mm ± 1 mm`"),
        ("names", "a list, each text, as `[Ada, Ben]`"),
    ],
)
def test_form(word: str, form: str) -> None:
    """Every form is told in words, with an example and its limits in units."""
    assert form_of(Everything.model_fields[word]) == form


def test_defaults_as_written() -> None:
    """Defaults are told as a recipe would hold them; what must be given has none."""
    defaults = {each.word: each.default for each in settings_of(Everything)}
    assert defaults["length"] == "2 mm"
    assert defaults["count"] == ""
    assert defaults["inner"] == "-"
    assert defaults["flag"] == "false"


def test_alias() -> None:
    """A setting goes by the word a recipe writes."""
    assert [each.word for each in settings_of(Inner)] == ["from", "turn"]


def test_yaml_text() -> None:
    """Plain data stands on one line."""
    assert yaml_text({"a": [1, True, {"b": "5 mm"}]}) == "{a: [1, true, {b: 5 mm}]}"
