"""The tests of one storey, imported and collected once, then run in a fork for each fault.

    python -m tests.benchmarks.noticing tests/checks 'not long'       (in a copy of the checkout; `mutants` starts it)

A line of JSON goes out first: how the tests went without any fault. Then each line in is a fault, `{"module", "text"}`,
and each line out says what noticed it. Run are the tests that ran the faulty function, or used a fixture that did, when
nothing was wrong (no other can notice), the quick ones before the slow ones. A fault in a function's body is put into
the function that is already imported; any other (a constant, a default, what runs at import) needs the modules read
again, and all the tests of the folder. Needs a system that can fork.
"""

import contextlib
import gc
import json
import os
import resource
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections import defaultdict
from pathlib import Path
from types import CodeType, FunctionType

import pytest

ROOT = Path.cwd()
PATIENCE, LEAST_S, MOST_S = 5.0, 20.0, 900.0
"""A fault is noticed too where the tests take this many times as long as without it, by the processor's time."""
WORDS = ["-q", "-n", "0", "-p", "no:cacheprovider", "-p", "no:randomly", "-p", "no:faulthandler"]
MOST_UNFIT = 3
"""So many tests may fail without a fault, such as those that watch the clock: they are left out, and named."""
Key = tuple[str, str]
"""A function outside every other: its module, as a path from the root, and its qualified name."""


def key_of(code: CodeType) -> Key | None:
    """The outermost function that a code object belongs to; none for what is not the project's own."""
    if not code.co_filename.startswith(f"{ROOT}/pipeline/"):
        return None
    return code.co_filename[len(str(ROOT)) + 1:], code.co_qualname.split(".<locals>")[0]


def outermost(code: CodeType, within: str = "") -> tuple[dict[str, CodeType], list]:
    """Functions outside every other by qualified name and line, and all else that the module's own code does."""
    functions, rest = {}, [code.co_code, code.co_names, code.co_varnames]
    for number, const in enumerate(code.co_consts):
        if not isinstance(const, CodeType):
            rest.append(const)
        elif const.co_flags & 0x3 == 0x3 and not const.co_name.endswith(("comp>", "expr>")):  # no class's body
            functions[f"{within}{number}"] = const
        else:
            inner, more = outermost(const, f"{within}{number}/")
            functions |= inner
            rest += more
    return functions, rest


