"""`settings_of`: the settings of a model in words, as pages and `explain` show them."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator
from dataclasses import dataclass
from types import NoneType
from typing import Annotated, Any, Literal, get_args, get_origin

from pydantic import BaseModel, BeforeValidator, TypeAdapter
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from prep.contract import Step
from prep.recipe import CheckWanted, ProcessWanted
from prep.units import TextForm

_PLAIN = {int: "a whole number", float: "a number", str: "text", bool: "`true` or `false`", NoneType: ""}
_OWN_FORMS: dict[type, str] = {
    Step: "a step (`prep explain steps`)",
    CheckWanted: "a limit, or a mapping of the check's settings and `accept` (`prep explain checks`)",
    ProcessWanted: "text; or a mapping of `based_on` and what changes",
}
_LIMITS = (("gt", "more than"), ("ge", "at least"), ("lt", "less than"), ("le", "at most"))


@dataclass(frozen=True)
class Setting:
    """One key of a mapping in a recipe or in `gate.yaml`.

    Attributes
    ----------
    word : as it is written
    form : what may stand there
    default : as it would be written; empty for a key that must be given, `-` where leaving it out means "none"
    says : what it is for
    """

    word: str
    form: str
    default: str
    says: str


def settings_of(model: type[BaseModel]) -> list[Setting]:
    """Every setting of a model, in the order of its file; a step's own word first and its optional name last."""
    order = {"step": -1, "name": 1}
    fields = sorted(
        model.model_fields.items(), key=lambda each: order.get(each[0], 0) if "step" in model.model_fields else 0
    )
    return [
        Setting(field.alias or name, form_of(field), _default_text(field), field.description or "")
        for name, field in fields
    ]


def form_of(field: FieldInfo) -> str:
    """What may stand in a setting, in words: kind of quantity with an example, the words allowed, or a mapping."""
    form = _form(field.annotation, field.metadata)
    if field.examples:
        form = re.sub(r", as `[^`]*`", "", form) + f", as `{yaml_text(field.examples[0])}`"
    unit = next((each for each in _inside(field.annotation, field.metadata) if isinstance(each, TextForm)), None)
    limits = []
    for name, words in _LIMITS:
        for each in _inside(field.annotation, field.metadata):
            limit = getattr(each, name, None)
            if isinstance(limit, int | float) and not isinstance(each, type):
                shown = _written(limit, unit) if unit is not None else f"{limit:g}"
                limits.append(f"{words} {shown}")
    return ", ".join([form, *dict.fromkeys(limits)])


def models_inside(field: FieldInfo) -> list[type[BaseModel]]:
    """The models whose mappings may stand in a setting."""
    found = [each for each in _inside(field.annotation, []) if isinstance(each, type) and issubclass(each, BaseModel)]
    return list(dict.fromkeys(found))


def docstring(thing: object) -> str:
    """The docstring with its indentation taken off."""
    return inspect.cleandoc(getattr(thing, "__doc__", None) or "")


def first_line(thing: object) -> str:
    """The first line of the docstring."""
    return docstring(thing).split("\n", 1)[0]


def _form(annotation: Any, metadata: list[Any]) -> str:  # noqa: ANN401  # an annotation may be anything
    text = next((each for each in metadata if isinstance(each, TextForm)), None)
    wider = [each.json_schema_input_type for each in metadata if isinstance(each, BeforeValidator)]
    origin, arguments = get_origin(annotation), get_args(annotation)
    if text is not None:
        form = f"{text.says.split(' (')[0]}, as `{text.examples[0]}`"
    elif wider and wider[0] is not PydanticUndefined:
        form = _form(wider[0], [])
    elif origin is Annotated:
        form = _form(arguments[0], list(arguments[1:]))
    elif origin is Literal:
        form = " or ".join(f"`{word}`" for word in arguments)
    elif origin in {list, tuple, frozenset, set}:
        form = _list_form(arguments, "one or a list" if wider else "a list")
    elif origin is dict:
        form = f"names, each with {_form(arguments[1], [])}"
    elif arguments:
        form = "; or ".join(dict.fromkeys(_form(each, []) for each in arguments if each is not NoneType))
    else:
        form = _plain_form(annotation)
    return form


def _plain_form(annotation: type) -> str:
    for model, form in _OWN_FORMS.items():
        if issubclass(annotation, model):
            return form
    if issubclass(annotation, BaseModel):
        keys = [each.alias or name for name, each in annotation.model_fields.items()]
        return f"a mapping of {', '.join(f'`{key}`' for key in keys)}"
    return _PLAIN.get(annotation, annotation.__name__)


def _list_form(arguments: tuple[Any, ...], several: str) -> str:
    if len(arguments) == 2 and arguments[1] is Ellipsis:
        return f"{several}, each {_form(arguments[0], [])}"
    forms = [_form(each, []) for each in arguments]
    return (
        f"a list of {len(forms)}: {', '.join(forms)}"
        if len(set(forms)) > 1
        else f"a list of {len(forms)}, each {forms[0]}"
    )


def _inside(annotation: object, metadata: list[Any]) -> Iterator[Any]:
    yield from metadata
    yield annotation
    for each in get_args(annotation):
        yield from _inside(each, [])


def _written(limit: float, unit: TextForm) -> str:
    try:
        return f"`{unit.write(float(limit))}`"
    except (AttributeError, TypeError):
        return f"{limit:g}"


def _default_text(field: FieldInfo) -> str:
    if field.is_required():
        return ""
    value = field.get_default(call_default_factory=True)
    if value is None or value in ((), {}, []):
        return "-"
    whole: Any = Annotated[(field.annotation, *field.metadata)] if field.metadata else field.annotation
    written = TypeAdapter(whole).dump_python(value, mode="json", by_alias=True, exclude_none=True)
    return yaml_text(written)


def yaml_text(value: object) -> str:
    """Plain data on one line, as a recipe would hold it."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {yaml_text(each)}" for key, each in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(yaml_text(each) for each in value) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)
