"""Loads scripts by their paths: their names need not be those of modules."""

import importlib.util
import pathlib
import sys

SCRIPTS = pathlib.Path(__file__).resolve().parent.parent.parent / "scripts"


def script(path):
    """The module that a file in scripts/ holds."""
    file = SCRIPTS / path
    sys.path.insert(0, str(file.parent))
    spec = importlib.util.spec_from_file_location(file.stem.replace("-", "_"), file)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    sys.path.pop(0)
    return module
