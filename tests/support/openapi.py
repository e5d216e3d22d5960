# SPDX-License-Identifier: MIT
"""The OpenAPI document, and a validator for the part of JSON Schema that it uses.

Beyond the schemas themselves it holds that no answer has a member that they do not name.
"""

import os
import re

import yaml

from tests.support.cairn import ROOT

PATH = os.path.join(ROOT, "schema", "openapi.yaml")
TYPES = {"object": dict, "array": list, "string": str, "boolean": bool, "null": type(None),
         "integer": int, "number": (int, float)}
# Keywords that check nothing.
WORDS = {"description", "example", "examples", "default"}
KEYWORDS = {"$ref", "type", "enum", "const", "pattern", "minLength", "maxLength", "minimum",
            "maximum", "items", "minItems", "maxItems", "properties", "required", "allOf", "anyOf",
            "oneOf"}


class UniqueKeys(yaml.SafeLoader):
    """YAML in which a key that comes twice is an error."""


def _mapping(loader, node):
    keys = [loader.construct_object(key) for key, _ in node.value]
    for key in keys:
        if keys.count(key) > 1:
            raise AssertionError(f"{key!r} comes twice at {node.start_mark}")
    return loader.construct_mapping(node, deep=True)


UniqueKeys.add_constructor("tag:yaml.org,2002:map", _mapping)


def load():
    with open(PATH, encoding="utf-8") as file:
        return yaml.load(file, UniqueKeys)


class Validator:
    """Validates values against schemas of one document."""

    def __init__(self, document):
        self.document = document

    def resolve(self, node):
        """What a reference stands for."""
        while isinstance(node, dict) and "$ref" in node:
            found = self.document
            for part in node["$ref"].removeprefix("#/").split("/"):
                found = found[part]
            node = found
        return node

    def faults(self, value, schema, place="body"):
        """What is wrong with a value, a line each; an empty list where nothing is."""
        found, known = self._check(value, schema, place)
        if isinstance(value, dict) and known is not None:
            found += [f"{place}: {name} is not documented" for name in value if name not in known]
        return found

    def _check(self, value, schema, place):
        """Faults, and the members that the schema names (None where it names none at all)."""
        schema = self.resolve(schema)
        unknown = set(schema) - KEYWORDS - WORDS
        if unknown:
            raise AssertionError(f"{place}: the validator does not know {unknown}")
        found, known = [], None
        if "type" in schema and not self._has_type(value, schema["type"]):
            return [f"{place}: {value!r} is not of type {schema['type']}"], None
        if "enum" in schema and value not in schema["enum"]:
            found.append(f"{place}: {value!r} is none of {schema['enum']}")
        if "const" in schema and value != schema["const"]:
            found.append(f"{place}: {value!r} is not {schema['const']!r}")
        if isinstance(value, str):
            found += self._text(value, schema, place)
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            if not schema.get("minimum", value) <= value <= schema.get("maximum", value):
                found.append(f"{place}: {value} is out of range")
        if isinstance(value, list):
            found += self._list(value, schema, place)
        if isinstance(value, dict):
            known = set(schema["properties"]) if "properties" in schema else None
            found += [f"{place}: {name} is missing" for name in schema.get("required", ())
                      if name not in value]
            for name, inner in schema.get("properties", {}).items():
                if name in value:
                    found += self.faults(value[name], inner, f"{place}.{name}")
        for part in schema.get("allOf", ()):
            more, names = self._check(value, part, place)
            found += more
            known = names if known is None else known | (names or set())
        for word in ("anyOf", "oneOf"):
            if word in schema:
                more, names = self._choice(value, schema[word], word, place)
                found += more
                known = names if known is None else known | (names or set())
        return found, known

    def _choice(self, value, choices, word, place):
        tried = [self._check(value, choice, place) for choice in choices]
        fit = [names for faults, names in tried if not faults]
        if not fit or (word == "oneOf" and len(fit) > 1):
            told = min((faults for faults, _ in tried), key=len)
            return [f"{place}: fits {len(fit)} of {len(choices)} schemas", *told], None
        return [], fit[0]

    @staticmethod
    def _has_type(value, types):
        for name in [types] if isinstance(types, str) else types:
            if isinstance(value, TYPES[name]) and (name == "boolean" or
                                                   not isinstance(value, bool)):
                return True
        return False

    @staticmethod
    def _text(value, schema, place):
        if "pattern" in schema and not re.search(schema["pattern"], value):
            return [f"{place}: {value!r} does not match {schema['pattern']}"]
        if not schema.get("minLength", 0) <= len(value) <= schema.get("maxLength", len(value)):
            return [f"{place}: {value!r} has a wrong length"]
        return []

    def _list(self, value, schema, place):
        found = []
        if not schema.get("minItems", 0) <= len(value) <= schema.get("maxItems", len(value)):
            found.append(f"{place}: {len(value)} items are too few or too many")
        if "items" in schema:
            for at, item in enumerate(value):
                found += self.faults(item, schema["items"], f"{place}[{at}]")
        return found
