"""The README's examples run, and it names every command."""

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text("utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", README, flags=re.S)


def test_library_example_of_the_readme_runs_as_printed():
    for code in blocks("python"):
        run = subprocess.run([sys.executable, "-W", "error", "-c", code], cwd=ROOT, capture_output=True, text=True)
        assert run.returncode == 0, run.stderr


def test_readme_names_every_command_and_no_other():
    help_text = subprocess.run(
        [sys.executable, "-m", "validate", "--help"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout
    offered = set(re.findall(r"^    ([a-z-]+)(?:  |$)", help_text, flags=re.M))
    named = set(re.findall(r"^\| `validate ([a-z-]+)", README, flags=re.M))
    assert named == offered


def test_protocol_in_the_readme_is_the_demo_shortened():
    """Every line of the excerpt, its comments aside, stands in the demo protocol in some form."""
    demo = (ROOT / "protocols" / "coffee" / "protocol.yaml").read_text("utf-8")
    for line in blocks("yaml")[0].splitlines():
        key = line.split("#")[0].split(":")[0].strip()
        assert key in demo, line


def test_files_that_the_readme_points_at_exist():
    targets = re.findall(r"\]\((?!http)([^)#]+)\)", README)
    assert [target for target in targets if not (ROOT / target).exists()] == []
