"""From pydantic's list of what is wrong to faults with a line, what was found, and one thing to do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from prep.errors import BadQuantity, BadValue, MissingKey, PrepError, UnknownKey
from prep.recipe.source import Keys, Source
from prep.tables.table import nearest_word
from prep.units import KINDS, TextForm

_FORMS = {
    "int_type": "a whole number",
    "int_parsing": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "float_parsing": "a number",
    "string_type": "text",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "model_type": "a mapping of keys to values",
    "model_attributes_type": "a mapping of keys to values",
    "dict_type": "a mapping of keys to values",
    "tuple_type": "a list",
    "list_type": "a list",
    "none_required": "nothing",
}
_LIMITS = {
    "greater_than": ("more than", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("less than", "lt"),
    "less_than_equal": ("at most", "le"),
}
_WRONG_FORM = {"model_type", "model_attributes_type", "dict_type", "none_required"}


def faults_of(
    error: ValidationError, model: type[BaseModel], source: Source, at: Keys, step: str = ""
) -> list[PrepError]:
    """One fault for each thing that is wrong, in the order of the file.

    Parameters
    ----------
    model : the model that was asked for
    at : the keys that lead to the data it was given
    step : what to call the step, where it is one
    """
    found = []
    for detail in _without_echoes(error.errors(include_url=False), source, at):
        keys = _keys_in_data(detail, source, at)
        fault = _fault_of(detail, model, source, at, keys)
        fault.where = source.where(keys) + (f', step "{step}"' if step else "")
        found.append(fault)
    return found


def unknown_key(key: str, known: list[str], inside: str = "") -> UnknownKey:
    """The fault of a key that means nothing, with the nearest that does."""
    near = nearest_word(key, known)
    return UnknownKey(
        f"`{key}` is not a key of {inside or 'this mapping'}",
        found=f"`{key}`; known are {', '.join(known) or 'none'}",
        fix=f"did you mean `{near}`?" if near else "leave it out",
    )


def _fault_of(detail: ErrorDetails, model: type[BaseModel], source: Source, at: Keys, keys: Keys) -> PrepError:
    kind, context = detail["type"], detail.get("ctx", {})
    key = str(keys[-1]) if keys else ""
    held = source.at(keys)
    field = next(iter(_fields_at(model, keys[len(at) :])), None)
    if kind == "bad_quantity":
        return BadQuantity(f"`{key}`: {context['what']}", found=context["found"], fix=context["fix"])
    if kind == "extra_forbidden":
        inside = _models_at(model, keys[len(at) : -1])
        known = sorted({word for each in inside for word in keys_of(each)})
        return unknown_key(key, known, f"`{keys[-2]}`" if len(keys) > 1 and isinstance(keys[-2], str) else "")
    if kind == "missing":
        missing = str(detail["loc"][-1])
        wanted = next(iter(_fields_at(model, (*keys[len(at) :], missing))), None)
        return MissingKey(
            f"`{missing}` is missing" + (f": {wanted.description}" if wanted and wanted.description else ""),
            fix=f"add `{missing}: {example_of(wanted)}`",
        )
    if kind in _LIMITS:
        words, name = _LIMITS[kind]
        limit = _with_unit(float(context[name]), field)
        return BadValue(f"`{key}` is outside its limits", found=f"`{held}`", fix=f"give {words} {limit}")
    return _bad_value(detail, key, held, field)


def _bad_value(detail: ErrorDetails, key: str, held: object, field: FieldInfo | None) -> BadValue:
    kind, context, message = detail["type"], detail.get("ctx", {}), detail["msg"]
    found = _brief(held)
    if kind in {"literal_error", "enum"}:
        words = _words_of(field)
        near = nearest_word(str(held), words)
        listed = ", ".join(words) or str(context.get("expected", ""))
        fix = f"did you mean `{near}`?" if near else f"write one of: {listed}"
        return BadValue(f"`{key}` is one of: {listed}", found=found, fix=fix)
    if kind in {"value_error", "assertion_error"}:
        return _unfit(str(context.get("error", message)), key, held, field)
    if kind in _FORMS:
        return BadValue(f"`{key}` must be {_FORMS[kind]}", found=found, fix=_example_fix(key, field))
    if kind in {"too_short", "string_too_short"}:
        return BadValue(f"`{key}` is too short", found=found, fix=f"give at least {context.get('min_length', 1)}")
    if kind in {"too_long", "string_too_long"}:
        return BadValue(f"`{key}` is too long", found=found, fix=f"give at most {context.get('max_length')}")
    return BadValue(
        f"`{key}` does not fit: {message[:1].lower()}{message[1:]}", found=found, fix=_example_fix(key, field)
    )


def _unfit(says: str, key: str, held: object, field: FieldInfo | None) -> BadValue:
    """The fault of values that are sound one by one and do not go together, in the words of the model they are for."""
    if not isinstance(held, Mapping):
        return BadValue(f"`{key}`: {says}", found=_brief(held), fix=_example_fix(key, field))
    word = held.get("step", key)
    listed = ", ".join(f"`{each}`" for each in held)
    return BadValue(says, found=f"keys {listed}", fix=f"see `prep explain {word}`")


def keys_of(model: type[BaseModel]) -> list[str]:
    """The keys a person may write in a mapping of this model."""
    return [field.alias or name for name, field in model.model_fields.items()]


def example_of(field: FieldInfo | None) -> str:
    """Something a person could write there."""
    if field is None:
        return "..."
    if field.examples:
        return str(field.examples[0])
    for each in _annotations(field.annotation, *field.metadata):
        if isinstance(each, TextForm):
            return each.examples[0]
    words = _words_of(field)
    return words[0] if words else "..."


def _example_fix(key: str, field: FieldInfo | None) -> str:
    example = example_of(field)
    return f"write `{key}: {example}`" if example != "..." else f"see `prep explain {key}`"


def _with_unit(limit: float, field: FieldInfo | None) -> str:
    inside = _annotations(field.annotation, *field.metadata) if field else iter(())
    form = next((each for each in inside if isinstance(each, TextForm)), None)
    if form is None:
        return f"{limit:g}"
    kind = next((kind for kind in KINDS if kind.base == form.unit), None)
    return f"`{kind.write(limit) if kind else form.write(limit)}`"


def _words_of(field: FieldInfo | None) -> list[str]:
    """The words of a `Literal`, wherever it stands in the annotation."""
    if field is None:
        return []
    return [each for each in _annotations(field.annotation, *field.metadata) if isinstance(each, str)]


def _annotations(*roots: object) -> Iterator[Any]:
    """Everything inside annotations, metadata of `Annotated` and words of `Literal` included."""
    for root in roots:
        yield root
        yield from _annotations(*get_args(root))


def _models_at(model: type[BaseModel], keys: Keys) -> list[type[BaseModel]]:
    """The models that may stand under these keys; several where a union leaves the choice."""
    if not keys:
        return [model]
    return [
        each
        for field in _fields_at(model, keys)
        for each in _annotations(field.annotation)
        if isinstance(each, type) and issubclass(each, BaseModel)
    ]


def _fields_at(model: type[BaseModel], keys: Keys) -> list[FieldInfo]:
    named = [index for index, key in enumerate(keys) if isinstance(key, str)]
    if not named:
        return []
    last = named[-1]
    found = []
    for each in _models_at(model, keys[:last]):
        found += [field for name, field in each.model_fields.items() if keys[last] in {field.alias, name}]
    return found


def _keys_in_data(detail: ErrorDetails, source: Source, at: Keys) -> Keys:
    """The keys of the data, without the labels that unions put between them."""
    keys, here = at, source.at(at)
    for part in detail["loc"]:
        if (isinstance(here, Mapping) and part in here) or (
            isinstance(here, list) and isinstance(part, int) and 0 <= part < len(here)
        ):
            keys, here = (*keys, part), here[part]  # type: ignore[index]  # one of the two, as just tested
    return keys


def _without_echoes(details: list[ErrorDetails], source: Source, at: Keys) -> list[ErrorDetails]:
    """The faults of the branch of a union that a person meant, judged by the form of what was written."""
    placed = [(detail, _keys_in_data(detail, source, at)) for detail in details]
    kept: list[tuple[ErrorDetails, Keys]] = []
    for detail, keys in placed:
        others = [(other, other_keys) for other, other_keys in placed if other is not detail]
        deeper = any(len(other_keys) > len(keys) and other_keys[: len(keys)] == keys for _, other_keys in others)
        same = [other for other, other_keys in others if other_keys == keys]
        is_mapping = isinstance(source.at(keys), Mapping)
        if detail["type"] not in {"missing", "extra_forbidden", "value_error"} and is_mapping and (deeper or same):
            continue
        if detail["type"] in _WRONG_FORM and any(other["type"] not in _WRONG_FORM for other in same):
            continue
        if any(keys == other_keys and _same_fault(detail, other) for other, other_keys in kept):
            continue
        kept.append((detail, keys))
    return [detail for detail, _ in kept]


def _same_fault(one: ErrorDetails, other: ErrorDetails) -> bool:
    if "missing" in {one["type"], other["type"]}:
        return one["type"] == other["type"] and one["loc"][-1] == other["loc"][-1]
    return True


def _brief(value: object) -> str:
    text = "nothing" if value is None else f"`{value}`"
    return text if len(text) <= 80 else text[:76] + "...`"
