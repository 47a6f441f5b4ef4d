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
    """Versions of the text layout libraries, or `absent` where the PDF cannot be made."""
    try:
        from weasyprint.text.ffi import harfbuzz_subset, pango
    except (ImportError, OSError):
        return {"pango": "absent"}
    number = pango.pango_version()
    return {
        "pango": f"{number // 10000}.{number // 100 % 100}.{number % 100}",
        "harfbuzz": _harfbuzz_version(),
        "harfbuzz-subset": "present" if harfbuzz_subset else "absent",
    }


def _harfbuzz_version() -> str:
    """The version that the shared library tells; the layout library does not pass it on."""
    import ctypes
    from ctypes.util import find_library

    name = find_library("harfbuzz")
    if name is None:
        return "unknown"
    library = ctypes.CDLL(name)
    library.hb_version_string.restype = ctypes.c_char_p
    return library.hb_version_string().decode()
