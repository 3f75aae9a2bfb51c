"""What a shell offers: through bash itself, with the script the command prints."""

import os
import subprocess
import sys

import pytest
from support import ROOT, outside_tool, some

SAID = '{ COMP_WORDS=(tubewright "$@"); COMP_CWORD=$#; COMPREPLY=(); _tubewright_completion tubewright; printf "%s\\n" "${COMPREPLY[@]}"; }'


@pytest.fixture
def offered(tmp_path):
    """Words that bash offers for the last of the words typed."""
    program = tmp_path / "tubewright"
    program.write_text(f"#!{sys.executable}\nimport sys\nsys.path.insert(0, {str(ROOT)!r})\nfrom pipeline.cli import main\nmain()\n")
    program.chmod(0o755)

    def ask(*words: str) -> list[str]:
        done = subprocess.run(
            [outside_tool("bash"), "-c", f'eval "$(tubewright completion bash)"; offer() {SAID}; offer "$@"', "bash", *words],
            capture_output=True, text=True, cwd=ROOT, env={**os.environ, "PATH": f"{tmp_path}:{os.environ['PATH']}"}, check=True)
        assert not done.stderr
        return done.stdout.splitlines()

    return ask


@pytest.mark.long
@pytest.mark.parametrize(("words", "held"), some(3, [
    (("show", "ecc8"), {"ecc83", "ecc82"}), (("swap", "data_raw/units/hall-amplifier", "V"), {"V1", "V6"}),
    (("read", "x", "--role", "motor"), {r"motor\ run", r"motor\ start"}),
    (("sh",), {"show", "sheet"}), (("show", "6Н"), {"6Н8С"}), (("swap", "data_raw/units/hall-amplifier", "V6", "GZ3"), {"GZ34"}),
    (("find", "--base", "nov"), {"noval"}), (("find", "--function", "twin"), {r"twin\ triode"}),
    (("bringup", "x", "--with", "va"), {r"variable\ transformer"}), (("add", "sect"), {"sections"}),
    (("confirm", "6K7", "--source", "rca-rec"), {"rca-receiving-tube-manual"}), (("swap", "nowhere", "V"), set())]))
def test_bash_is_offered(offered, words, held):
    found = offered(*words)
    assert held <= set(found)
    begin = words[-1].replace(" ", "\\ ")
    assert all(word.startswith(begin) for word in found if word)


def test_a_shell_that_is_not_known_is_told_in_one_line():
    done = subprocess.run([sys.executable, "-c", "from pipeline.cli import main; main()", "completion", "csh"], cwd=ROOT,
                          capture_output=True, text=True, check=False)
    assert done.returncode == 2 and "bash, zsh, fish" in done.stderr and "Traceback" not in done.stderr


def test_version_is_told_in_one_place():
    import tomllib

    from pipeline import __version__

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert "version" not in project["project"] and project["tool"]["hatch"]["version"]["path"] == "pipeline/__init__.py"
    done = subprocess.run([sys.executable, "-c", "from pipeline.cli import main; main()", "--version"], cwd=ROOT,
                          capture_output=True, text=True, check=True)
    assert done.stdout == f"tubewright {__version__}\n"
