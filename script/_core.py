"""Loads the integration's core and its languages in plain Python.

The integration's own package imports the platform, and its folder holds modules named
like the standard library's. So it is not imported, nor is its folder put on the path: a
package without content stands for it, and the rooms within it that know nothing of the
platform find each other through relative imports.
"""

from importlib import import_module
from pathlib import Path
import sys
from types import ModuleType

PACKAGE = "galley_loads_plain"
ROOT = Path(__file__).resolve().parent.parent
_FOLDER = ROOT / "custom_components" / "galley_loads"


def core(module: str) -> ModuleType:
    """Return a module of the core by its name: `core("replay.replay")`."""
    return _module(f"core.{module}")


def language(module: str) -> ModuleType:
    """Return a module of the room of languages: `language("speech")`."""
    return _module(f"language.{module}")


def _module(name: str) -> ModuleType:
    if PACKAGE not in sys.modules:
        if not _FOLDER.is_dir():
            raise ImportError(f"no integration in {_FOLDER}")
        package = ModuleType(PACKAGE)
        package.__path__ = [str(_FOLDER)]
        sys.modules[PACKAGE] = package
    return import_module(f"{PACKAGE}.{name}")
