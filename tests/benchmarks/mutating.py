"""Small faults put into source text, one at a time: what a tired programmer gets wrong, and what tests must notice.

Each place of a module where a fault can be made gives one `Mutant`: another comparison, operator, number, word of the
trade, `min` for `max`, a condition that always or never holds, a statement that is gone. The text round it stays as it
is, line for line.

Left out is what no test should pin: docstrings, annotations, imports, assertions, the text of exceptions, sentences
(only words that decide are exchanged), which of two wordings is told where both are sentences or parts of one, and
numbers below 0.00001, which only keep a sum from dividing by nothing or say how near is near enough; and `strict`,
`encoding` and `newline`, of which the first only asserts and the others matter on other systems alone.
"""

import ast
import random
from collections.abc import Iterator
from typing import NamedTuple

_COMPARED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.Gt), ast.LtE: (ast.Lt, ast.Gt), ast.Gt: (ast.GtE, ast.Lt), ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.In: (ast.NotIn,), ast.NotIn: (ast.In,), ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,)}
_RECKONED: dict[type[ast.operator], tuple[type[ast.operator], ...]] = {
    ast.Add: (ast.Sub,), ast.Sub: (ast.Add,), ast.Mult: (ast.Div,), ast.Div: (ast.Mult,), ast.Pow: (ast.Mult,),
    ast.FloorDiv: (ast.Div,), ast.Mod: (ast.Add,), ast.BitAnd: (ast.BitOr,), ast.BitOr: (ast.BitAnd,)}
_NAMED = {"min": "max", "max": "min", "any": "all", "all": "any", "minimum": "maximum", "maximum": "minimum",
          "floor": "ceil", "ceil": "floor", "sin": "cos", "cos": "sin", "argmin": "argmax", "argmax": "argmin"}
_WORDS = {"stop": "caution", "caution": "pass", "pass": "stop", "unknown": "pass", "measured": "recalled",
          "published": "recalled", "quoted": "published", "practice": "published", "recalled": "published",
          "full-wave": "half-wave", "half-wave": "full-wave", "capacitor": "choke", "choke": "capacitor", "yes": "no",
          "no": "yes", "low": "high", "high": "low", "silicon": "tube", "tube": "silicon", "selenium": "silicon",
          "at most": "at least", "at least": "at most", "heater": "filament", "filament": "heater"}
"""Words that decide; another text is only said."""


_SILENT = ("strict", "encoding", "newline")
_SHARE, _MANY, _GUARD = 0.2, 10, 1e-5
"""A number is changed by this share, one below `_MANY` that counts by one; a smaller one than `_GUARD` only keeps a sum
from dividing by nothing, or says how near is near enough."""


class Mutant(NamedTuple):
    """One fault: where it is (line and function), what stands there, and what is put in its place."""

    line: int
    function: str
    before: str
    after: str
    start: int
    end: int

    def of(self, text: str) -> str:
        """The module's text with the fault in it."""
        data, after = text.encode(), self.after.encode()
        lines = b"\n" * data[self.start:self.end].count(b"\n")
        after = after[:-1] + lines + after[-1:] if after.endswith(b")") else after + lines
        return (data[:self.start] + after + data[self.end:]).decode()


def mutants(text: str) -> list[Mutant]:
    """Every fault that can be put into a module."""
    tree = ast.parse(text)
    starts = [0]
    for line in text.encode().splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    return list(_within(tree, "", starts, text.encode()))


def _within(node: ast.AST, function: str, starts: list[int], data: bytes) -> Iterator[Mutant]:
    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
        function = f"{function}.{node.name}".lstrip(".")
    if isinstance(node, ast.expr | ast.stmt):
        start = starts[node.lineno - 1] + node.col_offset
        end = starts[(node.end_lineno or node.lineno) - 1] + (node.end_col_offset or 0)
        before = data[start:end].decode()
        for after in _faults(node):
            if after != before and "\n" not in after:
                yield Mutant(node.lineno, function or "-", " ".join(before.split())[:70], after, start, end)
    for child in _children(node):
        yield from _within(child, function, starts, data)


