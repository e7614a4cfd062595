"""From pydantic's list of what is wrong to faults with a line, what was found, and one thing to do."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from prep.errors import BadQuantity, BadValue, MissingKey, PrepError, UnknownKey
from prep.recipe.source import Keys, Source
from prep.tables.table import nearest_word
from prep.units import KINDS, TextForm
from prep.units.kind import NUMBER

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
_FOR_ALL = {"match": "*"}
"""What a key that must be written holds, so that an entry is for everything."""
_SPELLED = {
    "s": "sec second",
    "min": "minute",
    "h": "hr hour",
    "mm": "millimeter millimetre",
    "um": "micron micrometer micrometre",
    "cm": "centimeter centimetre",
    "m": "meter metre",
    "in": "inch inche",
    "ft": "foot feet",
    "g": "gr gram",
    "mg": "milligram",
    "kg": "kilo kilogram",
    "oz": "ounce",
    "lb": "pound",
    "N": "newton",
    "deg": "degree",
    "V": "volt",
    "mA": "milliamp milliampere",
    "%": "percent",
}
"""Units as people spell them, without an s at the end: the only ones of which it is sure which is meant."""
_BETWEEN = (
    (r"\s*[x×*]\s*|\s+by\s+", ", "),
    (r"\s*;\s*", ", "),
    (r"\s*,\s*", ", "),
    (r"(?<=[\w.])\s+(?=[+-]?\.?\d)", ", "),
    (r"\s*(?:±|\+/-|\+-)\s*", " ± "),
)
"""What people write between numbers, and what is written there."""


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
        fix = _fix_of_quantity(context, keys, held, field)
        return BadQuantity(f"`{key}`: {context['what']}", found=context["found"], fix=fix)
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
    return _bad_value(detail, keys, held, field)


def _bad_value(detail: ErrorDetails, keys: Keys, held: object, field: FieldInfo | None) -> BadValue:
    key = str(keys[-1]) if keys else ""
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
        named = next((each for each in reversed(keys) if isinstance(each, str)), key)
        fix = _list_fix(named, held, field) or _example_fix(named, field, _FORMS[kind])
        which = f"`{named}`, entry {int(keys[-1]) + 1}," if named != key else f"`{key}`"
        return BadValue(f"{which} must be {_FORMS[kind]}", found=found, fix=fix)
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
        return _yaml_text(field.examples[0])
    for each in _annotations(field.annotation, *field.metadata):
        if isinstance(each, TextForm):
            return next((text for text in each.examples if _in_limits(each, text, field)), "...")
    words = _words_of(field)
    return words[0] if words else "..."


def _example_fix(key: str, field: FieldInfo | None, form: str = "values that fit") -> str:
    """The form of what is to be written, by the key's own example."""
    example = example_of(field)
    return f"write {form}, as `{key}: {example}`" if example != "..." else f"see `prep explain {key}`"


def _fix_of_quantity(context: Mapping[str, str], keys: Keys, held: object, field: FieldInfo | None) -> str:
    """What to write instead: the reader's own numbers where it is sure how, else the form, by the key's own example.

    Parameters
    ----------
    context : what the unit system says of the text, which knows no key
    """
    form, fix = _text_form(field), str(context["fix"])
    if field is None or form is None or not form.unit:
        return fix
    own = _own_text(form, held) or _own_unit(form, str(context["what"]), held)
    if own is not None:
        return f'write "{own}"' if "," in own else f"write `{own}`"
    shown = re.search(r'["`]([^`]*\d[^`]*?)["`]', fix)
    unsure = "is not a unit of" in context["what"] and not _same_letters(str(context["found"]), fix)
    if not unsure and (shown is None or _numbers_in(shown[1]) <= _numbers_in(str(held).replace(",", "."))):
        return fix
    example = _example_for(form, field, listed=not isinstance(keys[-1], str))
    return f"write {form.says}" + (f", as `{example}`" if example else "")


def _own_text(form: TextForm, held: object) -> str | None:
    """Several numbers of the reader, as this form wants them written; None where they do not make one."""
    lists: list[tuple[list[str], str]] = [([str(each) for each in held], ", ")] if isinstance(held, list) else []
    if isinstance(held, str):
        lists = [(re.split(between, held.strip()), joint) for between, joint in _BETWEEN]
    for pieces, joint in lists:
        parts = [re.fullmatch(rf"({NUMBER})\s*([^\s\d.,+\-±×]*)", piece.strip()) for piece in pieces]
        sure = [part for part in parts if part is not None]
        units = {part[2] for part in sure if part[2]} or {form.unit}
        if len(sure) != len(pieces) or len(pieces) < 2 or len(units) > 1:
            continue
        unit = f" {units.pop()}"
        text = joint.join(part[1] + (unit if "±" in joint else "") for part in sure) + ("" if "±" in joint else unit)
        if _reads(form, text):
            return text
    return None


