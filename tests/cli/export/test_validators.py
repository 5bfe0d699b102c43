"""The package and its citation, by validators in environments of their own."""

import os
import subprocess
import venv
from pathlib import Path

import pytest

from tests.cli.export.conftest import outcome


def validators(folder: Path, *packages: str) -> Path:
    """The bin folder of a new environment with these packages; skips where they cannot be had, and
    fails where LEVELHOLD_REQUIRE_VALIDATORS is set (CI).
    """
    venv.create(folder, with_pip=True)
    pip: list[str | Path] = [folder / "bin" / "python", "-m", "pip", "install", "-q", *packages]
    installed = subprocess.run(pip, capture_output=True, text=True, check=False)
    if installed.returncode:
        say = pytest.fail if "LEVELHOLD_REQUIRE_VALIDATORS" in os.environ else pytest.skip
        say(f"{packages[0]} could not be installed: {installed.stderr.strip()[-200:]}")
    return folder / "bin"


@pytest.mark.slow
def test_the_citation_is_valid(made: Path, tmp_path: Path) -> None:
    """By cffconvert, in an environment of its own: it pins an old jsonschema."""
    tool = validators(tmp_path / "env", "cffconvert==2.0.0", "setuptools<81") / "cffconvert"
    for package in ("cells", "weeks", "rows"):
        is_valid, said = outcome(tool, "--validate", "-i", made / package / "CITATION.cff")
        assert is_valid, said
        assert "valid according to schema version 1.2.0" in said
    faulty = tmp_path / "CITATION.cff"
    faulty.write_text((made / "cells" / "CITATION.cff").read_text().replace("dataset", "datasets"))
    assert not outcome(tool, "--validate", "-i", faulty)[0]


BY_THE_STANDARD = """
import json, sys
from pathlib import Path
import dplib, jsonschema

profiles = Path(dplib.__file__).parent / "profiles" / "2.0"

def faults(profile, content):
    schema = json.loads((profiles / f"{profile}.json").read_text())
    validator = jsonschema.validators.validator_for(schema)
    return [f"{e.json_path}: {e.message}" for e in validator(schema).iter_errors(content)]

package = json.loads(Path(sys.argv[1]).read_text())
found = faults("datapackage", package)
for resource in package["resources"]:
    found += faults("dataresource", resource)
    found += faults("tableschema", resource["schema"]) if "schema" in resource else []
sys.exit("\\n".join(found) if found else 0)
"""


@pytest.mark.slow
def test_the_package_is_valid_by_the_schemas_of_the_standard(made: Path, tmp_path: Path) -> None:
    """By the JSON Schemas of Data Package 2.0 (datapackage.org/profiles/2.0), as dplib ships them."""
    python = validators(tmp_path / "env", "dplib-py==1.1.0") / "python"
    for package in ("cells", "weeks", "rows"):
        path = made / package / "datapackage.json"
        is_valid, said = outcome(python, "-c", BY_THE_STANDARD, path)
        assert is_valid, said
    faulty = tmp_path / "datapackage.json"
    faulty.write_text(path.read_text().replace('"type": "integer"', '"type": "integr"'))
    is_valid, said = outcome(python, "-c", BY_THE_STANDARD, faulty)
    assert not is_valid
    assert "integr" in said
