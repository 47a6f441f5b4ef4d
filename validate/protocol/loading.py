"""Load a protocol: read, check, and tell every problem at once with its place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from validate.protocol.consistency import inconsistencies
from validate.protocol.model import Protocol
from validate.protocol.places import nearest_place
from validate.protocol.reading import LARGEST_BYTES, Node, read_tree
from validate.protocol.settings import StudySettings
from validate.protocol.translating import translate
from validate.protocol.validating import check
from validate.tables.files import read_inside
from validate.vocabulary.place import Place
from validate.vocabulary.problem import ERROR, InputRefused, Problem, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)
FILE_NAME = "protocol.yaml"
_MOST_PROBLEMS = 100


@dataclass(frozen=True)
class LoadedProtocol:
    """A protocol file as loaded.

    `protocol` is None when its form has an error; a problem across well-formed parts (a
    level outside the scope) leaves it in place, so that tables can be checked as well.
    `shown` is the path as typed, for messages; `content` the bytes that were read.
    """

    protocol: Protocol | None
    problems: tuple[Problem, ...]
    folder: Path
    path: Path
    shown: str
    content: bytes
    tree: Node | None

    @property
    def shown_folder(self) -> str:
        """The folder as typed; empty for the working directory."""
        folder = Path(self.shown).parent.as_posix()
        return "" if folder == "." else folder

    def place(self, *keys: str | int) -> Place:
        """Nearest known place for a key path such as `"studies", name, "design", "levels", 2`.

        A text is pointed at itself, a group or list at its key.
        """
        return nearest_place(self.tree, self.shown, keys)


def load_protocol(path: Path, settings_of_kind: Mapping[str, type[StudySettings]]) -> LoadedProtocol:
    """Load the protocol at `path`, a file or a folder with `protocol.yaml` in it.

    `settings_of_kind` gives the model of each kind of study. Bad input never raises: it
    ends in `.problems`, sorted by place.
    """
    path = _file_of(Path(path))
    shown = path.as_posix()
    content, problems = _read(path, shown)
    if problems:
        return LoadedProtocol(None, tuple(problems), path.parent, path, shown, content, None)
    reading = read_tree(content, shown)
    problems, untold = reading.problems, 0
    protocol = None
    if reading.tree is not None:
        checked = check(reading.tree, settings_of_kind)
        told, untold = translate(checked.faults, reading.tree, shown, settings_of_kind, most=_MOST_PROBLEMS)
        problems = problems + told
        if checked.parts is not None:
            problems += inconsistencies(checked.parts, lambda *keys: nearest_place(reading.tree, shown, keys))
        if not any(problem.severity == ERROR for problem in reading.problems):
            protocol = checked.protocol
    return LoadedProtocol(protocol, _told(problems, untold, shown), path.parent, path, shown, content, reading.tree)


def _file_of(path: Path) -> Path:
    try:
        return path / FILE_NAME if path.is_dir() else path
    except OSError:
        return path


def _read(path: Path, shown: str) -> tuple[bytes, list[Problem]]:
    try:
        return read_inside(path.parent, path.name, largest_bytes=LARGEST_BYTES), []
    except InputRefused as refused:
        return b"", [replace(problem, place=Place(shown)) for problem in refused.problems]


def _told(problems: list[Problem], untold: int, shown: str) -> tuple[Problem, ...]:
    """In the order of the file, each once; beyond a hundred their number."""
    ordered = sorted(dict.fromkeys(problems), key=_order)
    untold += max(0, len(ordered) - _MOST_PROBLEMS)
    if not untold:
        return tuple(ordered)
    rest = PROBLEMS.problem("more-problems", Place(shown), count=untold)
    return (*ordered[:_MOST_PROBLEMS], rest)


def _order(problem: Problem) -> tuple[int, int, str]:
    return (problem.place.line or 0, problem.place.column or 0, problem.code)
