"""The environment on which the bytes of a dossier depend: Python, packages, system libraries, fonts."""

from __future__ import annotations

import platform
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from validate.provenance.canonical import sha256

DISTRIBUTION = "method-dossier"
PACKAGES = (
    "fonttools",
    "jinja2",
    "matplotlib",
    "numpy",
    "pandas",
    "pint",
    "pydantic",
    "pydyf",
    "pyyaml",
    "scipy",
    "statsmodels",
    "weasyprint",
    "xlsxwriter",
)
FONT_FOLDER = Path(__file__).parent.parent / "dossier" / "fonts"


def environment() -> dict[str, str]:
    """Name → version (for fonts: the hash of all shipped font files together)."""
    found = {"python": platform.python_version(), DISTRIBUTION: package_version(DISTRIBUTION)}
    found |= {name: package_version(name) for name in PACKAGES}
    found |= _system_libraries()
    fonts = b"".join(path.read_bytes() for path in sorted(FONT_FOLDER.glob("*.woff2")))
    found["fonts"] = sha256(fonts)[:16]
    return found


def environment_text() -> str:
    """The environment as lines `name version`, as kept in reports/ENVIRONMENT."""
    return "".join(f"{name} {value}\n" for name, value in sorted(environment().items()))


def package_version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "not installed"


def _system_libraries() -> dict[str, str]:
    """Versions of the text layout libraries, asked of the libraries themselves."""
    return {
        "pango": _version_told_by("pango-1.0", "pango_version_string"),
        "harfbuzz": _version_told_by("harfbuzz", "hb_version_string"),
        "harfbuzz-subset": _version_told_by("harfbuzz-subset", "hb_version_string"),
    }


def _version_told_by(library: str, function: str) -> str:
    """What a C function without arguments returns as text; `absent` without the library."""
    import ctypes
    from ctypes.util import find_library

    name = find_library(library)
    if name is None:
        return "absent"
    ask = getattr(ctypes.CDLL(name), function)
    ask.restype = ctypes.c_char_p
    return ask().decode()