def _children(node: ast.AST) -> Iterator[ast.AST]:
    """What of a node can hold a fault: no docstring, annotation, import or text of an exception."""
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "type_params", "bases"):
            continue
        for child in value if isinstance(value, list) else [value]:
            told = isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant)
            skipped = isinstance(child, ast.Import | ast.ImportFrom | ast.Raise | ast.JoinedStr | ast.Assert) or (
                isinstance(child, ast.IfExp) and _is_said(child.body) and _is_said(child.orelse)) or (
                isinstance(child, ast.keyword) and child.arg in _SILENT)
            if isinstance(child, ast.AST) and not told and not skipped:
                yield child


def _faults(node: ast.AST) -> Iterator[str]:
    """Texts that may stand in the place of the node, each with one fault."""
    if isinstance(node, ast.expr):
        yield from (f"({ast.unparse(fault)})" for fault in _expressions(node))
    elif isinstance(node, ast.AugAssign) or isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
        yield "pass"
    elif isinstance(node, ast.Continue):
        yield "break"


def _expressions(node: ast.expr) -> Iterator[ast.expr]:
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        for op in _COMPARED[type(node.ops[0])]:
            yield ast.Compare(node.left, [op()], node.comparators)
    elif isinstance(node, ast.BinOp) and not isinstance(node.left, ast.Constant | ast.JoinedStr) | _is_text(node.right):
        for kind in _RECKONED.get(type(node.op), ()):
            yield ast.BinOp(node.left, kind(), node.right)
    elif isinstance(node, ast.BoolOp):
        yield ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
        yield node.operand
    elif isinstance(node, ast.IfExp):
        yield node.body
        yield node.orelse
    elif isinstance(node, ast.Constant):
        yield from map(ast.Constant, _other_constants(node.value))
    elif isinstance(node, ast.Call):
        yield from _other_calls(node)


def _is_said(node: ast.expr) -> bool:
    """A sentence or a part of one: text that holds no word that decides, put together or chosen in any way."""
    if isinstance(node, ast.BinOp):
        return _is_said(node.left) and _is_said(node.right)
    if isinstance(node, ast.IfExp):
        return _is_said(node.body) and _is_said(node.orelse)
    return _is_text(node) and not (isinstance(node, ast.Constant) and node.value in _WORDS)


def _is_text(node: ast.expr) -> bool:
    return isinstance(node, ast.JoinedStr) or (isinstance(node, ast.Constant) and isinstance(node.value, str))


def _other_constants(value: object) -> Iterator[object]:
    if isinstance(value, bool):
        yield not value
    elif isinstance(value, int):
        step = 1 if value < _MANY else round(value * _SHARE)
        yield value + step
        if value > 1:
            yield value - step
    elif isinstance(value, float) and not 0 < abs(value) < _GUARD:
        yield value * (1 + _SHARE) if value else 0.1
        if value:
            yield value * (1 - _SHARE)
    elif isinstance(value, str) and value in _WORDS:
        yield _WORDS[value]


def _other_calls(node: ast.Call) -> Iterator[ast.expr]:
    """`min` for `max`, and a call with its last optional argument forgotten."""
    if isinstance(node.func, ast.Name) and node.func.id in _NAMED:
        yield ast.Call(ast.Name(_NAMED[node.func.id]), node.args, node.keywords)
    elif isinstance(node.func, ast.Attribute) and node.func.attr in _NAMED:
        yield ast.Call(ast.Attribute(node.func.value, _NAMED[node.func.attr]), node.args, node.keywords)
    elif node.keywords and node.keywords[-1].arg and node.keywords[-1].arg not in _SILENT:
        yield ast.Call(node.func, node.args, node.keywords[:-1])


def chosen(found: dict[str, list[Mutant]], count: int, seed: int) -> list[tuple[str, Mutant]]:
    """`count` of the faults of all modules, any of them as likely as any other; the same ones for the same seed."""
    every = [(name, mutant) for name in sorted(found) for mutant in found[name]]
    return sorted(random.Random(seed).sample(every, min(count, len(every))))
