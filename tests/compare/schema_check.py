"""Holds what commands say to other programs against the JSON Schemas of their forms: the PyPI package jsonschema.

    target/ci-python/bin/pip install jsonschema
    target/ci-python/bin/python tests/compare/schema_check.py tests/snapshots/schemas DIR

DIR has files `FORM.CASE.json`. Each must be valid, and must be refused once any one of its keys is taken out, or has a list
in its place where none is: a check that cannot fail is none.
"""

import copy
import json
import pathlib
import sys

from jsonschema import Draft202012Validator

schemas, outputs = map(pathlib.Path, sys.argv[1:])
seen = set()
for path in sorted(outputs.glob("*.json")):
    form = path.name.split(".")[0]
    seen.add(form)
    schema = json.loads((schemas / form).with_suffix(".json").read_text())
    Draft202012Validator.check_schema(schema)
    validator = Draft202012Validator(schema)
    said = json.loads(path.read_text())
    faults = [f"{fault.json_path}: {fault.message}" for fault in validator.iter_errors(said)]
    assert not faults, f"{path.name}: {faults[:3]}"
    assert next(iter(said)) == "schema", f"{path.name}: the version does not come first"
    for key in said:
        less = {one: value for one, value in said.items() if one != key}
        assert not validator.is_valid(less), f"{path.name}: valid without {key}"
        spoilt = copy.copy(said)
        spoilt[key] = {"no": "such"} if isinstance(said[key], list) else [[]]
        assert not validator.is_valid(spoilt), f"{path.name}: valid with another {key}"

missing = {path.stem for path in schemas.glob("*.json")} - seen
assert not missing, f"no output of {sorted(missing)} was checked"
print(f"{len(list(outputs.glob('*.json')))} outputs of {len(seen)} forms are valid")
