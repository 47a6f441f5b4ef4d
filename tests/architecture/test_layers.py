"""Data flows one way: which room of the package may import which."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "validate"

UPSTREAM_OF_PIPELINE = {
    *("vocabulary", "protocol", "tables", "readiness", "portion", "studies", "criteria", "provenance", "dossier"),
    "checks",  # the self-check of the installation
}
MAY_IMPORT = {
    "vocabulary": {"vocabulary"},
    "stats": {"stats"},
    "checks": {"checks", "criteria", "stats", "studies", "vocabulary"},
    "protocol": {"protocol", "vocabulary", "tables"},
    "tables": {"tables", "protocol", "vocabulary"},
    "portion": {"portion", "protocol", "stats", "tables", "vocabulary"},
    "readiness": {"readiness", "protocol", "tables", "vocabulary"},
    "studies": {"studies", "stats", "protocol", "tables", "vocabulary"},
    "criteria": {"criteria", "stats", "studies", "protocol", "vocabulary"},
    "provenance": {"provenance", "vocabulary"},
    "dossier": {"dossier", "tables", "vocabulary"},
    "planning": {
        *("planning", "criteria", "dossier", "portion", "protocol", "provenance", "readiness", "stats", "studies"),
        *("tables", "vocabulary"),
    },
    "pipeline": {"pipeline", "planning", *UPSTREAM_OF_PIPELINE},
}
HEAVY = {
    "matplotlib", "openpyxl", "pandas", "pikepdf", "pint", "scipy.stats", "statsmodels", "weasyprint", "xlsxwriter",
}  # fmt: skip


def modules() -> list[Path]:
    return sorted(p for p in PACKAGE.rglob("*.py") if "tests" not in p.relative_to(PACKAGE).parts)


def imported(path: Path, *, only_top_level: bool = False) -> set[str]:
    """Dotted names that a module imports, type-checking blocks left out."""
    names: set[str] = set()
    tree = ast.parse(path.read_text(encoding="utf-8"))
    typing_only = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test)
        for inner in ast.walk(node)
    }
    nodes = tree.body if only_top_level else list(ast.walk(tree))
    for node in nodes:
        if id(node) in typing_only:
            continue
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def room(path: Path) -> str:
    parts = path.relative_to(PACKAGE).parts
    return parts[0] if len(parts) > 1 else ""


@pytest.mark.parametrize("name", sorted(MAY_IMPORT))
def test_a_room_imports_only_rooms_upstream_of_it(name):
    wrong = [
        f"{path.relative_to(PACKAGE)} imports {imported_name}"
        for path in modules()
        if room(path) == name
        for imported_name in imported(path)
        if imported_name.startswith("validate.") and imported_name.split(".")[1] not in MAY_IMPORT[name]
    ]
    assert wrong == []


def test_every_room_is_under_the_rule():
    assert {room(path) for path in modules()} - {""} == set(MAY_IMPORT)


def test_no_study_imports_another_study():
    wrong = []
    for path in modules():
        parts = path.relative_to(PACKAGE).parts
        if parts[0] != "studies" or len(parts) < 3:
            continue
        for name in imported(path):
            pieces = name.split(".")
            if pieces[:2] == ["validate", "studies"] and len(pieces) > 2:
                own = pieces[2] in (parts[1], "contract")
                wrong += [] if own else [f"{'/'.join(parts)} imports {name}"]
    assert wrong == []


def test_heavy_libraries_are_imported_where_they_are_used():
    """`--help` and `check` stay fast; the notebook tables module is itself imported on use."""
    wrong = [
        f"{path.relative_to(PACKAGE)} imports {name} at its top"
        for path in modules()
        if path.name != "frames.py"
        for name in imported(path, only_top_level=True)
        if any(name == heavy or name.startswith(heavy + ".") for heavy in HEAVY)
    ]
    assert wrong == []


def test_modules_tell_one_story_in_at_most_400_lines():
    long = {str(p.relative_to(PACKAGE)): n for p in modules() if (n := len(p.read_text("utf-8").splitlines())) > 400}
    assert long == {}


def test_every_module_says_what_it_is_for():
    silent = [str(p.relative_to(PACKAGE)) for p in modules() if not ast.get_docstring(ast.parse(p.read_text("utf-8")))]
    assert [name for name in silent if not name.endswith("__init__.py")] == []