class Course:
    """How the tests went without a fault: seconds, and the functions that each of them ran."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self.ran: dict[str, set[Key]] = defaultdict(set)
        self.processes: set[str] = set()
        """Tests that start a process of their own: what it runs is not seen, so it may be anything."""
        self.now = ""
        self.keys: dict[CodeType, Key | None] = {}

    def watch(self) -> None:
        threading.settrace(self.trace)
        sys.settrace(self.trace)

    def trace(self, frame, _event, _arg):
        code = frame.f_code
        if code not in self.keys:
            self.keys[code] = key_of(code)
        if (key := self.keys[code]) is not None:
            self.ran[self.now].add(key)

    def audit(self, event: str, _args) -> None:
        if event in ("subprocess.Popen", "os.fork", "os.posix_spawn", "os.system", "os.exec"):
            self.processes.add(self.now)

    def told(self, items: list) -> dict:
        for item in items:  # what a fixture ran that another test asked for first
            for name in item.fixturenames:
                self.ran[item.nodeid] |= self.ran.get(f"fixture {name}", set())
                if f"fixture {name}" in self.processes:
                    self.processes.add(item.nodeid)
        names = sorted({key for ran in self.ran.values() for key in ran})
        index = {key: number for number, key in enumerate(names)}
        return {"seconds": self.seconds, "processes": sorted(self.processes & {item.nodeid for item in items}), "keys": names,
                "ran": {item.nodeid: [index[key] for key in self.ran[item.nodeid]] for item in items},
                "modules": sorted(name for name in sys.modules if name.split(".")[0] not in ("__main__", "tests"))}


class Server:
    """The plugin: holds the collected tests and answers for each fault."""

    def __init__(self, lines_in, lines_out, order: list[str] | None = None):
        self.lines_in, self.lines_out, self.order = lines_in, lines_out, order
        self.course = Course()
        self.known: dict = {}
        self.failed = ""

    def pytest_runtest_logreport(self, report) -> None:
        if report.failed and not self.failed:
            self.failed = report.nodeid

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef):
        before, self.course.now = self.course.now, f"fixture {fixturedef.argname}"
        try:
            return (yield)
        finally:
            self.course.now = before

    def run(self, items: list, last: object = None) -> str:
        """The first test that fails, by name; empty where all pass. After the items comes `last`."""
        for item, after in zip(items, [*items[1:], last], strict=True):
            begin = time.process_time()
            self.course.now = item.nodeid
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
            self.course.seconds[item.nodeid] = time.process_time() - begin
            if self.failed:
                return self.failed
        return ""

    def pytest_runtestloop(self, session) -> bool:
        if self.order is not None:
            place = {name: number for number, name in enumerate(self.order)}
            found = self.run(sorted(session.items, key=lambda item: place.get(item.nodeid, len(place))))
            os._exit(1 if found else 0)
        outcome, told = self.forked(lambda: self.without_fault(session), MOST_S)
        self.known = json.loads(told) if outcome == "passed" else {}
        self.say({"outcome": outcome, "test": told if outcome != "passed" else "", "tests": len(session.items),
                  "unfit": self.known.get("unfit", []), "seconds": sum(self.known.get("seconds", {}).values())})
        if outcome == "passed":
            self.get_ready(session)
            for line in self.lines_in:
                self.say(self.answer(**json.loads(line)))
        return True

    def say(self, what: dict) -> None:
        self.lines_out.write(json.dumps(what) + "\n")
        self.lines_out.flush()

    def without_fault(self, session) -> tuple[int, str]:
        sys.addaudithook(self.course.audit)
        unfit = []
        for item, after in zip(session.items, [*session.items[1:], None], strict=True):
            self.failed = ""
            if self.run([item], after):
                unfit.append(item.nodeid)
        sys.settrace(None)
        if len(unfit) > MOST_UNFIT:
            return 1, " ".join(unfit)
        items = [item for item in session.items if item.nodeid not in unfit]
        return 0, json.dumps(self.course.told(items) | {"unfit": unfit})

    def get_ready(self, session) -> None:
        """Imports what the tests import late, and notes where each function lives, and which ran at import."""
        self.course.now = ""
        for name in self.known["modules"]:
            with contextlib.suppress(BaseException):
                __import__(name)
        self.items = {item.nodeid: item for item in session.items if item.nodeid not in self.known["unfit"]}
        self.tests_of: dict[Key, set[str]] = defaultdict(set)
        for test, numbers in self.known["ran"].items():
            for number in numbers:
                self.tests_of[tuple(self.known["keys"][number])].add(test)
        self.functions: dict[CodeType, list[FunctionType]] = defaultdict(list)
        for one in gc.get_objects():
            if isinstance(one, FunctionType) and key_of(one.__code__):
                self.functions[one.__code__].append(one)
        sys.settrace(None)
        threading.settrace(None)  # type: ignore[arg-type]
        gc.collect()
        gc.freeze()

    def answer(self, module: str, text: str) -> dict:
        """`how`: `failed` or `late` with the test that noticed, or nothing; and the seconds that took."""
        begin, path = time.monotonic(), ROOT / module
        data = path.read_bytes()
        path.write_text(text, encoding="utf-8")
        try:
            changed = self.changed(path, data)
            keys = {key for key in self.tests_of if key[0] == module} if changed is None else set(map(key_of, changed))
            first = set().union(*(self.tests_of.get(key, set()) for key in keys)) | set(self.known["processes"])
            if changed is not None and not first:
                return {"how": "", "test": "no test runs it", "seconds": 0.0}
            order = sorted(first, key=lambda test: self.known["seconds"][test])
            if changed is None:
                order += sorted(set(self.items) - first, key=lambda test: self.known["seconds"][test])
            usual = sum(self.known["seconds"][test] for test in order)
            outcome, told = self.forked(lambda: self.with_fault(order, changed), max(LEAST_S, PATIENCE * usual))
            return {"how": "" if outcome == "passed" else outcome, "test": told, "seconds": time.monotonic() - begin}
        finally:
            path.write_bytes(data)
            shutil.rmtree(os.environ["TMPDIR"], ignore_errors=True)
            Path(os.environ["TMPDIR"]).mkdir()

    def changed(self, path: Path, before: bytes) -> dict[CodeType, CodeType] | None:
        """Functions to be exchanged; none where that does not do: the fault is outside, or was met at import already."""
        (old, rest), (new, other) = (outermost(compile(text, str(path), "exec", dont_inherit=True))
                                     for text in (before, path.read_bytes()))
        if rest != other or set(old) != set(new):
            return None
        found = {code: new[key] for key, code in old.items() if code != new[key]}
        at_import = {key_of(code) for code in found} & self.course.ran[""]
        same_cells = all(code.co_freevars == other.co_freevars for code, other in found.items())
        return found if same_cells and not at_import else None

    def with_fault(self, order: list[str], changed: dict[CodeType, CodeType] | None) -> tuple[int, str]:
        if changed is None:
            names = Path(os.environ["TMPDIR"], "order.json")
            names.write_text(json.dumps(order), encoding="utf-8")
            os.execv(sys.executable, [sys.executable, "-m", "tests.benchmarks.noticing", *sys.argv[1:], str(names)])
        for old, new in changed.items():
            for function in self.functions.get(old, ()):
                function.__code__ = new
        failed = self.run([self.items[name] for name in order])
        return (1 if failed else 0), failed

    def forked(self, work, seconds: float) -> tuple[str, str]:
        """What a fork of this process makes of the work: `passed`, `failed` or `late`, and what it said."""
        reader, writer = os.pipe()
        child = os.fork()
        if not child:
            os.close(reader)
            os.setsid()
            resource.setrlimit(resource.RLIMIT_CPU, (int(seconds) + 1, int(seconds) + 2))
            code, said = 1, "the tests could not be run"
            try:
                code, said = work()
            finally:
                with contextlib.suppress(OSError):
                    os.write(writer, said.encode()) if len(said) < 4096 else _whole(writer, said.encode())
                os._exit(code)
        os.close(writer)
        timer = threading.Timer(max(MOST_S, 4 * seconds), os.killpg, (child, signal.SIGKILL))
        timer.start()
        with os.fdopen(reader, "rb") as told:
            said = told.read().decode()
        _, status = os.waitpid(child, 0)
        timer.cancel()
        with contextlib.suppress(ProcessLookupError):
            os.killpg(child, signal.SIGKILL)
        return "late" if os.WIFSIGNALED(status) else "passed" if os.WEXITSTATUS(status) == 0 else "failed", said


def _whole(writer: int, data: bytes) -> None:
    while data:
        data = data[os.write(writer, data):]


def start(place: Path, folder: str, part: str) -> subprocess.Popen:
    """The server in a copy of the checkout, with pipes to talk through."""
    temporary = Path(f"{place}-temporary-{part.replace(' ', '-')}")
    temporary.mkdir()
    more = {"PYTHONDONTWRITEBYTECODE": "1", "PYTHONPATH": str(place), "TMPDIR": str(temporary)}
    return subprocess.Popen([sys.executable, "-m", "tests.benchmarks.noticing", folder, part], cwd=place, text=True,
                            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env=os.environ | more)


def main() -> int:
    """Runs pytest with the server in it; its own standard streams are the way to talk, the tests get none."""
    lines_in, lines_out = os.fdopen(os.dup(0), encoding="utf-8"), os.fdopen(os.dup(1), "w", encoding="utf-8")
    nothing = os.open(os.devnull, os.O_RDWR)
    for number in (0, 1, 2):
        os.dup2(nothing, number)
    folder, part, *names = sys.argv[1:]
    order = json.loads(Path(names[0]).read_text(encoding="utf-8")) if names else None
    server = Server(lines_in, lines_out, order)
    if order is None:
        server.course.watch()
    pytest.main([*WORDS, "-m", part, folder], plugins=[server])
    return 1


if __name__ == "__main__":
    raise SystemExit(main())
