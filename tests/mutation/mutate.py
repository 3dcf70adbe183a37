"""One-place changes of a module's source: what a mutation run makes, one at a time.

Each number, sign, comparison, operator, pair such as min and max, condition and term of a sum or a
product is changed once where it stands; text, annotations, decorators and what an error says are
left alone, since no result depends on them.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass

_SWAPS = (
    *(("min", "max"), ("minimum", "maximum"), ("argmin", "argmax"), ("any", "all")),
    *(("sin", "cos"), ("floor", "ceil")),
)
_PAIRS = {
    **dict(_SWAPS),
    **{two: one for one, two in _SWAPS},
    "exp2": "exp",
    "log2": "log",
    "log10": "log2",
    "mean": "max",
    "median": "max",
}
_COMPARES: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
_OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.Mod: ast.FloorDiv,
    ast.FloorDiv: ast.Mod,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.MatMult: ast.Add,
}
_TERMS = (ast.Add, ast.Sub, ast.Mult, ast.Div)
_SKIPPED_KEYWORDS = {"strict", "keepdims", "dtype", "divide", "invalid", "frozen", "eq", "copy"}


@dataclass(frozen=True)
class Mutant:
    """A module's source with one place changed.

    ``path`` from the root of the tree, ``line`` counted from 1, ``text`` that line as it stands,
    ``kind`` of change ('constant' for a number outside every function), ``change`` as 'was -> is'.
    """

    path: str
    line: int
    text: str
    kind: str
    change: str
    source: str


def list_mutants(path: str, source: str) -> list[Mutant]:
    """List every mutant of a module."""
    lines = source.splitlines(keepends=True)
    starts = [0]
    for each in lines:
        starts.append(starts[-1] + len(each.encode()))
    raw = source.encode()
    found = []
    tree = ast.parse(source)
    inside = {
        id(each)
        for function in ast.walk(tree)
        if isinstance(function, ast.FunctionDef)
        for each in ast.walk(function)
    }
    for node, kind, replacement in _walk(tree):
        if kind == "number" and id(node) not in inside:
            kind = "constant"
        begin = starts[node.lineno - 1] + node.col_offset
        end = starts[(node.end_lineno or 0) - 1] + (node.end_col_offset or 0)
        was, now = raw[begin:end].decode(), ast.unparse(replacement)
        changed = raw[:begin] + f"({now})".encode() + raw[end:]
        text = lines[node.lineno - 1].strip()
        change = f"{' '.join(was.split())} -> {now}"
        found.append(Mutant(path, node.lineno, text, kind, change, changed.decode()))
    return found


def _walk(node: ast.AST) -> Iterator[tuple[ast.expr, str, ast.expr]]:
    if isinstance(node, ast.Raise | ast.JoinedStr | ast.Assert):
        return
    if isinstance(node, ast.Subscript) and getattr(node.value, "id", "") == "Literal":
        return
    if isinstance(node, ast.expr):
        for kind, changed in _change(node):
            yield node, kind, changed
    for field, value in ast.iter_fields(node):
        if field in ("annotation", "returns", "decorator_list", "type_comment"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.keyword) and child.arg in _SKIPPED_KEYWORDS:
                continue
            if isinstance(child, ast.AST):
                if isinstance(node, ast.UnaryOp) and isinstance(child, ast.Constant):
                    if not isinstance(node.op, ast.USub):
                        yield from _walk(child)
                    elif isinstance(child.value, int | float):
                        for kind, changed in _change(child):
                            yield child, kind, changed
                    continue
                yield from _walk(child)


def _change(node: ast.expr) -> Iterator[tuple[str, ast.expr]]:
    match node:
        case ast.Constant(value=bool() as value):
            yield "flag", ast.Constant(not value)
        case ast.Constant(value=int() as value):
            yield "number", ast.Constant(value + 1)
        case ast.Constant(value=float() as value):
            yield "number", ast.Constant(1.0 if value == 0 else float(f"{value * 1.08:.8g}"))
        case ast.UnaryOp(op=ast.USub() | ast.Not() | ast.Invert(), operand=operand):
            yield "sign", operand
        case ast.BinOp(left=left, op=op, right=right):
            text = isinstance(left, ast.Constant | ast.JoinedStr) and not _is_number(left)
            if type(op) in _OPERATORS and not text:
                yield "operator", ast.BinOp(left, _OPERATORS[type(op)](), right)
            if isinstance(op, _TERMS) and not text:
                yield "term", left
        case ast.Compare(left=left, ops=[op], comparators=right):
            for other in _COMPARES[type(op)]:
                yield "comparison", ast.Compare(left, [other()], right)
        case ast.BoolOp(op=op, values=values):
            other = ast.Or() if isinstance(op, ast.And) else ast.And()
            yield "condition", ast.BoolOp(other, values)
        case ast.IfExp(test=test, body=body, orelse=orelse):
            yield "condition", ast.IfExp(test, orelse, body)
        case ast.Call(func=func, args=args, keywords=keywords):
            name = func.attr if isinstance(func, ast.Attribute) else getattr(func, "id", "")
            if name in _PAIRS:
                yield "pair", ast.Call(_rename(func, _PAIRS[name]), args, keywords)
            if name == "where" and len(args) == 3:
                yield "condition", ast.Call(func, [args[0], args[2], args[1]], keywords)
            if name == "abs" and len(args) == 1:
                yield "sign", args[0]
            if name in ("clip", "maximum", "minimum", "max", "min") and len(args) > 1:
                yield "term", args[0]


def _is_number(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, int | float)


def _rename(func: ast.expr, name: str) -> ast.expr:
    if isinstance(func, ast.Attribute):
        return ast.Attribute(func.value, name, func.ctx)
    return ast.Name(name, ast.Load())
