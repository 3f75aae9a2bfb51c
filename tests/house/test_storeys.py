"""The house stands: nothing imports upwards, reading commands stay light, functions and modules stay short."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
STOREYS = [("amounts", "electrics", "records", "sums", "textfile", "tomlfile", "writing"), ("notation",), ("catalogue",), ("unit", "find"), ("point",),
           ("checks",), ("bench",), ("output",), ("cli", "door")]
LEVEL = {name: level for level, names in enumerate(STOREYS) for name in names}
MODULES = sorted((ROOT / "pipeline").rglob("*.py"))
BODY_LINES, MODULE_LINES = 60, 420
"""The style page's budget of 50 and 400 lines, with a margin for signatures and docstrings."""


def imported(path: Path) -> list[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    names = [n.module for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) and n.module and not n.level]
    return names + [a.name for n in ast.walk(tree) if isinstance(n, ast.Import) for a in n.names]


def storey(module: str) -> str:
    return module.split(".")[1] if module.startswith("pipeline.") else ""


@pytest.mark.parametrize("path", MODULES, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_nothing_imports_upwards(path):
    own = path.relative_to(ROOT / "pipeline").parts[0].removesuffix(".py")
    for name in imported(path):
        other = storey(name)
        if own == "build":
            assert other in ("", "amounts", "build", "electrics", "notation", "records", "sums", "textfile", "writing"), f"{path}: the build wing imports {name}"
        elif own in LEVEL and other in LEVEL:
            assert LEVEL[other] <= LEVEL[own], f"{path} imports upwards: {name}"
        elif own not in ("cli", "__init__") and path.stem not in ("adding", "confirming"):
            assert other != "build", (
                f"{path}: only the command line and the two commands that write rows may open the build wing")


@pytest.mark.parametrize("path", MODULES, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_modules_and_bodies_stay_short(path):
    text = path.read_text(encoding="utf-8")
    assert text.count("\n") <= MODULE_LINES
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef):
            first = node.body[1] if ast.get_docstring(node) and len(node.body) > 1 else node.body[0]
            length = node.end_lineno - first.lineno + 1
            assert length <= BODY_LINES, f"{path}: {node.name} is {length} lines long"


@pytest.mark.parametrize("path", sorted((ROOT / "pipeline/electrics").glob("*.py")), ids=lambda p: p.name)
def test_every_public_sum_says_its_units(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            assert ast.get_docstring(node), f"{path.name}: {node.name} has no docstring"


@pytest.mark.parametrize("words", [
    ["check", "data_raw/units/hall-amplifier"], ["show", "12AX7"], ["read", "16 by 450"], ["--version"], ["--help"]])
def test_reading_commands_load_no_heavy_library(words):
    code = ("import sys; from pipeline.cli import run; sys.argv[1:] = %r\n"
            "run()\n"
            "heavy = [m for m in ('pandas', 'pandera', 'pyarrow', 'scipy', 'tomlkit') if m in sys.modules]\n"
            "print(','.join(heavy), file=sys.stderr)")
    done = subprocess.run([sys.executable, "-c", code % words], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stderr.strip() == ""
