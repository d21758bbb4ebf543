"""What a field allows, in words for people, read from the model's own JSON schema: no second list to keep in step."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any, Final, TypeAlias

from shared.toml_lines import Path

Schema: TypeAlias = dict[str, Any]

PATTERNS: Final = {
    r"^[0-9a-f]{64}$": "64 of 0-9, a-f",
    r"^[a-z0-9-]{1,32}$": "letters a-z, digits, dashes, 1 to 32 of them",
    r"^[a-z0-9-]{1,32}\.[0-9]{1,2}$": 'logger.channel, such as "lg-01.1": a-z, digits, dashes; a dot; 1 or 2 digits',
    r"^([01]\d|2[0-3]):[0-5]\d$": 'an hour of the day, such as "06:15"',
    r"^[a-z][a-z -]{0,31}$": "letters a-z, blanks and dashes, a letter first, 1 to 32 of them",
    r"^([01]\d|2[0-3]):[0-5]\d-([01]\d|2[0-3]):[0-5]\d$": 'two hours of the day, such as "06:30-17:00"',
    r"^[^\r\n]*$": "one line of text",
    r"^[^\x00-\x08\x0a-\x1f\x7f]*$": "one line of text",
    r"^(\d{1,3}\.){3}\d{1,3}$": "an IPv4 address: four numbers and three dots",
    r"^mqtts?://[^/\s:]+(:\d{1,5})?$": 'mqtt://host:port or mqtts://host:port, such as "mqtts://broker.lan:8883"',
    r"^[^@\s]+@[^@\s]+$": 'an e-mail address, such as "name@site.example"',
    r"^[A-Za-z0-9_-][A-Za-z0-9._-]{0,63}$": "a file name without folders: letters, digits, dots, dashes, 1 to 64",
    r"^([A-Za-z0-9._:-]+|\+|\{logger\}|\{channel\})(/([A-Za-z0-9._:-]+|\+|\{logger\}|\{channel\}))*$": (
        'a topic, each level a name, +, {logger} or {channel}, such as "shed/{logger}/{channel}"'
    ),
    r"^[A-Za-z0-9._:-]+(/[A-Za-z0-9._:-]+)*$": 'a topic, each level a name, such as "site/weather"',
    r"^[+-](0\d|1[0-4]):[0-5]\d$": 'hours and minutes from UTC, such as "-04:00"',
    r"^https?://[^\s]+$": 'a web address, such as "https://host/path"',
    r"^https?://[^/\s:@]+(:\d{1,5})?$": 'http://host:port or https://host:port, such as "https://influx.lan:8086"',
    r"^[A-Za-z0-9_-]{1,64}$": "letters, digits, dashes and underlines, 1 to 64 of them",
}
"""Every pattern of the set-up models; a test holds this against them."""

UNITS: Final = {
    "_kj_per_mol": "kJ/mol",
    "_mpa": "MPa",
    "_kpa": "kPa",
    "_mm": "mm",
    "_ms": "ms",
    "_s": "s",
    "_h": "h",
}
EXTRA: Final = {
    "sign_offs": "; it must be written: there is no default for who answers",
    "exclusions": '; "none" must be said',
    "supplementary": "; true for fly ash, slag or an unknown binder",
}


def resolve(schema: Schema, loc: Sequence[str | int]) -> tuple[Path, Schema]:
    """Follow a pydantic location; return the path in the file (no union tags) and the schema there.

    A key that the schema does not know ends the way: the schema of its table is returned.
    """
    node = _plain(schema, schema)
    path: Path = ()
    for step in loc:
        tags_of = node.get("discriminator", {}).get("mapping")
        if tags_of is not None and step in tags_of:
            node = _plain(schema, {"$ref": tags_of[step]})
            continue
        if isinstance(step, str) and (told := _told_by(schema, node, step)) is not None:
            node = told
            continue
        path = (*path, step)
        if isinstance(step, int):
            ordered = node.get("prefixItems", ())
            node = ordered[step] if step < len(ordered) else node.get("items", {})
        elif step in node.get("properties", {}):
            node = node["properties"][step]
        else:
            return path, node
        node = _plain(schema, node)
    return path, node


def _told_by(schema: Schema, node: Schema, tag: str) -> Schema | None:
    """Return the table among several that is told by a key of its own."""
    several = () if "discriminator" in node else node.get("oneOf", ())
    return next((n for n in (_plain(schema, one) for one in several) if tag in n["properties"]), None)


def keys(schema: Schema, node: Schema) -> list[str]:
    """Return the keys that a table may have."""
    return list(_plain(schema, node).get("properties", ()))


def _own_keys(several: Sequence[Sequence[str]]) -> list[str]:
    """Return of each table the first key that tells it: one that no other has."""
    every = Counter(key for one in several for key in one)
    return [next(key for key in one if every[key] == 1) for one in several]


def tags(schema: Schema, node: Schema) -> Schema:
    """Return the choice of kinds of a list whose elements are of several kinds."""
    return {"enum": list(_plain(schema, node).get("discriminator", {}).get("mapping", ()))}


def words(schema: Schema, node: Schema, name: str) -> str:
    """Return what `node` allows; the unit comes from the field's name."""
    return _words(schema, _plain(schema, node), name) + EXTRA.get(name, "")


def _plain(schema: Schema, node: Schema) -> Schema:
    """Return the node behind references and "or nothing"."""
    while True:
        if "$ref" in node:
            node = schema["$defs"][node["$ref"].rpartition("/")[2]]
        elif "anyOf" in node:
            node = next(n for n in node["anyOf"] if n.get("type") != "null")
        else:
            return node


def _words(schema: Schema, node: Schema, name: str) -> str:
    if "enum" in node or "const" in node:
        return _choices(node.get("enum", [node.get("const")]))
    match node.get("type"):
        case "boolean":
            return "true or false"
        case "integer" | "number" as kind:
            return _number(node, kind, name)
        case "string":
            return _text(node)
        case "array":
            return _list(schema, node, name)
    if "properties" in node:
        return "a table with: " + ", ".join(node["properties"])
    if "discriminator" not in node:
        return "a table with one of: " + ", ".join(_own_keys([keys(schema, one) for one in node["oneOf"]]))
    return f"a table with its {node['discriminator']['propertyName']}: " + _choices(tags(schema, node)["enum"])


def _choices(values: Sequence[object]) -> str:
    said = [f'"{v}"' if isinstance(v, str) else str(v) for v in values]
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} or {said[-1]}"


def _number(node: Schema, kind: str, name: str) -> str:
    unit = next((f" of {unit}" for suffix, unit in UNITS.items() if name.endswith(suffix)), "")
    ends = [
        f"{said} {node[key]}"
        for key, said in (
            ("minimum", "at least"),
            ("exclusiveMinimum", "above"),
            ("maximum", "at most"),
            ("exclusiveMaximum", "below"),
        )
        if key in node
    ]
    return ", ".join([("a whole number" if kind == "integer" else "a number") + unit, *ends])


def _text(node: Schema) -> str:
    said = PATTERNS[node["pattern"]] if "pattern" in node else "text"
    if "maxLength" in node:
        said += f", at most {node['maxLength']} characters"
    return said + (", not empty" if node.get("minLength", 0) > 0 else "")


def _list(schema: Schema, node: Schema, name: str) -> str:
    if "prefixItems" in node:
        parts = node["prefixItems"]
        return f"a list of {len(parts)}, each {words(schema, parts[0], '')}"
    least = node.get("minItems", 0)
    many = {0: "any number", 1: "at least one"}.get(least, f"at least {least}")
    return f"a list of {many}, each {words(schema, node['items'], name)}"