def _own_unit(form: TextForm, says: str, held: object) -> str | None:
    """The reader's text with a unit written out put as this form wants it: `2 hours` as `2 h`; None for others."""
    wrong = re.match(r"`(.+)` is not a unit of", says)
    if wrong is None or not isinstance(held, str):
        return None
    word = wrong[1].lower().rstrip(".").removesuffix("s")
    unit = next((unit for unit, words in _SPELLED.items() if word in {unit.lower(), *words.split()}), None)
    text = held.replace(wrong[1], unit) if unit else ""
    return text if _reads(form, text) else None


def _reads(form: TextForm, text: str) -> bool:
    try:
        form.read(text)
    except BadQuantity:
        return False
    return True


def _same_letters(found: str, fix: str) -> bool:
    """Whether a fix writes what was found, capitals aside."""
    return found.lower() in fix.lower()


def _numbers_in(text: str) -> set[float]:
    return {float(each) for each in re.findall(r"\d+(?:\.\d*)?|\.\d+", text)}


def _example_for(form: TextForm, field: FieldInfo, *, listed: bool) -> str:
    """A value that is right for this key: its example, else its default, else one of the form; empty for none."""
    if field.examples and not listed:
        return _yaml_text(field.examples[0])
    if isinstance(field.default, float):
        return form.write(field.default)
    return next((text for text in form.examples if _in_limits(form, text, field)), "")


def _in_limits(form: TextForm, text: str, field: FieldInfo) -> bool:
    """Whether an example of a form keeps the limits of a key."""
    value = form.read(text)
    if not isinstance(value, float):
        return True
    tests = {"gt": float.__gt__, "ge": float.__ge__, "lt": float.__lt__, "le": float.__le__}
    limits = [(test, getattr(each, name, None)) for each in field.metadata for name, test in tests.items()]
    return all(test(value, float(limit)) for test, limit in limits if isinstance(limit, int | float))


def _list_fix(key: str, held: object, field: FieldInfo | None) -> str:
    """How one value, written where a list of such is wanted, stands in that list; empty where it is not sure."""
    inside = list(_annotations(field.annotation)) if field else []
    if not any(get_args(each)[1:] == (Ellipsis,) for each in inside):
        return ""
    entry = next((each for each in inside if isinstance(each, type) and issubclass(each, BaseModel)), None)
    if entry is None:
        plain = isinstance(held, str) and str in inside and re.fullmatch(r"\w[\w .,-]*", held)
        return f"write a list: `{key}: [{held}]`" if plain else ""
    if isinstance(held, Mapping):
        return f"write a list under it: `- {_yaml_text(held)}`"
    must = [name for name, each in entry.model_fields.items() if each.is_required()]
    form = _text_form(entry.model_fields.get(key))
    if form is None or not set(must) <= set(_FOR_ALL):
        return ""
    own = next((text for text in (str(held), f"{held} {form.unit}") if _reads(form, text)), None)
    written = {name: _FOR_ALL[name] for name in must} | {key: own or example_of(entry.model_fields[key])}
    return f"write a list under it{':' if own else ', as'} `- {_yaml_text(written)}`"


def _yaml_text(value: object, *, inside: bool = False) -> str:
    """Plain data on one line, as it would stand in a file."""
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{key}: {_yaml_text(each, inside=True)}" for key, each in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_yaml_text(each, inside=True) for each in value) + "]"
    if value is None or isinstance(value, bool):
        return "null" if value is None else str(value).lower()
    text = str(value)
    return f'"{text}"' if re.match(r"[*&!|>%@#]", text) or (inside and re.search(r"[,:{}\[\]#]", text)) else text


def _text_form(field: FieldInfo | None) -> TextForm | None:
    """How the text of a key is read; None where it is not read from such text."""
    inside = _annotations(field.annotation, *field.metadata) if field else iter(())
    return next((each for each in inside if isinstance(each, TextForm)), None)


def _with_unit(limit: float, field: FieldInfo | None) -> str:
    form = _text_form(field)
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
