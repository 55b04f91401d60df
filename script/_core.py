"""Loads the integration's core in plain Python.

The integration's own package imports the platform, and its folder holds modules named
like the standard library's. So neither is imported: the core is loaded under a package
name of its own, and everything within it finds itself through relative imports.
"""

from importlib import import_module
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
import sys
from types import ModuleType

PACKAGE = "galley_loads_core"
ROOT = Path(__file__).resolve().parent.parent
_FOLDER = ROOT / "custom_components" / "galley_loads" / "core"


def core(module: str) -> ModuleType:
    """Return a module of the core by its name: `core("replay.replay")`."""
    if PACKAGE not in sys.modules:
        spec = spec_from_file_location(
            PACKAGE, _FOLDER / "__init__.py", submodule_search_locations=[str(_FOLDER)]
        )
        if spec is None or spec.loader is None:
            raise ImportError(f"no core in {_FOLDER}")
        package = module_from_spec(spec)
        sys.modules[PACKAGE] = package
        spec.loader.exec_module(package)
    return import_module(f"{PACKAGE}.{module}")
